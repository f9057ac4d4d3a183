"""What people look at: figures, the night replay, and the pages to hand on."""
