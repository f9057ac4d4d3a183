"""Answers in sentences, for the terminal and for pages alike."""
