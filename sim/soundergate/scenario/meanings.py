"""What every key means, in words that one would say aloud, and what it moves: `meanings.toml`.

`keys`, the JSON Schema, and the sentences about what nobody knows all take their words from there.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any

_BY_KIND = ("opening.gate", "opening.latch", "trigger.person", "trigger")
"""Places whose tables are of several kinds, which stand in an id between place and key."""


@cache
def _tables() -> Mapping[str, Mapping[str, Any]]:
    text = (resources.files(__package__) / "meanings.toml").read_text(encoding="utf-8")
    return MappingProxyType(tomllib.loads(text))


def meanings() -> Mapping[str, str]:
    """All meanings by id, in the order of a file."""
    return _tables()["means"]


def meaning(name: str) -> str | None:
    """What the key with this id means, such as "the width of the corral from fence to fence".

    A kind without words of its own has those of the key that all kinds share. None for an id of
    which nothing is said.
    """
    return next((meanings()[one] for one in _wider(name) if one in meanings()), None)


def example(name: str) -> Any:
    """A value that could stand at a key without a default; None where its type says enough."""
    known = _tables()["examples"]
    return next((known[one] for one in _wider(name) if one in known), None)


def moved_by(name: str) -> tuple[str, ...]:
    """What the key moves: "steel", "pigs", "people", "cost" and so on."""
    known = _tables()["moves"]
    begun = [one for one in known if name == one or name.startswith(f"{one}.")]
    return tuple(known[max(begun, key=len)]) if begun else ()


def _wider(name: str) -> list[str]:
    """The id, then without its kinds one by one."""
    place = next((one for one in _BY_KIND if name.startswith(f"{one}.")), None)
    if place is None:
        return [name]
    *kinds, key = name.removeprefix(f"{place}.").split(".")
    return [".".join((place, *kinds[:most], key)) for most in range(len(kinds), -1, -1)]


def sentence(words: str) -> str:
    """A meaning as a sentence."""
    return f"{words[0].upper()}{words[1:]}."
