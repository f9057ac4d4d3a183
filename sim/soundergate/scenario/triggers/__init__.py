"""What releases the gate: a module for each kind, and `choice`, for one trigger or several.

Distances are measured from the opening towards the bait and beyond. What each key does in a
night is told in `soundergate.triggers`.
"""
