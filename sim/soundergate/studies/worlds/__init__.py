"""What nobody knows: plausible worlds, what an answer leans on, what is worth measuring."""
