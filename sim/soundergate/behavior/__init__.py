"""What pigs do: the group, its bodies, and the speeds of entering, leaving and pressing on.

Start with `group`, then `speeds`.
"""
