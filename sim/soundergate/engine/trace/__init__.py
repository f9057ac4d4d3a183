"""One night written down: who did what, when. Start with `one_night`."""
