"""`keys`: every key as it is typed, with what it means and what may stand there."""

from __future__ import annotations

import re
import sys
import textwrap
from collections.abc import Callable, Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Any

from soundergate.commands import console

if TYPE_CHECKING:
    from soundergate.scenario.keys import Key

_WIDTH = 80
_STUDY = "study"
_NO_BREAK = "\N{NO-BREAK SPACE}"


def keys(names: Sequence[str], as_template: bool, as_json: bool) -> None:
    """Print the keys that the names mean, or all; as a file to fill in with `as_template`.

    Raises ScenarioError for a name that no key has.
    """
    if as_template:
        console.print_text(_template(names))
        return
    found = _found(names)
    if as_json:
        console.print_json([_as_dict(key) for key in found])
    else:
        console.print_text("\n".join(_text(found)))


def _template(names: Sequence[str]) -> str:
    if list(names) == [_STUDY]:
        from soundergate.studies.study_template import template as study_template

        return study_template()
    from soundergate.scenario.template import template

    return template(names)


def _found(names: Sequence[str]) -> list[Key]:
    from soundergate.scenario.keys import narrowed, scenario_keys

    every = [*scenario_keys(), *(_study_keys() if _asks_for_studies(names) else ())]
    return narrowed(every, names) if names else every


def _asks_for_studies(names: Sequence[str]) -> bool:
    """Whether studies are asked for: their module takes a second to load."""
    return not names or any(name.split(".")[0].casefold() == _STUDY for name in names)


def _study_keys() -> Sequence[Key]:
    from soundergate.studies.study_keys import study_keys

    return study_keys()


def _text(found: list[Key]) -> Iterator[str]:
    for (place, kinds), group in groupby(found, lambda key: (_place(key), key.kinds)):
        yield _head(place, kinds)
        yield ""
        for key in group:
            yield f"  {key.id}"
            for line in _told(key):
                yield from _wrapped(line)
            yield ""


def _wrapped(line: str) -> list[str]:
    """Lines no wider than the window, a number and its unit on the same one."""
    kept = re.sub(r"(?<=\d) (?=\S)", _NO_BREAK, line)
    lines = textwrap.wrap(kept, _width() - 1, initial_indent="    ", subsequent_indent="    ")
    return [one.replace(_NO_BREAK, " ") for one in lines]


def _width() -> int:
    if not sys.stdout.isatty():
        return _WIDTH
    return max(40, min(console.console(sys.stdout).width, 100))


def _place(key: Key) -> str:
    return f"{_STUDY}.{key.place}".rstrip(".") if key.id.startswith(f"{_STUDY}.") else key.place


def _head(place: str, kinds: tuple[str, ...]) -> str:
    from soundergate.scenario.keys import scenario_keys

    if place == _STUDY:
        return "At the top of a study file"
    if not place:
        return "At the top of a scenario file"
    every = [*scenario_keys(), *(_study_keys() if place.startswith(f"{_STUDY}.") else ())]
    key = next(one for one in every if one.table and place in (one.id, one.path))
    of = " of a study file" if place.startswith(f"{_STUDY}.") else ""
    head = f"In {key.table}{of}"
    return f"{head}, {' with '.join(kinds)} only" if kinds else head


def _told(key: Key) -> Iterator[str]:
    from soundergate.scenario.keys import SEVERAL
    from soundergate.scenario.meanings import sentence

    yield sentence(key.means)
    if key.table:
        yield f"A table: {key.table}." + (" It must be there." if key.required else "")
        return
    takes = "One of: " + ", ".join(str(one) for one in key.choices) if key.choices else key.takes
    several = takes.endswith(SEVERAL)
    takes = takes.removesuffix(SEVERAL)
    if key.units:
        takes += f" ({', '.join(key.units)})"
    if key.limits:
        takes += f", {key.limits}"
    if several:
        takes += SEVERAL
    yield f"{takes[0].upper()}{takes[1:]}. {_if_left_out(key)}".strip()
    if said := _range(key):
        yield said
    yield f"Moves {_and(key.moves)}."


def _if_left_out(key: Key) -> str:
    if key.required:
        return "It must be there."
    if key.entry is None:
        return "No default." if key.default is None else f"Default: {_value(key.default)}."
    known = key.entry
    if known.of:
        return f"Default: {known.value:g} times {known.of}."
    middle = known.plain(known.value)
    default = f"Default: {_value(middle)}{_in_feet_and_pounds(known.value, known.unit)}"
    return f"{default}, which varies." if known.dist else f"{default}."


def _range(key: Key) -> str:
    known = key.entry
    if known is None or known.low is None or known.role == "choice":
        return ""
    words = "Plausible" if known.role == "unknown" else "Worth trying"
    if isinstance(known.low, list):
        return f"{words}: {known.low} to {known.high}."
    unit = f" {known.unit}" if known.unit else f" times {known.of}" if known.of else ""
    low, high = (_in_feet_and_pounds(one, known.unit, bare=True) for one in (known.low, known.high))
    also = f" ({low} to {high})" if low else ""
    return f"{words}: {known.low:.12g} to {known.high:.12g}{unit}{also}."


def _in_feet_and_pounds(value: Any, unit: str, bare: bool = False) -> str:
    """The value in the units of a trapper's tape and scale, where the register has others."""
    from soundergate.scenario.unit_system import units

    if unit in _ALSO and not isinstance(value, list):
        other, size = _ALSO[unit]
        said = f"{value / size:.3g} {other}"
        return said if bare else f" ({said})"
    us = units("US")
    writers: dict[str, Callable[[float], str]] = {
        "kg": us.mass,
        "m": us.length,
        "N": us.force,
        "m/s": us.speed,
    }
    if unit not in writers or isinstance(value, list):
        return ""
    if unit == "m" and value < 0.5:
        writers["m"] = us.short
    said = writers[unit](value)
    return said if bare else f" ({said})"


_ALSO = {"N*m": ("lbf*ft", 1.3558179), "m^2": ("ft^2", 0.09290304)}
"""Units that no sentence of a report needs: the one of feet and pounds, and its size in SI."""


def _value(value: Any) -> str:
    if value == "":
        return "none"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple):
        return ", ".join(str(one) for one in value)
    return str(value)


def _and(words: Sequence[str]) -> str:
    return " and ".join(words)


def _as_dict(key: Key) -> dict[str, Any]:
    known = key.entry
    said = {
        "key": key.id,
        "path": key.path,
        "table": key.table,
        "means": key.means,
        "takes": key.takes,
        "units": list(key.units),
        "limits": key.limits,
        "choices": list(key.choices),
        "required": key.required,
        "default": key.default,
        "default_times": None,
        "times": "",
        "varies": key.varies,
        "low": None,
        "high": None,
        "range_unit": "",
        "role": "",
        "moves": list(key.moves),
    }
    if known is None:
        return said
    return said | {
        "default": None if known.of else known.said(),
        "default_times": known.said() if known.of else None,
        "times": known.of,
        "low": known.low,
        "high": known.high,
        "range_unit": known.unit,
        "role": known.role,
    }
