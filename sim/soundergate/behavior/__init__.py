"""What pigs do: the group, its bodies, and the speeds of entering and leaving.

Start with `group`, then `speeds`.
"""
