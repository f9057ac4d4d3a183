"""What is worth trying on what pulls a latch, by its kind."""
