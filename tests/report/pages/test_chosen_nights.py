"""Which nights are shown: typical, worst and best, against a plain reading of the rule."""

from __future__ import annotations

from collections import Counter
from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from soundergate.engine.outcomes import Outcomes
from soundergate.report.pages.chosen_nights import chosen_nights


def outcomes_of(nights: list[dict[str, Any]]) -> Outcomes:
    outcomes = Outcomes.empty(len(nights))
    outcomes["night"][:] = np.arange(len(nights)) + 40
    outcomes["group_size"][:] = 10
    for row, night in enumerate(nights):
        for name, value in night.items():
            outcomes[name][row] = value
    return outcomes


def night(caught: int, after: int = 0, released: bool = True, size: int = 10) -> dict[str, Any]:
    return {
        "group_size": size,
        "caught": caught,
        "escaped_after": after,
        "released": released,
        "release_s": 100.0 if released else np.nan,
    }


def test_no_nights_choose_nothing() -> None:
    assert chosen_nights(outcomes_of([])) == {}


def test_one_night_is_all_three() -> None:
    assert chosen_nights(outcomes_of([night(3)])) == {40: "typical, worst, best"}


def test_worst_and_best_by_share_then_escapes_then_number() -> None:
    nights = [night(5), night(0, 1), night(0, 4), night(0, 4), night(10), night(9), night(5)]
    nights.append(night(4, size=4))  # the whole of a small group is as good as of a large one
    chosen = {what: number for number, what in chosen_nights(outcomes_of(nights)).items()}
    assert chosen == {"typical": 47, "worst": 42, "best": 44}


def test_typical_is_at_the_median_and_ends_as_most_such_nights_do() -> None:
    nights = [night(0), night(5, 0, released=False), night(5, 3), night(5, 1), night(5, 1)]
    nights += [night(5, 0), night(9)]
    assert chosen_nights(outcomes_of(nights))[43] == "typical"


_NIGHTS = st.lists(
    st.builds(night, st.integers(0, 6), st.integers(0, 4), st.booleans(), st.integers(6, 10)),
    min_size=1,
    max_size=30,
)


@given(_NIGHTS)
def test_the_rule_read_plainly(nights: list[dict[str, Any]]) -> None:
    named = chosen_nights(outcomes_of(nights))
    found = {one: number - 40 for number, what in named.items() for one in what.split(", ")}
    assert next(iter(named)) - 40 == found["typical"]
    share = [n["caught"] / n["group_size"] for n in nights]
    out = [n["escaped_after"] for n in nights]
    rows = range(len(nights))
    assert found["worst"] == min(rows, key=lambda r: (share[r], -out[r], r))
    assert found["best"] == min(rows, key=lambda r: (-share[r], out[r], r))
    middle = sorted(n["caught"] for n in nights)[(len(nights) - 1) // 2]
    typical = nights[found["typical"]]
    assert typical["caught"] == middle
    ends = Counter(n["released"] for n in nights if n["caught"] == middle)
    assert ends[typical["released"]] == max(ends.values())
