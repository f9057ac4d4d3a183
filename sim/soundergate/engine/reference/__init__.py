"""The night to be read, in SimPy: one event after another. Start with `night`."""
