"""Names that would be formulas in a spreadsheet, or turn the direction of writing.

A formula in a CSV cell is CWE-1236 (MITRE, Common Weakness Enumeration); characters that turn the
direction of writing are those of the property Bidi_Control (Unicode Character Database).
"""

from __future__ import annotations

import csv
import io
import unicodedata
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from soundergate.engine.trace.one_night import trace_night
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import with_values
from soundergate.seasons.record import write_season
from soundergate.seasons.season import season
from soundergate.studies.arms import Arm
from soundergate.studies.cells import FORMULA_SIGNS, cell, safe_frame, shown
from soundergate.studies.compare import compare
from soundergate.studies.record import write_comparison, write_run
from soundergate.studies.worlds.robust import robust

FORMULAS = ["=1+1", "+1+1", "-1+1", "@SUM(A1)", '=HYPERLINK("x")', "＝1+1", " =1+1"]
TURNING = [chr(n) for n in range(0x110000) if unicodedata.bidirectional(chr(n)) in
           ("LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI")]  # fmt: skip
BASE = {
    "title": "Invented: names",
    "sounder": {"sows": 1, "juveniles": 2},
    "opening": [
        {
            "width": "4 ft",
            "height": "3 ft",
            "gate": {"kind": "drop", "sheet": "14 gauge"},
            "latch": {"kind": "pin", "puller": "animal", "lever": 4},
        }
    ],
    "trigger": {"kind": "line"},
}


def is_text(value: str) -> bool:
    """Whether a spreadsheet takes the cell for text or a number, and computes nothing."""
    try:
        float(value)
        return True
    except ValueError:
        return not value.lstrip(" ").startswith(FORMULA_SIGNS)


def formulas_of(path: Path) -> list[str]:
    with path.open(encoding="utf-8", newline="") as file:
        return [value for row in csv.reader(file) for value in row if not is_text(value)]


@pytest.mark.parametrize("text", [*FORMULAS, "\t=1", "\r=1", "\n=1"])
def test_a_formula_becomes_text(text: str) -> None:
    assert not is_text(text)
    assert cell(text) == "'" + text
    assert is_text(str(cell(text)))


@pytest.mark.parametrize(
    "value", ["4 ft", "a-b", "", "x=3", "−3", -3, -0.5, None, True, np.int64(-2)]
)
def test_all_else_stays(value: object) -> None:
    assert cell(value) is value


def test_a_frame_is_made_safe_throughout() -> None:
    table = pd.DataFrame({"=a": ["-b", "c"], "n": [-1, 2], "x": [-0.5, np.nan]}, index=["=i", "j"])
    table.index.name = "which"
    lines = safe_frame(table).to_csv(lineterminator="\n")
    assert lines == "which,'=a,n,x\n'=i,'-b,-1,-0.5\nj,c,2,\n"
    assert list(table.index) == ["=i", "j"]


@pytest.fixture(scope="module")
def arms(scenario_of) -> list[Arm]:
    trap = scenario_of(BASE)
    taller = with_values(trap, {"trigger.height": "10 in"})
    return [Arm(FORMULAS[0], trap), Arm(FORMULAS[3], taller), Arm(FORMULAS[2], trap)]


def test_no_file_of_a_comparison_holds_a_formula(arms, tmp_path: Path) -> None:
    found = compare(arms, nights=20)
    files = write_comparison(tmp_path, found)
    worlds = robust(arms[:2], 20, 20, only=["entry"])
    for name in ("differences", "worlds", "unknowns"):
        files.append(tmp_path / f"robust_{name}.csv")
        getattr(worlds, f"to_{name}_csv")(files[-1])
    tables = [path for path in files if path.suffix == ".csv"]
    assert len(tables) == 5
    for path in tables:
        assert formulas_of(path) == [], path.name
        quoted = path.read_text(encoding="utf-8").count("'=1+1")
        assert quoted > 0 or path.name == "robust_unknowns.csv"


def test_no_file_of_a_run_a_season_or_a_night_does(scenario_of, tmp_path: Path) -> None:
    trap = scenario_of(BASE, title="=1+1", campaign={"set_nights": 2})
    result = season(trap, campaigns=30)
    hostile = replace(result, setups=[replace(one, name="=1+1") for one in result.setups])
    files = write_season(tmp_path, hostile, "batch")
    run = compare([Arm("a", trap), Arm("b", trap)], nights=20).arms[0].result
    files += write_run(tmp_path / "run", run)
    trace = trace_night(trap, 1, 0)
    files.append(tmp_path / "events.csv")
    safe_frame(trace.table).to_csv(files[-1])
    tables = [path for path in files if path.suffix == ".csv"]
    assert len(tables) == 4
    for path in tables:
        assert formulas_of(path) == [], path.name
    assert "'=1+1" in (tmp_path / "campaigns.csv").read_text(encoding="utf-8")
    assert "'=1+1" in (tmp_path / "summary.csv").read_text(encoding="utf-8")


def test_nor_does_the_table_of_sources() -> None:
    from soundergate.commands.listing import _csv
    from soundergate.scenario.register import register

    text = _csv([*register().values()])
    assert [v for row in csv.reader(io.StringIO(text)) for v in row if not is_text(v)] == []


def writers() -> set[str]:
    """Modules of the package that write CSV."""
    package = Path(__file__).parents[2] / "sim" / "soundergate"
    marks = ("csv.writer", "csv.DictWriter", ".to_csv(")
    return {
        str(path.relative_to(package))
        for path in package.rglob("*.py")
        if any(mark in path.read_text(encoding="utf-8") for mark in marks)
    }


def test_every_module_that_writes_csv_is_known_here() -> None:
    """One that is added belongs into a test above. Nights are written as numbers alone."""
    assert writers() == {
        "commands/listing.py",
        "commands/outputs.py",
        "seasons/record.py",
        "studies/cells.py",
    }


@pytest.mark.parametrize("sign", [*TURNING, "\u061c", "\u200e", "\u200f"])
def test_what_turns_the_direction_of_writing_is_refused(scenario_of, sign: str) -> None:
    with pytest.raises(ScenarioError, match=r"title.*turns the direction of writing \(U\+"):
        scenario_of(BASE, title=f"Invented{sign} trap")
    with pytest.raises(ScenarioError, match="turns the direction of writing"):
        scenario_of(BASE, costs={"currency": f"US{sign}D"})
    trap = scenario_of(BASE)
    with pytest.raises(ScenarioError, match=r"its name.*turns the direction"):
        compare([Arm("a", trap), Arm(f"b{sign}", trap)], nights=20)


def test_letters_of_any_script_are_welcome(scenario_of) -> None:
    for title in ("فخ الخنازير", "מלכודת", "野猪の罠", "Wildschweinfang – Größe", "ज़मीन\u200dक"):
        assert scenario_of(BASE, title=title).title == title


def test_a_file_name_is_shown_without_what_turns_it() -> None:
    assert shown("trap\u202egnp.toml") == "trap�gnp.toml"
    assert shown("a\nb") == "a�b"
    assert shown("\udcff.toml") == "�.toml"
    assert shown("größe 2.toml") == "größe 2.toml"
