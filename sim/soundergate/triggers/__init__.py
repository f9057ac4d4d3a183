"""What releases the gate: body contact, bait, a counter, a person on a link, or nothing.

A module a kind: what the engines read of it. Start with `line`.
"""
