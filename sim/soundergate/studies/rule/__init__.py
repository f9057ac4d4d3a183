"""When the person at the link should release. Start with `release`."""
