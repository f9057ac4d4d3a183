"""Each kind of latch: the pull and the travel that free it."""
