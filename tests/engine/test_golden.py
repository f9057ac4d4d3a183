"""Nights that are kept: what the engines played when they were last changed on purpose.

The twin tests show that the two engines agree, not that they play what they played before. Whole
numbers must be equal; times and energies to 1e-12, since only nights of one machine are promised
to agree to the bit.
"""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import numpy as np
import pandas as pd
import pytest

from shared.processes import module_at
from soundergate.engine.outcomes import COLUMNS

MAKE = Path(__file__).parent / "golden" / "make.py"
TOLERANCE = 1e-12
MEASURED = [name for name, kind in COLUMNS if kind == "f8"]


@pytest.fixture(scope="module")
def golden() -> ModuleType:
    """The script that writes the table."""
    return module_at(MAKE)


def differences(kept: pd.DataFrame, played: pd.DataFrame) -> list[str]:
    """What is not as it was, one line a value."""
    keys = ["scenario", "night"]
    if list(kept.columns) != list(played.columns):
        return [f"columns {list(played.columns)}; kept were {list(kept.columns)}"]
    if not kept[keys].equals(played[keys]):
        return [f"{len(played)} nights of {sorted(set(played['scenario']))}; kept were {len(kept)}"
                f" of {sorted(set(kept['scenario']))}"]  # fmt: skip
    found = []
    for column in kept.columns.drop(keys):
        was, now = kept[column].to_numpy(float), played[column].to_numpy(float)
        tolerance = TOLERANCE if column in MEASURED else 0.0
        same = np.isclose(now, was, rtol=tolerance, atol=0.0, equal_nan=True)
        found += [
            f"{kept['scenario'][i]}, night {kept['night'][i]}: {column} {now[i]:.17g},"
            f" kept was {was[i]:.17g}"
            for i in np.flatnonzero(~same)
        ]
    return found


@pytest.mark.parametrize("engine", ["batch", "reference"])
def test_nights_are_those_that_were_kept(golden: ModuleType, engine: str) -> None:
    found = differences(golden.read(), golden.nights(engine))
    if found:
        pytest.fail(
            f"{len(found)} values of golden/nights.csv have changed ({engine} engine):\n  "
            + "\n  ".join(found[:12])
            + "\nIf the model, a default or the meaning of a draw was changed on purpose, and the"
            " twin tests pass, run\n  python tests/engine/golden/make.py\nlook at the difference"
            " and commit it with that change. Work on speed, order or structure must\nchange"
            " nothing here: if it did, it altered the nights."
        )


def test_the_kept_nights_go_many_ways(golden: ModuleType) -> None:
    """A table of nights in which nothing happens would hold nothing."""
    kept = golden.read()
    assert len(kept) >= 60
    for way in (
        "released == 1",
        "released == 0",
        "release_s == release_s and released == 0",  # pulled, and no gate closed
        "release_s != release_s",
        "whole_group == 1",
        "escaped_before > 0",
        "escaped_during > 0",
        "escaped_after > 0",
        "struck > 0 and strike_energy_j > 0",
        "operator_min > 0",
        "released == 0 and caught > 0",
        "released == 1 and educated + caught < group_size",  # shut before all were there
        "group_size == 40",
    ):
        assert len(kept.query(way)) > 0, f"no kept night where {way}"


def test_a_change_in_the_last_digits_is_let_pass_and_a_larger_one_is_not(
    golden: ModuleType,
) -> None:
    kept = golden.read()
    nudged = kept.assign(night_s=kept["night_s"] * (1.0 + 4e-13))
    assert not differences(kept, nudged)
    moved = kept.assign(night_s=kept["night_s"] * (1.0 + 4e-12))
    assert len(differences(kept, moved)) == len(kept)
    lost = kept.assign(caught=kept["caught"].where(kept.index != 5, kept["caught"] + 1))
    assert len(differences(kept, lost)) == 1
    assert differences(kept, kept.iloc[1:].reset_index(drop=True))
