"""The column store: order and types, exact round trip, deterministic bytes, identities."""

import gzip
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.identities import check_identities
from soundergate.engine.outcomes import COLUMNS, Outcomes

HEADER = (
    "night,group_size,arrived,released,release_s,inside_at_release,caught,escaped_before,"
    "escaped_during,escaped_after,never_entered,educated,struck,strike_energy_j,whole_group,"
    "operator_min,night_s"
)


def three_nights() -> Outcomes:
    """A whole group caught, a failed release, a night when nothing pulled the latch."""
    nan = math.nan
    return Outcomes.from_columns(
        {
            "night": [0, 1, 2],
            "group_size": [4, 4, 4],
            "arrived": [4, 3, 0],
            "released": [True, False, False],
            "release_s": [0.1 + 0.2, 1e-17, nan],
            "inside_at_release": [4, 2, 0],
            "caught": [4, 0, 0],
            "escaped_before": [0, 1, 0],
            "escaped_during": [0, 0, 0],
            "escaped_after": [0, 2, 0],
            "never_entered": [0, 1, 4],
            "educated": [0, 3, 0],
            "struck": [0, 0, 0],
            "strike_energy_j": [0.0, nan, nan],
            "whole_group": [True, False, False],
            "operator_min": [0.0, 0.0, 0.0],
            "night_s": [36000.0, 36000.0, 36000.0],
        }
    )


def test_columns_are_the_stated_ones_in_order():
    assert ",".join(name for name, _ in COLUMNS) == HEADER
    outcomes = three_nights()
    assert list(outcomes) == HEADER.split(",")
    for name, kind in COLUMNS:
        assert outcomes[name].dtype == np.dtype(kind)
    assert len(outcomes) == 3


def test_empty_has_types_and_unset_floats():
    empty = Outcomes.empty(5)
    assert len(empty) == 5
    assert np.isnan(empty["release_s"]).all()
    assert not empty["released"].any()
    assert len(Outcomes.empty(0)) == 0
    with pytest.raises(ValueError, match="-1"):
        Outcomes.empty(-1)


def test_failed_release_is_a_pulled_latch_and_no_closed_gate():
    assert three_nights().failed_release.tolist() == [False, True, False]


def test_text_of_the_file(tmp_path):
    path = tmp_path / "nights.csv.gz"
    three_nights().write_csv(path)
    lines = gzip.decompress(path.read_bytes()).decode().splitlines()
    assert lines[0] == HEADER
    assert lines[1] == "0,4,4,1,0.30000000000000004,4,4,0,0,0,0,0,0,0.0,1,0.0,36000.0"
    assert lines[2] == "1,4,3,0,1e-17,2,0,1,0,2,1,3,0,,0,0.0,36000.0"
    assert lines[3] == "2,4,0,0,,0,0,0,0,0,4,0,0,,0,0.0,36000.0"


def test_same_nights_give_same_bytes_under_any_name(tmp_path):
    three_nights().write_csv(tmp_path / "a.csv.gz")
    three_nights().write_csv(tmp_path / "b.csv.gz")
    assert (tmp_path / "a.csv.gz").read_bytes() == (tmp_path / "b.csv.gz").read_bytes()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.csv.gz", "b.csv.gz"]
    head = (tmp_path / "a.csv.gz").read_bytes()[:10]
    assert head[3] == 0  # RFC 1952: no flags, so no file name
    assert head[4:8] == bytes(4)  # RFC 1952: no time


floats = st.floats(min_value=0, allow_nan=False, allow_infinity=True) | st.just(math.nan)
wholes = st.integers(min_value=-(2**63), max_value=2**63 - 1)


@settings(max_examples=40, deadline=None)
@given(st.data(), st.integers(min_value=0, max_value=6))
def test_round_trip_is_exact(tmp_path_factory, data, n):
    cells = {"i8": wholes, "f8": floats, "?": st.booleans()}
    outcomes = Outcomes.from_columns(
        {
            name: np.array(data.draw(st.lists(cells[k], min_size=n, max_size=n)), dtype=k)
            for name, k in COLUMNS
        }
    )
    path = tmp_path_factory.mktemp("trip") / "n.csv.gz"
    outcomes.write_csv(path)
    back = Outcomes.read_csv(path)
    assert back == outcomes
    assert all(back[name].dtype == np.dtype(kind) for name, kind in COLUMNS)


def test_blocks_join_in_order(tmp_path, monkeypatch):
    whole = Outcomes.concatenate([three_nights(), three_nights(), three_nights()])
    whole.write_csv(tmp_path / "one.csv.gz")
    monkeypatch.setattr("soundergate.engine.outcomes._WRITE_BLOCK", 2)
    whole.write_csv(tmp_path / "many.csv.gz")
    assert (tmp_path / "one.csv.gz").read_bytes() == (tmp_path / "many.csv.gz").read_bytes()


def test_concatenate_rows_and_equality():
    a = three_nights()
    both = Outcomes.concatenate([a, a])
    assert len(both) == 6
    assert both.rows(3, 6) == a
    assert len(Outcomes.concatenate([])) == 0
    changed = Outcomes.concatenate([a])
    changed["caught"][1] = 1
    assert changed != a
    assert a.frame()["caught"].tolist() == [4, 0, 0]
    assert list(a.frame().columns) == HEADER.split(",")


def test_from_columns_refuses_what_it_cannot_keep():
    good = dict(three_nights())
    with pytest.raises(ValueError, match="caught"):
        Outcomes.from_columns({**good, "caught": [1.5, 0, 0]})
    with pytest.raises(ValueError, match="released"):
        Outcomes.from_columns({**good, "released": [2, 0, 0]})
    with pytest.raises(ValueError, match="length"):
        Outcomes.from_columns({**good, "struck": [0, 0]})
    with pytest.raises(ValueError, match="weight"):
        Outcomes.from_columns({**good, "weight": [0, 0, 0]})
    del good["night_s"]
    with pytest.raises(ValueError, match="night_s"):
        Outcomes.from_columns(good)


@pytest.mark.parametrize(
    ("column", "value", "rule"),
    [
        ("caught", 3, "add up"),
        ("whole_group", False, "whole_group"),
        ("release_s", math.nan, "release time"),
        ("arrived", 5, "at most group_size"),
        ("arrived", 3, "did not arrive"),
        ("inside_at_release", 5, "inside_at_release"),
        ("struck", -1, "not negative"),
        ("educated", 5, "educated"),
        ("night_s", -1.0, "not negative"),
    ],
)
def test_identities_catch_a_changed_cell(column, value, rule):
    check_identities(three_nights())
    broken = three_nights()
    broken[column][0] = value
    with pytest.raises(AssertionError, match=rule):
        check_identities(broken)


def test_read_csv_names_the_file_and_the_fault(tmp_path):
    plain = tmp_path / "plain.csv"
    plain.write_text(HEADER + "\n")
    with pytest.raises(ValueError, match=r"plain\.csv"):
        Outcomes.read_csv(plain)
    with gzip.open(tmp_path / "other.csv.gz", "wt") as out:
        out.write("night,caught\n0,1\n")
    with pytest.raises(ValueError, match="columns are"):
        Outcomes.read_csv(tmp_path / "other.csv.gz")
    for cell, match in (("x", "whole number"), ("", "whole number"), ("1.5", "whole number")):
        with gzip.open(tmp_path / "bad.csv.gz", "wt") as out:
            out.write(f"{HEADER}\n{cell},4,4,1,0.3,4,4,0,0,0,0,0,0,0.0,1,0.0,1.0\n")
        with pytest.raises(ValueError, match=match):
            Outcomes.read_csv(tmp_path / "bad.csv.gz")
    with gzip.open(tmp_path / "flag.csv.gz", "wt") as out:
        out.write(f"{HEADER}\n0,4,4,2,0.3,4,4,0,0,0,0,0,0,0.0,1,0.0,1.0\n")
    with pytest.raises(ValueError, match="0 and 1"):
        Outcomes.read_csv(tmp_path / "flag.csv.gz")
    with pytest.raises(FileNotFoundError):
        Outcomes.read_csv(tmp_path / "absent.csv.gz")
