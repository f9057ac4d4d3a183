"""What one setup does over plausible worlds, in sentences that come before all others."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from soundergate.mechanics.advice.plan import in_vain
from soundergate.scenario.assumptions import value_at
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.messages import ABSENT, look_up
from soundergate.scenario.units import (
    DIMENSIONS,
    figures,
    format_quantity,
    parse_quantity,
    split_quantity,
)
from soundergate.studies.sentences import about_percent, points
from soundergate.studies.worlds.phrases import named, value

if TYPE_CHECKING:
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.worlds.inputs import Input
    from soundergate.studies.worlds.one_setup import OverWorlds
    from soundergate.studies.worlds.order import Quantile

_SHOWN = 2
"""Unknowns that a sentence names at most; the rest stands in a table."""


def worlds_answer(over: OverWorlds, scenario: Scenario, group_size: int) -> list[str]:
    """Nine of ten plausible worlds, then what moves the answer, then what one could decide."""
    if over.found is None:
        return ["Everything that matters is stated in the file, so there is one world to play."]
    lines = [*in_vain(scenario), _caught(over)]
    if group_size > 1:
        lines.append(_whole(over))
    lines += [_unknown(over), _decision(over, scenario)]
    lines += _left_out(over)
    return [line for line in lines if line]


def _caught(over: OverWorlds) -> str:
    low, middle, high = over.quantiles("fraction_caught")
    return (
        f"In nine of ten plausible worlds this trap catches {between(low, high)} of the group, in "
        f"the middle one {about_percent(middle.estimate)}."
    )


def _whole(over: OverWorlds) -> str:
    low, middle, high = over.quantiles("whole_group")
    return (
        f"The whole group is caught on {between(low, high)} of nights, in the middle world on "
        f"{about_percent(middle.estimate)}."
    )


def between(low: Quantile, high: Quantile) -> str:
    """Shares: "between 26 and 81 %"."""
    least, most = about_percent(low.estimate), about_percent(high.estimate)
    if least == most:
        return roughly(most)
    return f"between {least.removesuffix(' %')} and {most}"


def _unknown(over: OverWorlds) -> str:
    shown = [one for one in over.movers() if one.shown][:_SHOWN]
    if not shown:
        return "No single thing that nobody knows moves this much; many move it a little."
    first, *rest = shown
    text = (
        f"What nobody knows and matters most is {named(first.unknown.id)}: at "
        f"{value(first.unknown, first.low)} the trap catches {about_percent(first.at_low)} on "
        f"average, at {value(first.unknown, first.high)} {about_percent(first.at_high)}."
    )
    return text + "".join(f" Next comes {named(one.unknown.id)}." for one in rest)


def _decision(over: OverWorlds, scenario: Scenario) -> str:
    """The change of one decision that helps most over the worlds, or that none does."""
    if over.decisions is None or not over.decisions.swings:
        return ""
    if not over.changes:
        return (
            f"{len(over.decisions.swings)} things that you decide were changed, one at a time: "
            "with every unknown at its middle value none of them catches clearly more."
        )
    best = over.changes[0]
    here = said_there(scenario, best.input, None)
    there = said_there(scenario, best.input, best.high)
    what = f"{best.input.paths[0]}, {there}" + (f" in place of {here}" if here else "")
    middle = f"with every unknown at its middle value {points(best.at_middle)}"
    loses = f"worse by more than {points(best.negligible)} in {about_percent(best.worse)} of them"
    if best.low > 0 and best.better > best.worse:
        return (
            f"Of what you decide, this would help most: {what}. It catches {points(best.gain)} "
            f"more of the group on average over plausible worlds, and is {loses}; {middle}."
        )
    return (
        "No single change of what you decide helps in most plausible worlds. The most promising "
        f"is {what}: {middle} more of the group, but {points(best.gain)} on average over plausible "
        f"worlds, and {loses}."
    )


def said_there(scenario: Scenario, one: Input, high: bool | None) -> str:
    """What to write for a decision at an end of its range, or (None) what it is; "" if unknown."""
    path, entry = one.paths[0], one.entry
    written = look_up(scenario.raw, path.split("."))
    if high is None:
        said = look_up(scenario.resolved(), path.split(".")) if written is ABSENT else written
        if said is ABSENT or isinstance(said, dict):
            return ""
    else:
        try:
            said = value_at(scenario, path, entry, one.at(0.95 if high else 0.05))
        except ScenarioError:
            return ""
    return _short(said, next((one for one in (written, entry.example) if _has_unit(one)), entry))


def _has_unit(said: Any) -> bool:
    try:
        return isinstance(said, str) and bool(split_quantity(said)[1])
    except ValueError:
        return False


def _short(said: Any, like: Any) -> str:
    """A value as a person would say it, in the unit of another one or of the register."""
    if not isinstance(said, str):
        plain = isinstance(said, int | float) and not isinstance(said, bool)
        return figures(said, 3) if plain else str(said)
    unit = split_quantity(like)[1] if isinstance(like, str) else like.unit
    try:
        number, own = split_quantity(said)
        kind = next(name for name, one in DIMENSIONS.items() if one.si == own)
    except (ValueError, StopIteration):
        return said
    return format_quantity(parse_quantity(f"{number} {own}", kind), unit or own, 3)


def _left_out(over: OverWorlds) -> list[str]:
    found = over.found
    if found is None or not found.failed:
        return []
    return [left_out(found.failed, found.asked)]


def left_out(failed: Mapping[int, str], asked: int) -> str:
    """How many worlds could not be built, and why the first could not."""
    why = next(iter(failed.values()))
    return f"{len(failed)} of {asked} worlds could not be built. The first: {why.rstrip('.')}."


def span_of(low: float, high: float) -> str:
    """Shares as a span: "26 to 81 %", "about 100 %" where both read the same."""
    least, most = about_percent(low), about_percent(high)
    return roughly(most) if least == most else f"{least.removesuffix(' %')} to {most}"


def roughly(share: str) -> str:
    """ "about 37 %"; "over 99 %" and "under 1 %" say that they are rough themselves."""
    return share if share.startswith(("over", "under")) else f"about {share}"


def end_words(one: Quantile, factor: float, digits: int) -> str:
    """A quantile with its interval; an end that there is not as an open one."""
    low = "…" if math.isinf(one.low) else f"{factor * one.low:z.{digits}f}"
    high = "…" if math.isinf(one.high) else f"{factor * one.high:z.{digits}f}"
    return f"{factor * one.estimate:z.{digits}f} ({low} to {high})"
