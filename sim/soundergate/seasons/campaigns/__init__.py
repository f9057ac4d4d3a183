"""Campaigns played night after night, and what they are asked."""
