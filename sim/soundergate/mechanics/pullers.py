"""An animal as puller: it leans on a trip line, or upsets a bait container tied to the latch.

What a night's animal really pulls is worked out with the trigger; here stands the estimate that
`check` judges a latch by, for one median adult pulling straight or for a full container.
"""

from __future__ import annotations

from typing import Any

from soundergate.mechanics import words
from soundergate.mechanics.model import GRAVITY, LatchSolution, PullerSolution, Site, Uncertain


def animal_push(mass: float, strength: Uncertain) -> Uncertain:
    """Push (N) of an animal of ``mass`` (kg), as ``strength`` times its weight."""
    return strength.scaled(mass * GRAVITY)


def site_of(scenario: Any) -> Site:
    """What a latch pulled by an animal needs to know of who comes and what they meet.

    The animal is a median one of the heaviest class that comes.
    """
    sounder = scenario.sounder
    heads = {
        "boar": sounder.boars,
        "sow": sounder.sows,
        "juvenile": sounder.juveniles,
        "piglet": sounder.piglets,
    }
    masses = [getattr(sounder.mass, name).median for name, count in heads.items() if count]
    containers = [part.container for part in scenario.trigger.parts if hasattr(part, "container")]
    return Site(
        animal_pull=animal_push(max(masses), Uncertain.of(scenario.body.strength)),
        bait_pull=(containers[0] + scenario.bait.mass) * GRAVITY if containers else 0.0,
        empty_bait_pull=containers[0] * GRAVITY if containers else 0.0,
    )


def solve(latch: Any, opening: Any, site: Site, need: LatchSolution) -> PullerSolution:
    """The animal (or its bait container) of a scenario's latch table."""
    if site.bait_pull > 0.0:
        return PullerSolution(
            kind="animal",
            available=site.bait_pull,
            available_sigma=0.0,
            delay=latch.delay,
            notes=(_container_note(site, need.pull_required),),
            sketch={"empty": site.empty_bait_pull},
        )
    return PullerSolution(
        kind="animal",
        available=site.animal_pull.median,
        available_sigma=site.animal_pull.sigma,
        delay=latch.delay,
        notes=(
            f"a median adult pushes with {words.force(site.animal_pull.median)}; a line pushed "
            "sideways multiplies that and shortens the travel, bends take some of it",
        ),
    )


def _container_note(site: Site, required: float) -> str:
    """When a container's falling weight still frees the latch."""
    full, empty = words.force(site.bait_pull), words.force(site.empty_bait_pull)
    text = f"the bait container pulls with {full} full and {empty} empty"
    if site.bait_pull > required > site.empty_bait_pull:
        left = (required - site.empty_bait_pull) / (site.bait_pull - site.empty_bait_pull)
        text += (
            f": at typical friction it frees the latch as long as {100 * left:.0f} % of the bait "
            "is left"
        )
    return text
