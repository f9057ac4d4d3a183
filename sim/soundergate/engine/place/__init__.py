"""Where animals stand and walk: places seen from above, and where a straight way meets a line."""
