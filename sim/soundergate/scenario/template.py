"""A whole scenario file in which every key that has a default says it, commented out.

Any one of those lines may be taken into use: the file plays the same nights.
"""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterable, Iterator
from typing import Any

from soundergate.scenario.assumptions import typed_at
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.gates.choice import GATE_CLASSES
from soundergate.scenario.keys import Key, key_id, literals, scenario_keys
from soundergate.scenario.latches.choice import LATCH_CLASSES
from soundergate.scenario.loading import from_table
from soundergate.scenario.meanings import example, sentence
from soundergate.scenario.messages import look_up
from soundergate.scenario.paths import CHOOSING, kinds_of
from soundergate.scenario.register import Entry
from soundergate.scenario.schema import Scenario
from soundergate.scenario.triggers.choice import SINGLE_CLASSES
from soundergate.scenario.units import DIMENSIONS

DEFAULT, UNSET, WORDS = "# ", "#? ", "## "
"""How a line begins that says a default, one that shows what could stand, and an explanation."""

HEAD = """
Every key of a scenario file, for a trap of one kind.
A line that begins with one # says a default: take the # away and change the value.
As it stands there it changes no night; but what the file says counts as known, so
plausible worlds no longer draw it. A line that begins with #? has no default: what
stands there is an example, invented. Values here are placeholders, not advice.
"""

_FAMILIES = {
    "opening.gate": GATE_CLASSES,
    "opening.latch": LATCH_CLASSES,
    "trigger": SINGLE_CLASSES,
}
_USUAL = {
    "opening.gate": {"kind": "drop"},
    "opening.latch": {"kind": "pin", "puller": "solenoid"},
    "trigger": {"kind": "line"},
}


def template(kinds: Iterable[str] = ()) -> str:
    """The file as text, for the named kinds of gate, latch, puller, trigger, link or closer.

    Raises ScenarioError for a word that names no kind, and for two that cannot go together.
    """
    chosen = _chosen(kinds)
    scenario = from_table(_raw(chosen), "<template>")
    classes = _classes_of(scenario)
    keys = [key for key in scenario_keys() if _belongs(key, classes)]
    lines = [f"{WORDS}{line}".rstrip() for line in HEAD.strip().splitlines()]
    for key in keys:
        lines += _lines(key, scenario)
    return "\n".join(lines) + "\n"


def _chosen(kinds: Iterable[str]) -> dict[str, dict[str, Any]]:
    """What each table with kinds says of its own: {"trigger": {"kind": "person"}}."""
    chosen: dict[str, dict[str, Any]] = {place: dict(said) for place, said in _USUAL.items()}
    stated: dict[tuple[str, str], str] = {}
    for word in kinds:
        place, said = _choice(word.casefold())
        for key, value in said.items():
            if stated.setdefault((place, key), value) != value:
                raise ScenarioError(
                    "one trap has one of each", key=place, value=word,
                    hint=f"give {value} or {stated[place, key]}, not both",
                )  # fmt: skip
        if "kind" in said and said["kind"] != chosen[place]["kind"]:
            kept = {k: v for k, v in chosen[place].items() if (place, k) in stated or k == "puller"}
            chosen[place] = kept
        chosen[place].update(said)
    return chosen


def _choice(word: str) -> tuple[str, dict[str, str]]:
    """The table that a word is about, and what it says there."""
    known: list[str] = []
    for place, classes in _FAMILIES.items():
        for cls in classes:
            said = {key: one[0] for key in CHOOSING if (one := _fixed(cls, key))}
            for key, value in said.items():
                known.append(value)
                if value == word:
                    kind = {} if key == "puller" or place == "opening.latch" else said
                    return place, {**({"kind": said["kind"]} if kind else {}), key: value}
    raise ScenarioError(
        "no kind is called so", key=word,
        hint=f"choose among {', '.join(dict.fromkeys(known))}",
    )  # fmt: skip


def _fixed(cls: Any, key: str) -> tuple[Any, ...]:
    field = cls.model_fields.get(key)
    return literals(field) if field is not None else ()


def _raw(chosen: dict[str, dict[str, Any]]) -> dict[str, Any]:
    """The least that such a file says."""
    opening: dict[str, Any] = {"width": "4 ft", "height": "3 ft", "gate": chosen["opening.gate"]}
    gate = next(
        cls for cls in GATE_CLASSES if _fixed(cls, "kind") == (chosen["opening.gate"]["kind"],)
    )
    if not gate.one_way:
        opening["latch"] = chosen["opening.latch"]
    return {
        "sounder": {"sows": 2, "juveniles": 5, "piglets": 4},
        "opening": [opening],
        "trigger": chosen["trigger"],
    }


def _classes_of(scenario: Scenario) -> dict[str, type]:
    opening = scenario.opening[0]
    found = {"opening.gate": type(opening.gate), "trigger": type(scenario.trigger)}
    return found | ({"opening.latch": type(opening.latch)} if opening.latch else {})


def _belongs(key: Key, classes: dict[str, type]) -> bool:
    """Whether a trap of these kinds has the key, and by this id."""
    if key.path.startswith("opening.latch") and "opening.latch" not in classes:
        return False
    if key.place not in classes:
        return not key.path.startswith("trigger.rule") or "person" in kinds_of(classes["trigger"])
    cls: Any = classes[key.place]
    if key.name not in cls.model_fields or key.path in ("trigger.any", "trigger.all"):
        return False
    return key_id(cls, key.name, key.place) == key.id


def _lines(key: Key, scenario: Scenario) -> Iterator[str]:
    if key.table:
        yield ""
        yield from _explained(key)
        if key.path == "other":
            yield f"{UNSET}[[other]]"
            yield f"{WORDS}sows = 1, and so on: the keys of [sounder]"
        else:
            yield (UNSET if _unset(key.path) else "") + key.table
        return
    yield from _explained(key)
    stated = look_up(scenario.raw, _at(key.path).split("."))
    if isinstance(stated, str | int | float):
        yield f"{key.name} = {_toml(stated)}"
    elif key.entry is None or _unset(key.place):
        value = key.entry.said() if key.entry and key.entry.example is None else _example(key)
        yield f"{UNSET}{key.name} = {_toml(value)}"
    else:
        yield f"{DEFAULT}{key.name} = {_toml(_default(key, key.entry, scenario))}"


_LEFT_OUT = ("sounder.varies", "other", "bait.patch", "opening.measured", "trigger.rule", "costs")
"""Tables that change the night or what is printed by being there."""


def _unset(place: str) -> bool:
    return place in _LEFT_OUT


def _explained(key: Key) -> Iterator[str]:
    told = sentence(key.means)
    if key.choices:
        told += f" One of: {', '.join(str(one) for one in key.choices)}."
    yield from textwrap.wrap(told, 80, initial_indent=WORDS, subsequent_indent=WORDS)


def _at(path: str) -> str:
    """The place in the one opening of the file."""
    return path.replace("opening.", "opening.1.", 1) if path.startswith("opening.") else path


def _default(key: Key, known: Entry, scenario: Scenario) -> Any:
    """The default as one types it; of what is relative what it comes to in this file."""
    path = _at(key.path)
    if known.example is None:
        return known.plain(known.value)
    exact = look_up(scenario.resolved(), path.split("."))
    return typed_at(scenario, path, known) if isinstance(exact, str) else exact


def _example(key: Key) -> Any:
    known = example(key.id)
    if known is None and key.entry is not None:
        known = key.entry.example
    if known is None and key.choices:
        known = key.choices[0]
    if known is None and hasattr(key.spec, "example"):
        known = key.spec.example  # type: ignore[union-attr]
    if known is None and key.dimension:
        known = DIMENSIONS[key.dimension].example
    return 1 if known is None else known


def _toml(value: Any) -> str:
    """A value as TOML writes it; JSON writes text, numbers, lists and true the same way."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {_toml(item)}" for key, item in value.items()) + "}"
    return json.dumps(value, ensure_ascii=False)
