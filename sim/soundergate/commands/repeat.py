"""A run.json in place of scenario files: what it says, and what was given in its place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from soundergate.commands import console
from soundergate.commands.options import Options
from soundergate.scenario.errors import ScenarioError, show

if TYPE_CHECKING:
    from soundergate.studies.repeat import Asked, Record

Given = TypeVar("Given", bound=Options)


def record_of(files: Sequence[Path], command: str) -> Record | None:
    """The record that a command is to repeat; None if it was given scenario or study files."""
    from soundergate.studies.repeat import is_record, read

    records = [file for file in files if is_record(file)]
    if not records:
        return None
    if len(files) > 1:
        raise ScenarioError(
            "a record of a run is repeated alone",
            file=str(records[0]),
            hint=f"`soundergate {command} {records[0]}`, with no other file",
        )
    return read(records[0], command)


def options_of(record: Record, asked: Asked, options: Given) -> tuple[Given, list[str]]:
    """The options of a record with those given in their place; and what was replaced, in words."""
    then = _values(asked)
    if record.stopped_after is not None:
        then |= {"nights": record.stopped_after, "precision": None}
    now = dict(then)
    if options.nights is not None or options.precision is not None:
        now |= {"nights": options.nights, "precision": options.precision}
    for name in ("seed", "level", "engine"):
        if name in options.given:
            now[name] = getattr(options, name)
    if options.keep_nights is not None:
        now["keep_nights"] = options.keep_nights
    replaced = replacements(then, now)
    if options.out is None:
        now["keep_nights"] = None  # there is no folder to keep them in
    return replace(options, **now), replaced


def _values(asked: Asked) -> dict[str, Any]:
    names = ("seed", "nights", "precision", "level", "engine", "keep_nights")
    return {name: getattr(asked, name) for name in names}


def replacements(then: Mapping[str, Any], now: Mapping[str, Any]) -> list[str]:
    """What is not as it was, such as "seed 2 in place of 1"."""
    return [
        f"{key.replace('_', ' ')} {_said(now[key])} in place of {_said(then[key])}"
        for key in then
        if then[key] != now[key]
    ]


def _said(value: Any) -> str:
    return "none" if value is None else value if isinstance(value, str) else show(value)


def say(record: Record, replaced: Sequence[str], options: Options) -> None:
    """What is repeated, and what is not as it was; the latter whatever else is to be said."""
    but = f", with {'; '.join(replaced)}" if replaced else ""
    if record.edited:
        console.tell(
            f"{record.file} was edited after it was written. What it asks for is played{but}; the "
            "figures that it holds are of another run."
        )
    elif not options.quiet:
        console.tell(f"Repeats {record.file}{but}.")
    others = any(text.startswith("nights") for text in replaced)
    if record.stopped_after is not None and not others and not options.quiet:
        console.tell(f"It was stopped after {record.stopped_after:,} nights; those are played.")
    console.tell(*record.differs)
