"""Each kind of gate: its load on the latch, and how it closes."""
