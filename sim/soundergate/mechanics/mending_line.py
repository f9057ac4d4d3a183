"""What would mend a latch that animals pull by a line: lever, tension, the line itself.

Each proposal is tried on the whole chain: with it alone changed, the trap stays set and a try frees
the latch with 0.95.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

from soundergate.mechanics import chain as chains
from soundergate.mechanics import release
from soundergate.mechanics.mending import TARGET
from soundergate.mechanics.model import GRAVITY, Chain, OpeningSetup, Uncertain
from soundergate.mechanics.words import Units, percent

RATIOS = (1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0)
"""Levers that one would build."""
LESS = (0.75, 0.5, 0.35, 0.25, 0.15, 0.1)
MORE = (1.25, 1.5, 2.0, 3.0, 4.0, 6.0)
"""Of the tension and of the breaking force."""


PARTS = ("lever", "hung", "break_force", "turn")


def does(chain: Chain) -> bool:
    """Whether the trap stays set and a try frees its latch with `TARGET`."""
    found = chains.odds(chain)
    return found.holds * found.releases >= TARGET


def cures(chain: Chain, parts: Collection[str] = PARTS) -> dict[str, float]:
    """The change nearest to what is there that mends the chain, by what is changed.

    "lever" a ratio, "hung" and "break_force" N, "turn" rad (0: no bends); only what does, and of
    ``parts``. Empty where nothing is amiss, or no line pulls.
    """
    if not chain.site.lines or does(chain):
        return {}
    found: dict[str, float] = {}
    nearest = sorted(RATIOS, key=lambda ratio: max(ratio / chain.lever, chain.lever / ratio))
    for name, values in (
        ("lever", nearest),
        ("hung", [f * max(line.hung for line in chain.site.lines) for f in LESS]),
        ("break_force", [f * min(line.break_force for line in chain.site.lines) for f in MORE]),
        ("turn", [0.0] if any(line.turn > 0.0 for line in chain.site.lines) else []),
    ):
        for value in values if name in parts else ():
            if name == "lever":
                other = chains.changed(chain, lever=value)
            else:
                other = chains.changed(chain, line={name: value})
            if does(other):
                found[name] = value
                break
    return found


def proposals(opening: OpeningSetup, units: Units) -> list[str]:
    """Sentences that say what would mend an opening that a line pulls; empty if nothing would."""
    if opening.puller != "animal" or not opening.latch.holds or not opening.latch.releases:
        return []
    if opening.chain.site.containers:
        return list(_container(opening, units))
    found = cures(opening.chain)
    ways = list(_ways(found, units))
    if ways:
        return [
            f"For {percent(TARGET)} that it stays set and a try frees it: {', or '.join(ways)}."
        ]
    if does(opening.chain):
        return []
    return [
        "No one change of lever, tension, line or bends will do: take a latch that rubs less or "
        "carries less, or a powered puller."
    ]


def _ways(found: dict[str, float], units: Units) -> Iterator[str]:
    if "lever" in found:
        yield f"a lever ratio of {found['lever']:g}"
    if "hung" in found:
        yield f"the line hung with {units.force(found['hung'])}"
    if "break_force" in found:
        yield f"a line that bears {units.force(found['break_force'])}"
    if "turn" in found:
        yield "the line straight to the latch, without bends"


def _container(opening: OpeningSetup, units: Units) -> Iterator[str]:
    """The weight of a full container that frees the latch, where this one does not."""
    if opening.odds.by_state["full"] >= TARGET or opening.pull_required <= 0.0:
        return
    need = Uncertain(opening.pull_required, opening.pull_required_sigma)
    weight = release.pull_for(TARGET, need, 0.0)
    full = max(heavy for heavy, _ in opening.chain.site.containers)
    ratio = opening.lever * weight / full
    yield (
        f"For {percent(TARGET)}: a container that weighs {units.mass(weight / GRAVITY)} when full, "
        f"or a lever ratio of {int(ratio * 10.0 + 0.999999) / 10.0:g}."
    )
