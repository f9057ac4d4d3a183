"""An animal as puller: it leans on a trip line, or upsets a bait container tied to the latch.

What comes of its push, in a night and in `check`, is worked out in `mechanics.chain`; here stands
who comes, and what they meet.
"""

from __future__ import annotations

from typing import Any

from soundergate.mechanics import numbers_in_words as words
from soundergate.mechanics import trip_line
from soundergate.mechanics.clearance import CLASSES
from soundergate.mechanics.model import HungLine, LatchSolution, PullerSolution, Site, Toucher
from soundergate.scenario.constants import GRAVITY
from soundergate.scenario.distributions import LogNormal


def animal_push(mass: float, strength: LogNormal) -> LogNormal:
    """Push (N) of an animal of ``mass`` (kg), as ``strength`` times its weight."""
    return strength.scaled(mass * GRAVITY)


def site_of(scenario: Any) -> Site:
    """What a latch pulled by an animal needs to know of who comes and what they meet."""
    touchers = tuple(
        _toucher(scenario, sounder, name)
        for sounder in (scenario.sounder, *scenario.other)
        for name, key in CLASSES.items()
        if getattr(sounder, key)
    )
    parts = scenario.trigger.parts
    return Site(
        animal_pull=LogNormal(max(t.push for t in touchers), scenario.body.strength.sigma),
        touchers=touchers,
        lines=tuple(hung(part) for part in parts if part.kind == "line"),
        containers=tuple(
            ((part.container + scenario.bait.mass) * GRAVITY, part.container * GRAVITY)
            for part in parts
            if part.kind == "bait"
        ),
    )


def _toucher(scenario: Any, sounder: Any, name: str) -> Toucher:
    body, mass = scenario.body, getattr(sounder.mass, name)
    return Toucher(
        name=name,
        heads=getattr(sounder, CLASSES[name]),
        push=animal_push(mass.median, body.strength).median,
        back=body.height_coefficient * mass.median**body.exponent,
        mass_sigma=mass.sigma,
        strength_sigma=body.strength.sigma,
        exponent=body.exponent,
        scatter=body.shoulder_scatter,
    )


def hung(line: Any) -> HungLine:
    """A scenario's trip line as the latch meets it."""
    return HungLine(
        height=line.height - trip_line.sag(line.span, line.weight, line.tension),
        span=line.span,
        hung=line.tension,
        slack=line.slack,
        stiffness=line.stiffness,
        turn=line.bends * line.bend_angle,
        friction=line.friction,
        break_force=line.break_force,
    )


def solve(latch: Any, opening: Any, site: Site, need: LatchSolution) -> PullerSolution:
    """The animal (and its line or bait container) of a scenario's latch table."""
    notes = [_container_note(full, empty, need.pull_required) for full, empty in site.containers]
    return PullerSolution(
        kind="animal",
        available=site.animal_pull.median,
        available_sigma=site.animal_pull.sigma,
        delay=latch.delay,
        notes=tuple(notes),
    )


def _container_note(full_pull: float, empty_pull: float, required: float) -> str:
    """When a container's falling weight still frees the latch."""
    full, empty = words.force(full_pull), words.force(empty_pull)
    text = f"the bait container pulls with {full} full and {empty} empty"
    if full_pull > required > empty_pull:
        left = (required - empty_pull) / (full_pull - empty_pull)
        text += (
            f": at typical friction it frees the latch as long as {100 * left:.0f} % of the bait "
            "is left"
        )
    return text
