"""Rules that both engines follow to the bit: clocks, lines that pull, and how captives get out."""
