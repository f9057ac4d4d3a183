"""A whole study file in which every default is commented out."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from typing import Any

from soundergate.scenario.keys import Key
from soundergate.scenario.meanings import sentence
from soundergate.scenario.template import DEFAULT, UNSET, WORDS
from soundergate.studies.study_keys import study_keys

HEAD = """
Every key of a study file. A line that begins with one # says a default; one that
begins with #? has none, and what stands there is an example.
"""
_EXAMPLES: dict[str, Any] = {
    "title": "Does a wider opening help?",
    "base": "trap.toml",
    "set": {"training.nights": 10},
    "nights": 20000,
    "precision": 0.005,
    "against": "narrow",
    "circumstances": ["sounder.juveniles"],
    "arm.name": "narrow",
    "arm.file": "other.toml",
    "arm.set": {"opening.width": "4 ft"},
    "across.name": "trained long",
    "across.set": {"training.nights": 14},
    "robust.only": ["entry", "leaving"],
    "sensitivity.arm": "narrow",
    "sensitivity.less": "wide",
    "sensitivity.samples": 20,
    "sensitivity.only": ["entry", "leaving"],
}
_STATED = ("base", "arm", "arm.name", "arm.set")
"""What makes it a study: one arm, to which others are added alike."""
_LAST = """
"trigger.distance" = ["12 ft", "22 ft"]
"sounder.juveniles" = [3, 8]
"""


def template() -> str:
    """The file as text: a study of one scenario, trap.toml, beside it."""
    lines = [f"{WORDS}{line}".rstrip() for line in HEAD.strip().splitlines()]
    keys = study_keys()
    top = [key for key in keys if not key.table and not key.place]
    for key in [*top, *(key for key in keys if key not in top)]:
        lines += _lines(key)
    return "\n".join(lines) + "\n"


def _lines(key: Key) -> Iterator[str]:
    if key.path == "across.file":
        return
    if key.table:
        yield ""
    yield from textwrap.wrap(sentence(key.means), 80, initial_indent=WORDS, subsequent_indent=WORDS)
    if key.path in _STATED:
        value = _EXAMPLES.get(key.path)
        yield key.table or f"{key.name} = {_toml(value)}"
    elif key.table:
        yield f"{UNSET}{key.table}"
        if key.path == "factors":
            yield from (f"{UNSET}{line}" for line in _LAST.strip().splitlines())
    elif key.default is None or key.place:
        value = _EXAMPLES[key.path] if key.default is None else key.default
        yield f"{UNSET}{key.name} = {_toml(value)}"
    else:
        yield f"{DEFAULT}{key.name} = {_toml(key.default)}"


def _toml(value: Any) -> str:
    if isinstance(value, dict):
        inner = (f"{json.dumps(key)} = {_toml(item)}" for key, item in value.items())
        return "{" + ", ".join(inner) + "}"
    return json.dumps(value)
