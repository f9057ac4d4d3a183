"""Who comes: the order of the animals, their classes, subgroups, sounders and turns."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from soundergate.behavior.group import group_of, heads_of, size_distribution
from soundergate.scenario.sounder import Sounder, VaryingSize

heads = st.integers(0, 9)
OPENING = {"width": "4 ft", "height": "3 ft", "gate": {"kind": "drop"}}


@pytest.fixture(scope="module")
def group(scenario_of):
    """The group of these sounders."""

    def made(first: dict, *others: dict):
        table = {"sounder": first, "opening": [OPENING], "trigger": {"kind": "none"}}
        return group_of(scenario_of(table, other=list(others)) if others else scenario_of(table))

    return made


def names(group) -> list[str]:
    return [group.name_of(i) for i in range(group.size)]


def test_a_mixed_group_in_order(group) -> None:
    found = group({"sows": 2, "boars": 1, "juveniles": 2, "piglets": 1, "subgroups": 2})
    assert names(found) == ["sow", "sow", "boar", "juvenile", "juvenile", "piglet"]
    # Five besides the boar, split in order: three and two; the boar comes on its own.
    assert found.party_of == (0, 0, 2, 0, 1, 1)
    assert [found.label(i) for i in range(6)] == [
        "sow 1", "sow 2", "boar 1", "juvenile 1", "juvenile 2", "piglet 1",
    ]  # fmt: skip


def test_only_classes_that_are_there(group) -> None:
    found = group({"juveniles": 3})
    assert [kind.name for kind in found.classes] == ["juvenile"]
    assert found.party_of == (0, 0, 0)


def test_boars_alone_are_a_group_like_any_other(group) -> None:
    assert group({"boars": 4, "subgroups": 2}).party_of == (0, 0, 1, 1)


def test_each_boar_among_others_comes_by_itself(group) -> None:
    assert group({"sows": 1, "boars": 3}).party_of == (0, 1, 2, 3)


@given(heads, heads, heads, heads, st.integers(1, 6))
def test_subgroups_are_even_and_in_order(group, sows, boars, juveniles, piglets, subgroups) -> None:
    others = sows + juveniles + piglets
    if others < subgroups:
        return
    counts = {"sows": sows, "boars": boars, "juveniles": juveniles, "piglets": piglets}
    found = group({**counts, "subgroups": subgroups})
    assert found.size == others + boars
    mine = [p for p, name in zip(found.party_of, names(found), strict=True) if name != "boar"]
    sizes = Counter(mine)
    assert mine == sorted(mine)
    assert set(sizes) == set(range(subgroups))
    assert max(sizes.values()) - min(sizes.values()) <= 1
    alone = [p for p, name in zip(found.party_of, names(found), strict=True) if name == "boar"]
    assert alone == list(range(subgroups, subgroups + boars))


def test_masses_go_with_the_classes(group) -> None:
    found = group({"sows": 1, "piglets": 2, "mass": {"sow": {"fixed": "80 kg"}}})
    assert found.classes[0][2:] == (math.log(80.0), 0.0)
    assert found.classes[1][2:] == (math.log(6.0), 0.3)


def test_further_sounders_follow_with_their_own_classes(group) -> None:
    found = group({"sows": 1, "piglets": 2}, {"sows": 2, "mass": {"sow": "90 kg"}}, {"boars": 2})
    assert found.sounder_of == (0, 0, 0, 1, 1, 2, 2)
    assert found.class_of == (0, 1, 1, 2, 2, 3, 3)
    assert found.classes[2].ln_mass == math.log(90.0)
    assert found.party_of == (0, 0, 0, 0, 0, 0, 0)
    assert found.label(4) == "sow 3"


# ---- a size that varies --------------------------------------------------------------------


def test_the_largest_size_keeps_the_make_up() -> None:
    sounder = Sounder.model_validate(
        {"sows": 1, "juveniles": 2, "piglets": 3, "varies": {"mean": 8, "low": 2, "high": 20}}
    )
    assert sounder.size == 20
    # 20 in parts of 1 : 2 : 3 is 3.33, 6.67 and 10; the largest remainder takes the last head.
    assert heads_of(sounder) == {"sow": 3, "boar": 0, "juvenile": 7, "piglet": 10}


@given(heads, heads, heads, heads, st.integers(10, 60))
def test_heads_are_within_one_of_their_share(sows, boars, juveniles, piglets, high) -> None:
    stated = {"sows": sows, "boars": boars, "juveniles": juveniles, "piglets": piglets}
    total = sum(stated.values())
    if total == 0:
        return
    sounder = Sounder.model_validate({**stated, "varies": {"mean": 5, "low": 1, "high": high}})
    found = list(heads_of(sounder).values())
    assert sum(found) == high
    for count, share in zip(found, stated.values(), strict=True):
        assert abs(count - share * high / total) < 1.0


@given(heads, heads, heads)
def test_the_first_of_any_night_are_a_fair_sample(group, sows, juveniles, piglets) -> None:
    """Of the n first in turn each class has its share to within one head."""
    total = sows + juveniles + piglets
    if total == 0:
        return
    found = group({"sows": sows, "juveniles": juveniles, "piglets": piglets})
    assert sorted(found.turn) == list(range(total))
    wanted = Counter(names(found))
    for n in range(1, total + 1):
        here = Counter(
            name for name, turn in zip(names(found), found.turn, strict=True) if turn < n
        )
        for name, count in wanted.items():
            assert abs(here[name] - count * n / total) <= 1.0


@pytest.mark.parametrize(("mean", "k"), [(8.0, 2.0), (12.0, 0.7), (5.0, 50.0)])
def test_size_is_negative_binomial_cut_off(mean, k) -> None:
    """Gamma mixture of Poisson laws with mean m and shape k, integrated by SciPy, then cut off."""
    from scipy.integrate import quad

    varies = VaryingSize.model_validate({"mean": mean, "dispersion": k, "low": 2, "high": 25})
    found = np.diff(size_distribution(varies), prepend=0.0)
    mixed = [
        quad(lambda x, n=n: stats.poisson.pmf(n, x) * stats.gamma.pdf(x, k, scale=mean / k), 0, 200,
             limit=200)[0]
        for n in range(2, 26)
    ]  # fmt: skip
    np.testing.assert_allclose(found[2:], np.array(mixed) / sum(mixed), rtol=1e-5, atol=1e-7)
    assert (found[:2] == 0.0).all()
    assert size_distribution(varies)[-1] == 1.0
