"""What a run leaves on disk: complete, strict JSON, the same bytes every time."""

import dataclasses
import json
import math

import numpy as np
import pytest

from soundergate.engine.outcomes import Outcomes
from soundergate.studies.estimate import run
from soundergate.studies.record import _stems, plain, versions, write_json, write_run


def test_run_leaves_nights_summary_and_record(made_up_engine, scenario_file, tmp_path):
    r = run(scenario_file, nights=120, seed=3)
    written = write_run(tmp_path / "a", r, {"engine": "batch"})
    assert [p.name for p in written] == ["nights.csv.gz", "summary.csv", "run.json"]
    record = json.loads(written[2].read_text())
    assert (record["seed"], record["nights"], record["engine"]) == (3, 120, "batch")
    assert record["caught"] == r["caught"].to_json()
    assert record["scenario"]["as_written"]["sounder"]["sows"] == 2
    assert record["scenario"]["resolved"]["sounder"]["juveniles"] == 4
    assert Outcomes.read_csv(written[0]) == r.outcomes
    again = write_run(tmp_path / "b", run(scenario_file, nights=120, seed=3), {"engine": "batch"})
    assert [p.read_bytes() for p in again] == [p.read_bytes() for p in written]


def test_nights_that_were_not_kept_are_not_written(made_up_engine, scenario_file, tmp_path):
    r = run(scenario_file, nights=50, keep_outcomes=False)
    assert [p.name for p in write_run(tmp_path, r)] == ["summary.csv", "run.json"]


def test_versions_name_python_and_packages():
    found = versions()
    assert found["numpy"] == np.__version__
    assert found["python"].startswith("3.")


def test_plain_is_strict_json():
    given = {"d": (np.int64(3), np.True_), 4: None, "e": {"f": np.float64(0.5)}, "g": "inf"}
    assert plain(given) == {"d": [3, True], "4": None, "e": {"f": 0.5}, "g": "inf"}
    json.dumps(plain(given), allow_nan=False)


@dataclasses.dataclass
class Held:
    value: object


@pytest.mark.parametrize("none", [math.nan, math.inf, -math.inf])
def test_a_number_that_json_has_not_is_null_wherever_it_stands(none, tmp_path):
    """And no text that looks like one: whoever reads a number gets a number or nothing."""
    kinds = [none, np.float64(none), np.float32(none)]
    given = {"bare": kinds, "deep": {"a": ({"b": kinds},)}, "held": Held(Held(none))}
    told = {"bare": [None] * 3, "deep": {"a": [{"b": [None] * 3}]}}
    told["held"] = {"value": {"value": None}}
    assert plain(given) == told
    assert json.loads(write_json(tmp_path / "x.json", given).read_text()) == told


@pytest.mark.parametrize(
    ("names", "stems"),
    [
        (["opening.width=4 ft", "Wide!"], ["opening.width-4-ft", "wide"]),
        (["a b", "a-b", "A B"], ["a-b", "a-b-2", "a-b-3"]),
        (["../../etc", "äöü"], ["etc", "arm"]),
    ],
)
def test_file_names_of_arms_are_plain_and_differ(names, stems):
    assert _stems(names) == stems
