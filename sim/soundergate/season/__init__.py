"""Nights into years: campaigns, what animals learn between nights, costs, and populations.

The campaign is the unit: a group that is trained and trapped night after night until it is caught,
has moved away or is given up.

The package itself can be called: ``soundergate.season(["a.toml", "b.toml"])`` plays campaigns and
gives a :class:`~soundergate.season.season.SeasonResult`. Arguments are those of
:func:`soundergate.season.season.season`.
"""

from __future__ import annotations

from soundergate.study.callable_package import make_callable

make_callable(__name__, f"{__name__}.season", "season")
