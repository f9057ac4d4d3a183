"""What pulls a latch: a module for each kind. Its keys lie in the table of the latch."""
