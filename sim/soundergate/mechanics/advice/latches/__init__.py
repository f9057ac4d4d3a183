"""What is worth trying on a latch, by its kind."""
