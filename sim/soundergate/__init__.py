"""soundergate: the night of a corral trap, played before the trap is built."""
