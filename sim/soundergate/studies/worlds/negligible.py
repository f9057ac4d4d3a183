"""The difference that does not matter. It imports nothing, so that the command line can say it."""

NEGLIGIBLE = 0.02
"""Of a share: two points."""
