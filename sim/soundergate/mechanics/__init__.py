"""What steel does: gate, latch, lever and puller to a release model and a closing curve."""
