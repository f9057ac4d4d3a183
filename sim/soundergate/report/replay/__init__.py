"""One night to be played again in a page."""
