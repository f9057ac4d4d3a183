"""The page of one night: told, drawn and played again."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soundergate.report.pages.page import Page
from soundergate.report.pages.parts import (
    LEANS,
    as_written,
    different_openings,
    gate_pictures,
    night_picture,
    plan_pictures,
    title_of,
)
from soundergate.report.pages.subject import setup_cautions, sources_of, steel_table, units_of
from soundergate.report.replay.drawing import replay
from soundergate.report.tables.nights import event_table
from soundergate.report.words.answers import night_answer, night_end

if TYPE_CHECKING:
    from soundergate.engine.trace.trace import Trace
    from soundergate.mechanics.opening import Setup
    from soundergate.scenario.schema import Scenario


def night_page(trace: Trace, scenario: Scenario | None = None, setup: Setup | None = None) -> Page:
    """One night told, drawn and played again."""
    units = units_of(scenario)
    openings = different_openings(setup)
    return Page(
        title=trace.title or title_of(scenario, "A night"),
        kind=f"Night {trace.night} of seed {trace.seed}",
        answer=[
            night_answer(trace),
            *filter(None, [night_end(trace)]),
            "One night is an example. How often it goes this way is for a run to say.",
        ],
        pictures=[
            *plan_pictures(scenario, units),
            night_picture(trace, units),
            *gate_pictures(setup, scenario, units),
        ],
        replay=replay(trace, units),
        tables=[
            event_table(trace),
            *([steel_table(openings, units)] if openings else []),
        ],
        leans_on=sources_of(scenario),
        leans_intro=LEANS,
        added_cautions=setup_cautions([setup], units),
        made=[("night", str(trace.night)), ("seed", str(trace.seed))],
        scenario_text=as_written(scenario.raw) if scenario is not None else "",
        data={"night": trace.night, "seed": trace.seed, "row": trace.row},
    )
