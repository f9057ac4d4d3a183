"""Nights into years: campaigns, what animals learn between nights, costs, and populations.

Begin with `season.season`. The campaign is the unit: a group that is trained and trapped night
after night until it is caught, has moved away or is given up.
"""
