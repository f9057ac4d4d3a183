"""The night to be counted, compiled: the twin of `engine.reference`. Start with `night`."""
