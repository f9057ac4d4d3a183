"""Ranges read from low to high, and no bar of a tornado leaves what a measure can be."""

import math
from types import SimpleNamespace

import pytest
from matplotlib.figure import Figure

from soundergate.report.figures import robust as robust_figures
from soundergate.report.figures import tornado
from soundergate.report.words.numbers import span
from soundergate.studies.worlds.robust_rows import Worth


def test_a_range_in_a_table_reads_from_low_to_high():
    assert span(10.0, 25.7, 1) == "10.0 to 25.7"
    assert span(-2.0, 1.5, 2) == "−2.00 to 1.50"


def test_a_range_of_an_unknown_reads_from_low_to_high():
    worth = Worth("x", 0.0, 0.0, math.nan, 10.0, 300.0, "of the group", "s")
    assert robust_figures.range_words(worth.low, worth.high, worth.range_unit) == "10 to 300 s"


@pytest.mark.parametrize(
    ("factor", "apart", "ends"),
    [
        (100.0, False, [0.0, 100.0]),  # a share of nights
        (100.0, True, [-100.0, 100.0]),  # a difference of shares, in points
        (1.0, False, [0.0, 2.0 + 3.0]),  # a count of pigs has no upper end that a bar knows
        (1.0, True, [2.0 - 3.0, 2.0 + 3.0]),
    ],
)
def test_bars_end_where_the_measure_does(factor, apart, ends):
    ax = Figure().subplots()
    found = SimpleNamespace(estimate=0.0, low=-3.0, high=3.0)
    tornado._bar(ax, 0.0, 2.0, found, factor, ("white", ""), apart)
    assert list(ax.lines[-1].get_xdata()) == ends
