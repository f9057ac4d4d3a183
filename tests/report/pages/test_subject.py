"""Tables about a setup: every gate that can be built can be told of."""

from __future__ import annotations

import pytest

from soundergate.mechanics.setup import solve
from soundergate.report.pages.subject import steel_table
from soundergate.scenario import loads
from soundergate.scenario.examples import names, text
from soundergate.scenario.unit_system import SI, US


@pytest.mark.parametrize("system", [US, SI])
@pytest.mark.parametrize("name", names())
def test_a_cell_of_the_steel_table_is_a_figure_or_says_why_there_is_none(name, system):
    openings = {str(n): o for n, o in enumerate(solve(loads(text(name))).openings, 1)}
    cells = [cell for row in steel_table(openings, system).rows for cell in row[1:]]
    assert all(cells)
    assert not [cell for cell in cells if cell.split()[0] in ("inf", "nan", "-inf")]


def test_a_panel_that_bears_on_its_neighbour_is_lifted_by_no_force():
    openings = {"1": solve(loads(text("curl"))).openings[0]}
    rows = {row[0]: row[1] for row in steel_table(openings, US).rows}
    assert rows["force to lift it when shut"] == "no force does"
