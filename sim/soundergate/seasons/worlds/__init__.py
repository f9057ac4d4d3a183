"""Campaigns over plausible worlds: `playing` plays them, `result` says what they come to."""
