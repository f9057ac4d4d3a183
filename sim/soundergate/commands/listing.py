"""Commands that print what the package knows: `example`, `sources`, `schema`."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from soundergate.commands import console

if TYPE_CHECKING:
    from soundergate.scenario.register import Entry


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
    console.print_table(["name", "title", "shows"], rows)
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
    Raises ScenarioError for an origin that there is none of, or when nothing is left.
    """
    entries = _kept(_entries(file), ids, origins)
    if as_json:
        console.print_json([entry.as_dict() for entry in entries])
        return
    if as_csv:
        console.print_text(_csv(entries))
        return
    from soundergate.report.page import source_of

    rows = []
    for entry in entries:
        row = source_of(entry.id, entry)
        why = " ".join(
            part for part in (row.note, f"[{row.citation}]" * bool(row.citation)) if part
        )
        rows.append([row.name, row.value, row.range, row.origin, why])
    columns = ["id", "value", "plausible range", "origin", "note [citation]"]
    console.print_table(columns, rows, unbroken=(0,))


def _entries(file: Path | None) -> list[Entry]:
    from soundergate.scenario.register import register

    if file is None:
        return list(register().values())
    from soundergate.scenario.assumptions import defaults_used
    from soundergate.scenario.loading import load

    used = {entry.id: entry for _, entry in defaults_used(load(file))}
    return list(used.values())


def _kept(entries: list[Entry], ids: Sequence[str], origins: Sequence[str]) -> list[Entry]:
    from soundergate.scenario.errors import ScenarioError
    from soundergate.scenario.register import ORIGINS

    for origin in origins:
        if origin not in ORIGINS:
            known = ", ".join(ORIGINS)
            raise ScenarioError(
                "no such origin", key="--origin", value=origin, hint=f"choose from {known}"
            )
    kept = [
        entry
        for entry in entries
        if (not ids or entry.id.startswith(tuple(ids))) and (not origins or entry.origin in origins)
    ]
    if not kept:
        raise ScenarioError(
            "no default is left", hint="`soundergate sources` without filters lists them all"
        )
    return kept


def _csv(entries: Sequence[Entry]) -> str:
    """One row a default; lists as JSON, an absent bound as an empty field."""
    import csv
    import io
    import json

    from soundergate.study.cells import cell

    out = io.StringIO()
    rows = [entry.as_dict() for entry in entries]
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
