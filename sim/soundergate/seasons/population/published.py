"""What published figures say of the growth of wild pigs, each in every way that it may be meant.

They disagree, and nothing is chosen among them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from soundergate.seasons.population.removal_share import (
    AFTER,
    BASES,
    Timing,
    factor_or_none,
    held_factor,
    stopping_shares,
)

WHY_THEY_DIFFER = (
    "Base: the same pigs are a smaller share of those alive after births than of those counted "
    "before.",
    "Arrivals: what keeps level on an open property must also remove what comes in.",
    "Deaths: a share of all that must die holds natural deaths, a share to remove does not.",
    "Reach: advice for a worst case or a quick fall is more than what just stops mean growth.",
    "Place and years: mast, crops, climate and who was counted differ from study to study.",
)


@dataclass(frozen=True)
class Published:
    """A figure from the literature: ``values`` as printed, and what they are of (``kind``).

    Kinds: "growth" (lambda - 1), "share that holds level", "share removed", "share that dies",
    "growth while a share is removed" (growth low, high, share), "recovery" (share killed, months),
    "recovery of two sites" (cut low, high, months of the quick and the slow site, factors in
    ``period_days`` of both). ``status``: "read", "read second-hand" or "from memory".
    """

    name: str
    kind: str
    values: tuple[float, ...]
    says: str
    source: str
    status: str
    caution: str
    period_days: float = math.nan


_SP_472 = (
    "Timmons J, Higginbotham B, Lopez R, Cathey J, Mellish J, Griffin J, Sumrall A, Skow K 2012, "
    "Texas A&M AgriLife Extension SP-472"
)
PUBLISHED: tuple[Published, ...] = (
    Published(
        "Texas model",
        "growth",
        (0.32,),
        "mean growth of 0.32 a year",
        "Mellish JM, Sumrall A, Campbell TA, Collier BA, Neill WH, Higginbotham B, Lopez RR 2014, "
        "Southeastern Naturalist 13(2):367-376",
        "read",
        "abstract read: mean of a statewide model; good years and good places grow faster",
    ),
    Published(
        "Texas advice",
        "share that holds level",
        (0.66,),
        "up to 66 % a year for 5 years or more until numbers are stable",
        _SP_472,
        "read",
        "summary read: the base of the share and the arrivals are not said, and it is an upper end",
    ),
    Published(
        "Texas growth under removal",
        "growth while a share is removed",
        (0.18, 0.21, 0.29),
        "growth of 18 to 21 % a year, and 29 % of the pigs removed a year",
        f"{_SP_472}, growth as quoted by the press",
        "read second-hand",
        "whether that growth already has the removal in it is not said; taken here as if it had",
    ),
    Published(
        "Texas 2010",
        "share removed",
        (753_646 / 2_600_000,),
        "753,646 of 2.6 million pigs removed in 2010 (29 %)",
        _SP_472,
        "read",
        "no share that holds level: what growth it would have held; both counts are estimates",
    ),
    Published(
        "Europe, summer pigs",
        "share that dies",
        (0.65,),
        "more than 65 % of the summer pigs must die to stop growth",
        "Keuling O and others 2013, European Journal of Wildlife Research 59:805-814",
        "from memory",
        "all deaths of the year, natural ones too, of pigs counted after births; other climate",
    ),
    Published(
        "New Zealand recovery",
        "recovery",
        (0.70, 30.0),
        "30 months to recover from a kill of 70 %",
        "Dzieciolowski RM, Clarke CMH, Frampton CM 1992, Acta Theriologica 37:259-270",
        "read",
        "abstract read: a simulation; thinned pigs have food to spare, so the rate is near the top",
    ),
    Published(
        "South Carolina recovery",
        "recovery of two sites",
        (0.54, 0.68, 3.0, 5.0, 1.28, 1.24),
        "density back in 3 and 5 months after a cut of 54 to 68 %; growth factors of 1.28 (1.11 to "
        "1.39) and 1.24 (0.64 to 1.92) in 3 weeks",
        "Garabedian JE, Kilgo JC 2024, Biological Invasions (4):1075-1089",
        "read",
        "pigs left, births and arrivals together, for some months: no rate of a whole year",
        21.0,
    ),
)


@dataclass(frozen=True)
class Reading:
    """One way to read a figure of growth, in the terms of the formula.

    ``growth_factor``, ``arrivals`` (share a year) and ``share`` (to remove of the pigs there when
    removal begins, in the timing asked for) are (low, high); nan where nothing is compatible with
    it. ``for_plans``: whether it is a growth to work out numbers of campaigns from.
    """

    figure: Published
    read_as: str
    growth_factor: tuple[float, float]
    arrivals: tuple[float, float]
    share: tuple[float, float]
    for_plans: bool

    def row(self) -> dict[str, Any]:
        """What is printed, how it is read, what follows, and what to beware of."""
        figure = self.figure
        row: dict[str, Any] = {"figure": figure.name, "says": figure.says}
        row |= {"status": figure.status, "read_as": self.read_as}
        for name in ("growth_factor", "arrivals", "share"):
            row |= ends(name, getattr(self, name))
        return row | {"caution": figure.caution, "source": figure.source}


def ends(name: str, pair: tuple[float, float]) -> dict[str, float]:
    """A pair as two columns."""
    return {f"{name}_low": pair[0], f"{name}_high": pair[1]}


def readings(immigration: float = 0.0, timing: Timing = AFTER) -> list[Reading]:
    """Every published figure in every way it may be meant; nothing is chosen among them.

    ``immigration``: arrivals a year (as a share) that are taken to have been at work where a share
    was published, so that they lower the growth it implies; growth published as such stays.
    """
    stopping_shares(1.0, immigration, timing)  # for its checks
    return [
        one for figure in PUBLISHED for one in _READERS[figure.kind](figure, immigration, timing)
    ]


def own_reading(growth_factor: float, immigration: float, timing: Timing = AFTER) -> Reading:
    """The scenario's own growth, as one more reading."""
    says = f"growth of {growth_factor - 1:g} a year"
    own = Published("this file", "growth", (growth_factor - 1,), says, "the scenario", "", "")
    return _reading(own, "growth without removal", [growth_factor], immigration, timing)


def _of_growth(figure: Published, i: float, timing: Timing) -> list[Reading]:
    return [_reading(figure, "growth without removal", [1 + figure.values[0]], i, timing)]


def _of_level(figure: Published, i: float, timing: Timing) -> list[Reading]:
    share = figure.values[0]
    found = [
        _reading(figure, base, [held_factor(share, base, i, timing)], i, timing) for base in BASES
    ]
    growth = 1 + PUBLISHED[0].values[0]  # or growth is that of the model, and the rest arrives
    arrivals = 1 - growth * (1 - share) if timing == AFTER else 1 / (1 - share) - growth
    words = f"growth of the {PUBLISHED[0].name}, the rest arrivals"
    return [*found, _reading(figure, words, [growth], arrivals, timing, for_plans=False)]


def _of_removed(figure: Published, i: float, timing: Timing) -> list[Reading]:
    held = {base: held_factor(figure.values[0], base, i, timing) for base in BASES}
    return [
        _reading(figure, f"{base}: would hold", [factor], i, timing, False)
        for base, factor in held.items()
    ]


def _of_deaths(figure: Published, i: float, timing: Timing) -> list[Reading]:
    held = held_factor(figure.values[0], BASES[0], i, timing)
    return [_reading(figure, f"{BASES[0]}, as if all were removed", [held], i, timing)]


def _of_growth_under_removal(figure: Published, i: float, timing: Timing) -> list[Reading]:
    *growth, share = figure.values
    left = 1 - share
    after = [(1 + g - i) / left if timing == AFTER else (1 + g) / left - i for g in growth]
    before = [1 + g + share - i for g in growth]
    return [
        _reading(figure, base, [factor_or_none(f) for f in factors], i, timing)
        for base, factors in ((BASES[0], after), (BASES[2], before))
    ]


def _of_recovery(figure: Published, i: float, timing: Timing) -> list[Reading]:
    return [_reading(figure, "steady growth", [_yearly(*figure.values)], i, timing)]


def _of_two_sites(figure: Published, i: float, timing: Timing) -> list[Reading]:
    least, most, quick, slow, *factors = figure.values
    a_year = [f ** (365.25 / figure.period_days) for f in factors]
    regained = [_yearly(least, slow), _yearly(most, quick)]
    only = "if that went on all year"
    return [
        _reading(figure, f"factors of 3 weeks, {only}", a_year, 0.0, timing, False),
        _reading(figure, f"growth that regains the cut, {only}", regained, 0.0, timing, False),
        _reading(figure, "arrivals alone, once a year", [1.0], (least, most), timing, False),
    ]


_READERS: dict[str, Callable[[Published, float, Timing], list[Reading]]] = {
    "growth": _of_growth,
    "share that holds level": _of_level,
    "share removed": _of_removed,
    "share that dies": _of_deaths,
    "growth while a share is removed": _of_growth_under_removal,
    "recovery": _of_recovery,
    "recovery of two sites": _of_two_sites,
}


def _reading(
    figure: Published,
    read_as: str,
    factors: Sequence[float],
    arrivals: float | tuple[float, float],
    timing: Timing,
    for_plans: bool = True,
) -> Reading:
    both = arrivals if isinstance(arrivals, tuple) else (arrivals, arrivals)
    growth = (min(factors), max(factors))
    low, high = (
        math.nan if math.isnan(f) else float(stopping_shares(f, i, timing))
        for f, i in zip(growth, both, strict=True)
    )
    return Reading(figure, read_as, growth, both, (low, high), for_plans)


def _yearly(killed: float, months: float) -> float:
    """Growth factor a year that makes up for a kill in some months."""
    return float((1 / (1 - killed)) ** (12 / months))
