"""What holds a gate: a module for each kind, and `choice`, which pairs a latch with a puller."""
