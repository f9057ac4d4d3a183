"""Commands that print what the package knows: `example`, `sources`, `schema`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from soundergate.commands import console
from soundergate.report.tables.table import Table

if TYPE_CHECKING:
    from soundergate.scenario.register import Entry
    from soundergate.scenario.schema import Scenario


def example(name: str | None, as_json: bool) -> None:
    """The TOML of an example, or the list of them."""
    from soundergate.scenario import examples

    if name is not None:
        console.print_text(examples.text(name))
        return
    catalogue = examples.catalogue()
    if as_json:
        console.print_json(catalogue)
        return
    rows = [[item["name"], item["title"], item["shows"]] for item in catalogue]
    console.print_table(Table("", ["name", "title", "shows"], rows))
    console.tell("Write one to a file with: soundergate example NAME > trap.toml")


def sources(
    file: Path | None,
    as_json: bool = False,
    as_csv: bool = False,
    ids: Sequence[str] = (),
    origins: Sequence[str] = (),
) -> None:
    """Every default with its origin, or those that a scenario file rests on.

    ``ids`` keeps those whose id begins so, ``origins`` those of these origins.
    Every line says what can be typed at its id: of a scenario, the value that it has.
    Of a scenario the masses of classes of which it has none are left out, and what counts for
    campaigns alone is said to. Raises ScenarioError for an origin that there is none of, or when
    nothing is left.
    """
    lines = _kept(_lines(file), ids, origins)
    if as_json:
        console.print_json([line.as_dict() for line in lines])
        return
    if as_csv:
        console.print_text(_csv(lines))
        return
    from soundergate.report.contents import source_of

    rows = []
    for line in lines:
        row = source_of(line.key, line.entry)
        why = " ".join(
            part for part in (row.note, f"[{row.citation}]" * bool(row.citation)) if part
        )
        of = f" × {line.entry.of}" if line.entry.of and row.range else ""
        rows.append([row.name, line.told, row.range + of, row.origin, why])
    columns = ["id", "value", "plausible range", "origin", "note [citation]"]
    console.print_table(Table("", columns, rows, unbroken=frozenset({0})))
    if file is not None and any(line.of_campaigns for line in lines):
        console.tell(_OF_CAMPAIGNS)


_OF_CAMPAIGNS = (
    "What begins with campaign, costs or population counts for `season` alone: `run` and `compare` "
    "play single nights, and draw none of it."
)
_DIGITS = 6
"""Digits of a length in the table; JSON and CSV have all of them."""


@dataclass(frozen=True)
class _Line:
    """A default as it is listed: what can be typed at `key` is `write`.

    `key` is the entry's id, or a place in the scenario where the default comes to another value
    at each of several. `here` is that value rounded for a reader, "" where no scenario is asked.
    """

    key: str
    entry: Entry
    write: str
    here: str = ""

    @property
    def told(self) -> str:
        """The value as it can be typed, and what it is a multiple of."""
        known = self.entry
        if known.example is None:
            return self.write + (f" (times {known.of})" if known.of else "")
        multiple = f"{known.value:g} × {known.of}"
        if self.here:
            return f"{self.here} ({multiple})"
        return f"{multiple}; write {_kind(known.example)}, such as {self.write}"

    @property
    def of_campaigns(self) -> bool:
        """Whether no single night reads it."""
        from soundergate.studies.worlds.inputs import NO_NIGHT

        return self.entry.id.split(".")[0] in NO_NIGHT

    def as_dict(self) -> dict[str, Any]:
        return self.entry.as_dict() | {"id": self.key, "write": self.write}


def _kind(example: Any) -> str:
    if not isinstance(example, str):
        return "a number"
    return "an angle" if example.endswith("deg") else "a length"


def _lines(file: Path | None) -> list[_Line]:
    from soundergate.scenario.register import register

    if file is None:
        return [_Line(one.id, one, one.write) for one in register().values()]
    from soundergate.scenario.assumptions import defaults_used, typed_at
    from soundergate.scenario.loading import load

    scenario = load(file)
    places: dict[str, list[_Line]] = {}
    for path, known in defaults_used(scenario):
        if _of_nobody(scenario, path):
            continue
        exact = typed_at(scenario, path, known)
        line = _Line(path, known, exact, typed_at(scenario, path, known, _DIGITS))
        places.setdefault(known.id, []).append(line)
    lines: list[_Line] = []
    for name, those in places.items():
        alike = len({line.write for line in those}) == 1
        lines += [replace(those[0], key=name)] if alike else those
    return lines


def _of_nobody(scenario: Scenario, path: str) -> bool:
    """Whether this is the mass of a class of which its sounder has none: "other.1.mass.boar"."""
    from soundergate.mechanics.clearance import CLASSES

    where, found, name = path.partition(".mass.")
    if not found:
        return False
    sounder = scenario.other[int(where.split(".")[1]) - 1] if "." in where else scenario.sounder
    return getattr(sounder, CLASSES[name.split(".")[0]]) == 0


def _kept(lines: list[_Line], ids: Sequence[str], origins: Sequence[str]) -> list[_Line]:
    from soundergate.scenario.errors import ScenarioError
    from soundergate.scenario.register import ORIGINS

    for origin in origins:
        if origin not in ORIGINS:
            known = ", ".join(ORIGINS)
            raise ScenarioError(
                "no such origin", key="--origin", value=origin, hint=f"choose from {known}"
            )
    kept = [
        line
        for line in lines
        if (not ids or line.entry.id.startswith(tuple(ids)))
        and (not origins or line.entry.origin in origins)
    ]
    if not kept:
        raise ScenarioError(
            "no default is left", hint="`soundergate sources` without filters lists them all"
        )
    return kept


def _csv(lines: Sequence[_Line]) -> str:
    """One row a default; lists as JSON, an absent bound as an empty field."""
    import csv
    import io
    import json

    from soundergate.studies.cells import cell

    out = io.StringIO()
    rows = [line.as_dict() for line in lines]
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    for row in rows:
        cells = {
            k: json.dumps(v) if isinstance(v, list | bool) else cell(v) for k, v in row.items()
        }
        writer.writerow(cells)
    return out.getvalue()


def schema() -> None:
    """The JSON Schema of a scenario file."""
    from soundergate.scenario.json_schema import json_schema

    console.print_json(json_schema())
