"""The structure of all input is tried at random: 20,000 cases of fixed seeds.

Scenario files, study files, weeks and prices, `--vary` texts, dotted paths, records of runs and
stores: keys dropped, renamed and doubled, values of another type or size, kinds put together. Each
is refused in one clear message or played without a fault (`fuzz_check`). A case that fails is shown
with its seed and its text; `python tests/fuzz/again.py SEED` plays it again.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from fuzz_cases import KINDS, TEMPERS, case
from fuzz_check import PLAYED, verdict
from fuzz_schema import places, schema
from fuzz_watch import watched

CASES, PARTS = 20_000, 20
PART = CASES // PARTS
PLAYED_OF_A_PART = 170
"""Cases of each part that are played at the least, in order that not only refusals are tried."""


def came_of(seed: int) -> str:
    """What came of a case; fails with its seed and its text."""
    made = case(seed)
    try:
        with watched(made):
            return verdict(made)
    except Exception as error:
        raise AssertionError(f"{type(error).__name__}: {error}\n{made}") from error


@pytest.mark.slow
@pytest.mark.parametrize("part", range(PARTS))
def test_whatever_stands_in_a_file_is_refused_or_played(part: int) -> None:
    came = Counter(came_of(seed) for seed in range(part * PART, (part + 1) * PART))
    assert came[PLAYED] >= PLAYED_OF_A_PART, came


def test_a_few_of_each_kind_and_of_each_temper() -> None:
    """Of all that is tried, every kind in a temper and every temper of scenario files."""
    tempers = [*TEMPERS] * 2
    missing = {(kind, temper) for i, kind in enumerate(KINDS) for temper in tempers[i : i + 1]}
    missing |= {("scenario", temper) for temper in TEMPERS}
    for seed in range(CASES, CASES + 20_000):
        made = case(seed)
        if (made.kind, made.temper) in missing:
            missing.remove((made.kind, made.temper))
            came_of(seed)
        if not missing:
            return
    pytest.fail(f"never made: {missing}")


def test_a_case_is_the_same_every_time() -> None:
    assert [str(case(seed)) for seed in range(60)] == [str(case(seed)) for seed in range(60)]


def test_every_section_of_the_schema_is_within_reach() -> None:
    """What a file may hold is read from the schema: no key is left out for being new."""
    reached = {path[0] for path, _ in places(schema(), {})}
    assert reached == set(schema()["properties"])
    assert len(reached) > 15


def test_a_fault_is_shown_with_its_seed_and_its_text(monkeypatch: pytest.MonkeyPatch) -> None:
    """A guard taken out of the package is noticed, and the case can be played again."""
    seed = next(s for s in range(2000) if case(s).kind == "scenario" and came_of(s) == PLAYED)
    monkeypatch.setattr("fuzz_check.build", lambda *_: 1 / 0)
    with pytest.raises(AssertionError, match=rf"ZeroDivisionError(.|\n)*seed {seed}(.|\n)*opening"):
        came_of(seed)
