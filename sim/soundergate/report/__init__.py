"""What people look at: figures, the night replay, the pages, and the card for the dark."""
