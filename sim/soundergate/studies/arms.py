"""The arms of a comparison: setups with names, written out or as every combination of choices."""

from __future__ import annotations

import itertools
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

from soundergate.studies.errors import StudyError

if TYPE_CHECKING:
    from soundergate.scenario.loading import Given
    from soundergate.scenario.schema import Scenario

MOST_ARMS = 200
LONGEST_NAME = 2000
"""Characters in the name of an arm; those made of many choices are long."""


@dataclass(frozen=True)
class Arm:
    """A setup to compare: ``set`` holds the dotted values in which it differs from its base."""

    name: str
    scenario: Scenario = field(repr=False)
    set: dict[str, Any] = field(default_factory=dict)


Setups: TypeAlias = "Given | Sequence[Given] | Sequence[Arm]"
Vary: TypeAlias = str | Iterable[str] | Mapping[str, Sequence[Any]]
"""Texts such as "opening.width=4 ft,8 ft", or {"opening.width": ["4 ft", "8 ft"]}."""
_VARIES = 'wanted such as {"opening.width": ["4 ft", "8 ft"]}'


def parse_vary(vary: Vary) -> list[dict[str, Any]]:
    """Every combination of choices such as "opening.width=4 ft,8 ft", as dotted values.

    Keys and values are those of `with_values`: a plain value keeps the register's scatter.

    Two texts of two choices give four combinations, the last text varying fastest. A comma inside
    braces, brackets or quotes does not separate choices. A mapping gives a list of choices for each
    key. Raises StudyError naming the text or the key.
    """
    if isinstance(vary, Mapping):
        return cross({key: _choices(key, given) for key, given in vary.items()})
    texts = [vary] if isinstance(vary, str) else vary
    if isinstance(texts, bytes) or not isinstance(texts, Iterable):
        raise StudyError("varies nothing", key="vary", value=texts, hint=_VARIES)
    factors: dict[str, list[Any]] = {}
    for text in texts:
        if not isinstance(text, str):
            raise StudyError("varies nothing", key="vary", value=text, hint=_VARIES)
        key, sign, choices = text.partition("=")
        key = key.strip()
        if not sign or not key:
            raise StudyError(f"{text!r} varies nothing; wanted key=choice,choice")
        if key in factors:
            raise StudyError(f"{key} is varied twice; give all its choices at once")
        factors[key] = [_value(key, part) for part in _split(choices)]
    return cross(factors)


def _choices(key: Any, given: Any) -> list[Any]:
    """The choices of a factor in types that a file can hold."""
    from soundergate.scenario.given import value_of
    from soundergate.scenario.loading import check_depth

    if not isinstance(key, str) or not key.strip():
        raise StudyError("a key to vary is a dotted text", key="vary", value=key, hint=_VARIES)
    if getattr(given, "ndim", None) == 1 and hasattr(given, "tolist"):  # an array or a series
        given = given.tolist()
    if not isinstance(given, list | tuple | range):
        raise StudyError("is no list of choices", key=f"vary.{key}", value=given, hint=_VARIES)
    check_depth(given, "", StudyError, f"vary.{key}")
    return [value_of(choice, None, f"vary.{key}", StudyError) for choice in given]


def cross(factors: Mapping[str, Sequence[Any]]) -> list[dict[str, Any]]:
    """Every combination of the factors' values; the last factor varies fastest."""
    for key, values in factors.items():
        shown = [show(value) for value in values]
        if not shown:
            raise StudyError("no choices to vary", key=key)
        if len(set(shown)) < len(shown):
            raise StudyError(f"a choice is given twice: {', '.join(shown)}", key=key)
    count = 1
    for values in factors.values():
        count *= len(values)
    if count > MOST_ARMS:
        raise StudyError(f"{count} combinations; at most {MOST_ARMS} arms can be compared")
    return [
        dict(zip(factors, values, strict=True)) for values in itertools.product(*factors.values())
    ]


def name_of(values: Mapping[str, Any]) -> str:
    """The name of a combination: "opening.width=4 ft, trigger.distance=12 ft"."""
    return ", ".join(f"{key}={show(value)}" for key, value in values.items())


def show(value: Any) -> str:
    """A value as it would be written, text without its quotes."""
    from soundergate.scenario.errors import show as as_toml

    return value if isinstance(value, str) else as_toml(value, 200)


def make_arms(
    scenarios: Setups,
    vary: Vary | None = None,
    names: Sequence[str] | None = None,
) -> list[Arm]:
    """Arms from setups: scenarios, dicts or paths, each with every combination of ``vary``.

    Arms are taken as they are. Raises StudyError for a wrong number of names, and ScenarioError
    naming the file and key if a combination makes no scenario.
    """
    from soundergate.scenario.loading import with_values
    from soundergate.studies.players import as_scenario

    if made := _made(scenarios, vary, names):
        return made
    given: list[Given]
    given = [scenarios] if not isinstance(scenarios, list | tuple) else [*scenarios]  # type: ignore[list-item]
    if not given:
        raise StudyError("there is no setup", key="scenarios", value=given,
                         hint="wanted one or several paths, dicts or Scenarios")  # fmt: skip
    bases = [as_scenario(one) for one in given]
    combinations = [{}] if vary is None else parse_vary(vary)
    leads = _leads(given, bases) if len(bases) > 1 or combinations == [{}] else [""]
    arms = []
    for lead, base in zip(leads, bases, strict=True):
        for values in combinations:
            name = ", ".join(part for part in (lead, name_of(values)) if part)
            arms.append(Arm(name, with_values(base, values) if values else base, values))
    if names is None:
        return arms
    if not isinstance(names, list | tuple) or not all(isinstance(name, str) for name in names):
        raise StudyError("are no names", key="names", value=names, hint='wanted such as ["a", "b"]')
    if len(names) != len(arms):
        raise StudyError(f"{len(names)} names for {len(arms)} arms")
    return [Arm(name, arm.scenario, arm.set) for name, arm in zip(names, arms, strict=True)]


def _made(scenarios: Setups, vary: Vary | None, names: Sequence[str] | None) -> list[Arm]:
    """The arms, if that is what was given; raises StudyError for those to be varied or renamed."""
    if not isinstance(scenarios, list | tuple):
        return []
    arms = [one for one in scenarios if isinstance(one, Arm)]
    if arms and (len(arms) < len(scenarios) or vary is not None or names is not None):
        raise StudyError("arms have their names and values; give setups to name or to vary")
    return arms


def check_arms(names: Sequence[str], against: str | None = None) -> None:
    """Raises StudyError unless names can be shown and differ, and ``against`` is one of them."""
    for name in names:
        _check_shown(name)
    twice = sorted({name for name in names if list(names).count(name) > 1})
    if twice:
        raise StudyError(f"two arms have the same name: {', '.join(twice)}")
    if against is not None and against not in names:
        raise StudyError(f"no arm is named {against!r}; the arms are {', '.join(names)}")


def _check_shown(name: str) -> None:
    """Names stand in terminals, tables and pictures: no control characters, not without end."""
    from soundergate.scenario.errors import Problem
    from soundergate.scenario.errors import show as as_toml
    from soundergate.scenario.fields import Text

    try:
        Text(longest=LONGEST_NAME).read(name)
    except Problem as problem:
        message = f"the arm {as_toml(name)}: its name {problem.text}"
        raise StudyError(message, hint=problem.hint) from None


def _leads(given: Sequence[Any], bases: Sequence[Scenario]) -> list[str]:
    """Short different names: file stems, else titles, else numbers behind them."""
    for names in (
        [Path(one).stem if isinstance(one, str | os.PathLike) else "" for one in given],
        [base.title for base in bases],
    ):
        if all(names) and len(set(names)) == len(names):
            return names
    return [f"{base.title or 'arm'} ({number})" for number, base in enumerate(bases, 1)]


def _split(text: str) -> list[str]:
    """Parts between commas that are outside quotes and brackets."""
    parts, depth, quote, start = [], 0, "", 0
    for place, sign in enumerate(text):
        if quote:
            quote = "" if sign == quote else quote
        elif sign in "\"'":
            quote = sign
        elif sign in "{[":
            depth += 1
        elif sign in "}]":
            depth -= 1
        elif sign == "," and depth == 0:
            parts.append(text[start:place])
            start = place + 1
    return [*parts, text[start:]]


def _value(key: str, text: str) -> Any:
    """TOML where the text is TOML (3, true, {fixed = "45 s"}), else the text itself."""
    from soundergate.scenario.loading import read_value

    text = text.strip()
    if not text:
        raise StudyError("an empty choice", key=key, hint="wanted key=choice,choice")
    value = read_value(text)
    return value if isinstance(value, bool | int | float | str | dict | list) else text
