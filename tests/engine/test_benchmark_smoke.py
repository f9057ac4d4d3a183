"""The engine benchmark runs, and the engine plays exactly the events that were counted."""

from __future__ import annotations

import importlib
import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest

from shared.processes import python

FOLDER = Path(__file__).parents[2] / "experiments" / "benchmarks" / "engine"


def run_bench(*arguments: str) -> subprocess.CompletedProcess[str]:
    return python(str(FOLDER / "bench.py"), *arguments)


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> dict:
    """What a quick run of the parts that take seconds wrote."""
    file = tmp_path_factory.mktemp("bench") / "rows.json"
    done = run_bench("--quick", "--only", "kernel", "reference", "packages", "--json", str(file))
    assert done.returncode == 0, done.stderr
    return json.loads(file.read_text(encoding="utf-8"))


@pytest.mark.slow
def test_the_events_are_exactly_those_that_were_counted(measured: dict) -> None:
    assert measured["events"] == json.loads((FOLDER / "events.json").read_text(encoding="utf-8"))
    assert min(measured["events"].values()) > 1000


@pytest.mark.slow
def test_every_row_holds_a_measured_value(measured: dict) -> None:
    rows = [row for row in measured["rows"] if row["value"] is not None]
    assert all(0.0 < row["value"] < float("inf") for row in rows)
    judged = [row for row in rows if row["target"]]
    assert all(row["verdict"] in ("met", "met, aim not", "NOT MET") for row in judged)
    assert sum(row["unit"] == "kernel / floor, singly" for row in rows) == 5


@pytest.mark.slow
def test_what_is_not_installed_is_said(measured: dict) -> None:
    unmeasured = [row for row in measured["rows"] if row["value"] is None]
    assert all(row["note"].startswith("not installed (pip install ") for row in unmeasured)
    packages = [row["what"] for row in measured["rows"] if row["section"] == "packages"]
    assert any(name.startswith("SimPy ") for name in packages)
    assert any(name.startswith("salabim") for name in packages)


@pytest.fixture
def events(monkeypatch: pytest.MonkeyPatch) -> Iterator[ModuleType]:
    """The benchmark's module of that name, which is no part of any package."""
    monkeypatch.syspath_prepend(str(FOLDER))
    yield importlib.import_module("events")
    for name in ("events", "demo"):
        sys.modules.pop(name, None)


@pytest.mark.slow
def test_other_nights_are_refused(events: ModuleType) -> None:
    """A count that is one off is an error that says what to do."""
    wanted = json.loads((FOLDER / "events.json").read_text(encoding="utf-8"))
    events.check(wanted)
    with pytest.raises(events.OtherNights, match=r"counter: \d+ events, \d+ in events\.json"):
        events.check(wanted | {"counter": wanted["counter"] + 1})
    with pytest.raises(events.OtherNights, match="new night: 3 events, None"):
        events.check(wanted | {"new night": 3})
