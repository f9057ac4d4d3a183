"""Dotted paths into a scenario: `opening.width`, `opening.2.gate.mass`, `entry.clock.median`.

On a list of tables a path means every entry, or one by number, counted from 1. Where a table has
a kind (a gate, a latch, a trigger), the kind may stand in the path and narrows it to the tables of
that kind: `opening.gate.drop.friction`, `trigger.line.height`, `opening.latch.solenoid.pull`. So
every id of the register is a path.
"""

from __future__ import annotations

import copy
import typing
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any

from soundergate.scenario.distributions import Duration
from soundergate.scenario.errors import Problem, ScenarioError
from soundergate.scenario.gates.choice import GATE_CLASSES, gate_class
from soundergate.scenario.latches.choice import LATCH_CLASSES, latch_class
from soundergate.scenario.register import default, form_of, register, registered_id, scatter_id
from soundergate.scenario.schema import Scenario
from soundergate.scenario.spread_fields import FIXED
from soundergate.scenario.toml_table import Table
from soundergate.scenario.triggers.choice import SINGLE_CLASSES, trigger_class

CHOOSING = ("kind", "closer", "hinge", "puller", "link")
"""Keys whose value makes a kind of table."""


@dataclass(frozen=True)
class _Family:
    """Tables of several kinds: how one as written is told, and the kinds that there are."""

    name: str
    choose: Callable[[dict[str, Any]], type[Table]]
    classes: tuple[type[Table], ...]

    @cached_property
    def words(self) -> set[str]:
        return {word for cls in self.classes for word in kinds_of(cls)}


@cache
def kinds_of(cls: type[Table]) -> frozenset[str]:
    """The words by which a path may name tables of this class: "drop", "solenoid", "modem"."""
    fields = [cls.model_fields[key] for key in CHOOSING if key in cls.model_fields]
    words = {
        word
        for field in fields
        if typing.get_origin(field.annotation) is typing.Literal
        for word in typing.get_args(field.annotation)
    }
    return frozenset(words | {cls.family} - {""})


_TRIGGER = _Family("trigger", trigger_class, SINGLE_CLASSES)
_FAMILIES = {
    "gate": _Family("gate", gate_class, GATE_CLASSES),
    "latch": _Family("latch", latch_class, LATCH_CLASSES),
    "trigger": _TRIGGER,
    "any": _TRIGGER,
    "all": _TRIGGER,
}


def put(raw: dict[str, Any], path: str, value: Any, source: str = "") -> None:
    """Set `value` at `path` in `raw` (in place), a valid scenario as written, named `source`.

    Raises ScenarioError when the path leads through something that is no table or list, to a list
    entry that is not there, or to a kind that the scenario has none of. Unknown keys are left to
    the validation that follows.
    """
    parts = path.split(".")
    if not all(parts):
        raise ScenarioError(
            "not a dotted path",
            file=source,
            key=path or "(empty path)",
            hint="such as opening.width or trigger.height",
        )
    way = _Way(path, value, source)
    way.put(raw, Scenario, None, parts)
    if way.passed_by and not way.arrived:
        raise way.no_such_kind()


class _Way:
    """One path on its way to the places that it means."""

    def __init__(self, path: str, value: Any, source: str) -> None:
        self.path, self.value, self.source = path, value, source
        self.arrived = False
        self.passed_by: dict[str, set[str]] = {}  # kinds met instead, by family and kind wanted
        self.met: set[str] = set()  # family and kind wanted, and there

    def put(
        self, node: Any, cls: type[Table] | None, family: _Family | None, parts: list[str]
    ) -> None:
        """Follow `parts` from `node`, a table of class `cls` (or list of such) as written."""
        if isinstance(node, list):
            self._put_in_list(node, cls, family, parts)
        elif not isinstance(node, dict):
            raise self._error(
                f"this path leads nowhere: nothing is called {parts[0]!r} there",
                "name a key that the file could have",
            )
        else:
            self._put_in_table(node, cls, family, parts)

    def _put_in_table(
        self, node: dict[str, Any], cls: type[Table] | None, family: _Family | None,
        parts: list[str],
    ) -> None:  # fmt: skip
        head, rest = parts[0], parts[1:]
        if family is not None:
            cls = _chosen(family, node)
            if rest and head in family.words:
                self._narrow(node, cls, family, head, rest)
                return
        if not rest:
            node[head] = copy.deepcopy(self.value)
            self.arrived = True
            return
        field = None if cls is None else cls.model_fields.get(head)
        like = None if field is None else scatter_id(field)
        if like is not None:
            self._put_parameter(node, head, like, rest)
            return
        if head not in node:
            node[head] = _left_out(field)
        if _is_duration(field) and isinstance(node[head], str):
            node[head] = {"median": node[head]}
        self.put(node[head], _table_class(cls, head), _FAMILIES.get(head), rest)

    def _put_parameter(self, node: dict[str, Any], key: str, like: str, rest: list[str]) -> None:
        """Set one parameter of a quantity that varies, beside what is said of it already."""
        how, said, parameter = form_of(like), node.get(key, {}), rest[0]
        if len(rest) > 1:
            raise self._error(f"this path leads nowhere: nothing is called {rest[1]!r} there")
        table = dict(said) if isinstance(said, dict) else {how.key: said}
        if FIXED in table and parameter == how.key:
            parameter = FIXED  # its middle moves, and it still does not vary
        if parameter == FIXED:
            table = {}
        elif FIXED in table:
            table = {how.key: table[FIXED]}
        node[key] = {**table, parameter: copy.deepcopy(self.value)}
        self.arrived = True

    def _narrow(
        self, node: dict[str, Any], cls: type[Table] | None, family: _Family, kind: str,
        rest: list[str],
    ) -> None:  # fmt: skip
        """Go on only if the table is of a kind; a trigger of several goes on in its parts."""
        wanted = f"{family.name} of kind {kind!r}"
        several = [key for key in ("any", "all") if isinstance(node.get(key), list)]
        if family is _TRIGGER and several:
            for part in node[several[0]]:
                self._narrow(part, _chosen(family, part), family, kind, rest)
        elif cls is not None and kind in kinds_of(cls):
            self.met.add(wanted)
            self.put(node, cls, family, rest)
        else:
            known = () if cls is None else kinds_of(cls)
            self.passed_by.setdefault(wanted, set()).update(known)

    def _put_in_list(
        self, items: list[Any], cls: type[Table] | None, family: _Family | None, parts: list[str]
    ) -> None:
        head, rest = parts[0], parts[1:]
        if not head.isdecimal():
            if not items:
                raise self._error("this path leads nowhere: the list there is empty")
            latched = [item for item in items if head != "latch" or not _one_way(item)]
            for item in latched or items:
                self.put(item, cls, family, parts)
            return
        number = int(head)
        if not 1 <= number <= len(items):
            raise self._error(
                f"there is no entry {head}: the list has {len(items)}, counted from 1"
            )
        if rest:
            self.put(items[number - 1], cls, family, rest)
        else:
            items[number - 1] = copy.deepcopy(self.value)
            self.arrived = True

    def no_such_kind(self) -> ScenarioError:
        wanted = [one for one in self.passed_by if one not in self.met][-1]
        kinds = ", ".join(sorted(self.passed_by[wanted]))
        return self._error(f"this scenario has no {wanted}", f"what it has: {kinds or 'nothing'}")

    def _error(self, problem: str, hint: str | None = None) -> ScenarioError:
        return ScenarioError(problem, file=self.source, key=self.path, hint=hint)


def _chosen(family: _Family, node: Any) -> type[Table] | None:
    """The class that a table as written calls for; None while it calls for none."""
    try:
        return family.choose(node) if isinstance(node, dict) else None
    except Problem:
        return None


@cache
def _table_class(cls: type[Table] | None, name: str) -> type[Table] | None:
    """The class of the table, or of the tables of the list, that a field holds; None if neither."""
    field = None if cls is None else cls.model_fields.get(name)
    found = [] if field is None else list(table_classes(field.annotation))
    return found[0] if len(found) == 1 else None


def table_classes(annotation: Any) -> Iterable[type[Table]]:
    if isinstance(annotation, type) and issubclass(annotation, Table):
        yield annotation
    for part in typing.get_args(annotation):
        yield from table_classes(part)


def _left_out(field: Any) -> Any:
    """What stands for a table or list that the file leaves out: nothing said, or the default."""
    known = None if field is None else registered_id(field)
    if known is not None and known in register():
        # A copy: what a path sets must never reach the register itself.
        return {} if scatter_id(field) else copy.deepcopy(default(known))
    lists = field is not None and any(
        typing.get_origin(part) is tuple
        for part in (field.annotation, *typing.get_args(field.annotation))
    )
    return [] if lists else {}


def _is_duration(field: Any) -> bool:
    return field is not None and Duration in (field.annotation, *typing.get_args(field.annotation))


def _one_way(item: Any) -> bool:
    """Whether an opening as written has a gate that animals push open, and so no latch."""
    gate = _chosen(_FAMILIES["gate"], item.get("gate") if isinstance(item, dict) else None)
    return bool(getattr(gate, "one_way", False))
