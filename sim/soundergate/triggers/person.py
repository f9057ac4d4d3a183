"""A person on a slow link: what they count on the screen, and when they would release."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from soundergate.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from soundergate.mechanics.opening import Setup
    from soundergate.scenario.distributions import Duration
    from soundergate.scenario.schema import Scenario
    from soundergate.scenario.triggers.person import PersonTrigger


def rule_steps(person: PersonTrigger) -> list[tuple[float, float, float]]:
    """(seconds since watching began, least count, share of the group), in order of time.

    From then on a release needs the lesser of the count and that share of the night's group; the
    share is inf where only the count matters.
    """
    if person.rule:
        return [
            (step.after, step.count or math.inf, step.share or math.inf) for step in person.rule
        ]
    if person.count is not None:
        count, share = float(person.count), math.inf
    else:
        count, share = math.inf, 1.0 if person.share is None else person.share
    steps = [(0.0, count, share)]
    if person.patience < math.inf:
        steps.append((person.patience, min(count, float(person.min_count)), share))
    return steps


def out_of_sight(diameter: float, reach: float) -> float:
    """Share of a round corral that lies farther than ``reach`` from a camera at its fence.

    One less the area of the lens in which two circles overlap, of radius d/2 and ``reach`` with
    centres d/2 apart, over the corral's (textbook formula for the circle-circle lens).
    """
    radius = diameter / 2.0
    if reach >= diameter:
        return 0.0
    near = reach * reach * math.acos(reach / (2.0 * radius))
    far = radius * radius * math.acos(1.0 - reach * reach / (2.0 * radius * radius))
    kite = 0.5 * reach * math.sqrt(4.0 * radius * radius - reach * reach)
    return 1.0 - (near + far - kite) / (math.pi * radius * radius)


def hidden_share(person: PersonTrigger, scenario: Scenario) -> float:
    """Probability that an animal inside is not counted: behind others, or beyond infrared range."""
    beyond = out_of_sight(scenario.corral.diameter, person.infrared_range)
    return 1.0 - (1.0 - person.undercount) * (1.0 - beyond)


def is_exact(person: PersonTrigger, scenario: Scenario) -> bool:
    """Whether the count on the screen is always the true one."""
    return hidden_share(person, scenario) == 0.0 and person.overcount == 0.0


def seen_distribution(person: PersonTrigger, scenario: Scenario) -> NDArray[np.float64]:
    """float[N + 1, 2 N + 1]: P(counted <= m | n inside).

    Each animal inside is hidden with probability `hidden_share`, and otherwise counted twice with
    probability ``overcount``, independently: the count is a sum of n such numbers.
    """
    group_size = scenario.animals
    hidden = hidden_share(person, scenario)
    twice = (1.0 - hidden) * person.overcount
    one = np.array([hidden, 1.0 - hidden - twice, twice])
    table = np.zeros((group_size + 1, 2 * group_size + 1))
    mass = np.array([1.0])
    for n in range(group_size + 1):
        table[n, : len(mass)] = np.minimum(np.cumsum(mass), 1.0)
        table[n, len(mass) - 1 :] = 1.0
        mass = np.convolve(mass, one)
    return table


def tables(person: PersonTrigger, scenario: Scenario) -> dict[str, NDArray[np.float64]]:
    """The tables that the engines look up, by their names in the plan: float[steps, 3] of
    `rule_steps`, and `seen_distribution`."""
    return {
        "rule": np.array(rule_steps(person)), "seen_cdf": seen_distribution(person, scenario)
    }  # fmt: skip


def refuse_endless(person: PersonTrigger, scenario: Scenario, most_events: int) -> None:
    """Raises ScenarioError where more looks would be taken than a night may have events."""
    if 0.0 < person.frame_interval * most_events < scenario.visit.check:
        raise ScenarioError(
            "a person would look at the picture without end in one night",
            file=scenario.source, key="trigger.person.frame_interval",
            value=f"{person.frame_interval:g} s",
            hint="give it more, or 0 s for an unbroken picture",
        )  # fmt: skip


def row(person: PersonTrigger, scenario: Scenario, setup: Setup) -> dict[str, Any]:
    """The numbers that the engines read; times in s."""
    return {
        "clear_opening": person.clear_opening,
        "awake_share": person.awake,
        "frame_interval": person.frame_interval,
        "view_delay": person.view_delay,
        "dropout_share": person.dropout,
        "retry": person.retry,
        "refresh": person.refresh if person.refresh > 0.0 else math.inf,
        "exact_count": is_exact(person, scenario),
    }


def durations(person: PersonTrigger) -> dict[str, Duration]:
    """The times that the engines draw, by the name of their row."""
    return {
        "X_ALERT": person.alert, "X_REACTION": person.reaction, "X_COMMAND": person.command_delay
    }  # fmt: skip
