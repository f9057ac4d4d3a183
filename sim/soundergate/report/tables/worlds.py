"""Tables of plausible worlds: every setup, every difference, and what is worth knowing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soundergate.report.figures.estimates import pair_cell, wrapped
from soundergate.report.figures.robust import range_words
from soundergate.report.tables.table import Table
from soundergate.report.words.answers import measures_shown
from soundergate.report.words.numbers import digits_shown, number, points, scale, scale_of, span
from soundergate.report.words.world_answers import end_words, said_there
from soundergate.studies.estimates.measures import MEASURES
from soundergate.studies.worlds.phrases import named
from soundergate.studies.worlds.sentences import further_sentence
from soundergate.studies.worlds.verdicts import AHEAD, hardly

if TYPE_CHECKING:
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.estimate import RunResult
    from soundergate.studies.estimates.paired import Difference
    from soundergate.studies.worlds.one_setup import OverWorlds
    from soundergate.studies.worlds.robust_result import RobustComparison
    from soundergate.studies.worlds.robust_rows import RobustDifference
    from soundergate.studies.worlds.sensitivity import Sensitivity


def over_worlds_tables(over: OverWorlds, result: RunResult, short: bool = False) -> list[Table]:
    """What one setup does over plausible worlds; unless ``short``, for a terminal, also what moves
    it and what one could decide."""
    if over.found is None:
        return []
    if short:
        return [_measures_table(over, result)]
    tables = [_measures_table(over, result), _movers_table(over)]
    if over.decisions is not None and result.scenario is not None:
        tables.append(_decisions_table(over, result.scenario))
    return tables


def _measures_table(over: OverWorlds, result: RunResult) -> Table:
    found = over.found
    assert found is not None
    rows = []
    for words, e in measures_shown(result):
        if e.name in over.measures:
            ends = over.quantiles(e.name)
            factor, unit = scale(e.unit)
            digits = 0 if factor == 100 else 1
            if any(0 < factor * abs(q.estimate) < 0.5 * 10**-digits for q in ends):
                digits += 1
            cells = [end_words(q, factor, digits) for q in ends]
            rows.append([words, *cells, unit])
    return Table(
        f"Over {found.worlds} plausible worlds, {found.nights} nights in each",
        ["measure", "low end", "middle", "high end", "unit"],
        rows,
        frozenset({1, 2, 3}),
        "Nine of ten plausible worlds lie between low end and high end. In brackets: where each of "
        f"the three lies with {100 * found.level:g} % confidence, by order statistics of the "
        "worlds played.",
    )


_MOVERS, _DECISIONS = 8, 8


def _movers_table(over: OverWorlds) -> Table:
    rows = []
    for one in over.movers()[:_MOVERS]:
        ends = range_words(one.low, one.high, one.unknown.range_unit)
        at = (f"{100 * max(value, 0.0):.0f}" for value in (one.at_low, one.at_high))
        rows.append(
            [
                named(one.unknown.id),
                ends,
                *at,
                f"{100 * one.share:.0f}",
                "yes" if one.shown else "no",
            ]
        )
    return Table(
        "What nobody knows and moves it most",
        ["unknown", "nine in ten", "caught at low, %", "at high, %",
         "of the spread, %", "shown"],
        rows,
        frozenset({2, 3, 4}),
        "Average share of the group caught where the unknown is low, and where it is high, all "
        "others varying; what part of the spread over worlds it explains by itself. Shown: whether "
        "that is more than chance would do.",
    )  # fmt: skip


def _decisions_table(over: OverWorlds, scenario: Scenario) -> Table:
    assert over.decisions is not None
    rows = []
    for swing in over.decisions.swings[:_DECISIONS]:
        row = [swing.id, said_there(scenario, swing.input, None)]
        for high, found in ((False, swing.low), (True, swing.high)):
            row.append(said_there(scenario, swing.input, high))
            row.append("cannot be built" if found is None else _points_moved(found))
        rows.append(row)
    return Table(
        "What you decide, each by itself at both ends of what is worth trying",
        ["decision", "now", "low", "points", "high", "points"],
        rows,
        frozenset({3, 5}),
        "Percentage points of the group caught more (+) or fewer (−) than now, on the same "
        f"{over.decisions.nights:,} nights, with every unknown at its middle value; in brackets "
        "the range of all of them together.",
    )


def _points_moved(d: Difference) -> str:
    digits = 0 if abs(d.estimate) >= 0.02 else 1
    low, high = (number(100 * end, digits, signed=True) for end in (d.low, d.high))
    return f"{number(100 * d.estimate, digits, signed=True)} ({low} to {high})"


def world_tables(result: RobustComparison, short: bool = False) -> list[Table]:
    """Every arm and every difference over the worlds, and every unknown; ``short`` for a terminal,
    verdicts and arms alone."""
    arms = _arms_table(result, short)
    if len(result.arms) == 1:
        return [arms]
    verdicts = [_verdict_table(result, short)] if result.verdicts else []
    if short and verdicts:
        return [*verdicts, arms]
    between = [(met, names) for met, names in result.choices.items() if len(names) > 1]
    choices = [_choices_table(result)] if len(result.choices) > 1 else []
    worth = [_worth_table(result, names, met) for met, names in between]
    return [*verdicts, *choices, arms, _worlds_table(result), *worth]


def _choices_table(result: RobustComparison) -> Table:
    """Of each circumstance the best arm, and what one gives up by each beside knowing all."""
    asked = result.kind()
    factor, unit = scale(asked.unit)
    rows = []
    for met, names in result.choices.items():
        best, regret = result.best("", names), result.regret("", names)
        for name in names:
            spread = result.arm_spread(name)
            digits = digits_shown(spread.mean_low, spread.mean_high, factor)
            mean = number(factor * spread.mean, digits)
            given_up = number(factor * regret[name], max(digits, 1))
            rows.append([met, name, "best" if name == best else "", mean, given_up])
    return Table(
        "What to choose in each circumstance",
        ["circumstance", "setup", "", f"{asked.words} ({unit or asked.unit})", "given up"],
        rows,
        frozenset({3, 4}),
        "On average over the plausible worlds. Given up: how much more the right choice in each "
        "world would bring, if every unknown were known beforehand.",
    )


def _verdict_table(result: RobustComparison, short: bool) -> Table:
    """Every pair in every measure that is a share; ``short`` in the main one alone."""
    rows = []
    told = [v for v in result.verdicts if v.measure == result.measures[0] or not short]
    for v in told or result.verdicts:
        said = f"“{v.ahead}” ahead" if v.verdict == AHEAD else v.verdict
        if short and v.verdict == AHEAD:
            said = "first ahead" if v.ahead == v.a else "second ahead"
        said += ", hardly" if hardly(v) else ""
        shares = (
            f"{100 * share:.0f}" for share in (1 - v.a_better - v.b_better, v.a_better, v.b_better)
        )
        ends = f"{100 * v.mean:+.1f} ({100 * v.mean_low:+.1f} to {100 * v.mean_high:+.1f})"
        pair = pair_cell(v.a, v.b) if short else f"{v.a} − {v.b}"
        words = result.kind(v.measure).words
        rows.append([pair, words, said, *shares, ends.replace("-", "−")])
    heads = ["pair", "in", "verdict"]
    caption, numeric = "No matter, ahead, or depends", frozenset({3, 4, 5, 6})
    if short and len({row[1] for row in rows}) == 1:  # said above, to be narrower
        caption += f" ({rows[0][1]})"
        heads, numeric = ["pair", "verdict"], frozenset({2, 3, 4, 5})
        rows = [[row[0], *row[2:]] for row in rows]
    limit = f"{100 * result.negligible:g}"
    longer = further_sentence(len(result.longer), result.further, "nights")
    return Table(
        caption,
        [*heads, f"alike within\n{limit}, % of worlds", "first\nbetter, %", "second\nbetter, %",
         "average, points"],
        rows,
        numeric,
        f"No matter: shown to be less than {limit} points apart in more than nine worlds of ten. "
        f"Ahead: shown to be worse by more than {limit} points in fewer than one of ten, and "
        f"better on average (hardly: by less than that). All pairs together at "
        f"{100 * result.level:g} %.{longer}",
    )  # fmt: skip


def _arms_table(result: RobustComparison, short: bool) -> Table:
    """Every setup in every measure; names in a terminal on as many lines as they need."""
    rows = []
    for one in result.arm_spreads:
        factor, unit = scale(one.unit)
        digits = digits_shown(one.mean_low, one.mean_high, factor)
        least, low, middle, high, most = (factor * q for q in one.quantiles)
        words = f"{result.kind(one.measure).words} ({unit or one.unit})"
        if short:
            words = words.replace(
                "share of the group caught (% of the group)", "caught (% of group)"
            )
        ranges = span(low, high, digits), span(least, most, digits)
        name = wrapped(one.arm) if short else one.arm
        rows.append([name, words, number(middle, digits), *ranges])
    return Table(
        "Every setup over plausible worlds",
        ["setup", "in", "middle", "half of the worlds", "nine worlds in ten"],
        rows,
        frozenset(range(2, 5)),
        f"Over {result.worlds} plausible worlds, {result.nights} nights in each.",
    )


def _worlds_table(result: RobustComparison) -> Table:
    level = f"{100 * result.level:g} % range"
    note = (
        f"Shares are of {result.worlds} plausible worlds; ranges of one measure hold together "
        f"over all pairs. Clearly: the {result.nights} nights of that world alone tell the two "
        "apart."
    )
    if result.failed:
        note += f" {len(result.failed)} worlds could not be built and are left out."
    return Table(
        "Differences over plausible worlds",
        [
            "difference",
            "in",
            "more in",
            level,
            "clearly more in",
            "clearly less in",
            "average",
            "nine worlds in ten",
        ],
        [_world_cells(d, result.kind(d.measure).words) for d in result.differences],
        frozenset(range(2, 8)),
        note,
    )


def _world_cells(d: RobustDifference, words: str) -> list[str]:
    factor, unit = scale(d.unit)
    digits = digits_shown(d.mean_low, d.mean_high, factor)

    return [
        f"{d.a} − {d.b}",
        f"{words} ({points(unit)})",
        f"{100 * d.share:.0f} %",
        f"{100 * d.low:.0f} to {100 * d.high:.0f} %",
        f"{100 * d.clear_more:.0f} %",
        f"{100 * d.clear_less:.0f} %",
        number(factor * d.mean, digits, signed=True),
        span(factor * d.quantiles[0], factor * d.quantiles[-1], digits, signed=True),
    ]


def _worth_table(result: RobustComparison, names: list[str], met: str) -> Table:
    factor, unit = scale(result.kind().unit)
    worth = result.worth("", names)
    rows = [
        [
            named(w.unknown),
            range_words(w.low, w.high, w.range_unit),
            f"{factor * w.evppi:.3f}",
            "yes" if w.shown else "no",
        ]
        for w in worth
    ]
    together = factor * result.worth_of_all("", names)
    chance = factor * worth[0].chance
    return Table(
        "What is worth knowing before choosing" + (f", where one meets “{met}”" if met else ""),
        ["unknown", "plausible range", f"worth ({points(unit)})", "shown"],
        rows,
        frozenset({2}),
        f"Expected value of partial perfect information for the choice between all setups. All "
        f"unknowns together: at most {together:.3f}. If none of them told anything, the largest "
        f"would seem to be worth up to {chance:.3f} in 95 studies of 100; shown is what is above "
        "that.",
    )


def sensitivity_table(result: Sensitivity) -> Table:
    """Every unknown moved together with the others, what moves the answer most first."""
    table = result.table
    factor, unit = scale_of(result.measure)
    points = unit.replace("%", "points,") or MEASURES[result.measure].unit
    units = zip(table["low_end"], table["high_end"], table["unit"], strict=True)
    ranges = [range_words(*one) for one in units]
    if result.method == "morris":
        heads = [f"{what} ({points})" for what in ("mean size", "mean", "scatter")]
        columns = [
            [f"{factor * v:.3f}" for v in table[name]] for name in ("mu_star", "mu", "sigma")
        ]
        note = (
            "Change of the answer from end to end of a range (Morris 1991). A large scatter: how "
            "much it matters depends on the other unknowns, or on where in its range it is."
        )
    else:
        heads = ["has a part in", "interval", "by itself", "interval"]
        columns = []
        for name in ("total", "first"):
            ends = zip(table[f"{name}_low"], table[f"{name}_high"], strict=True)
            columns.append([f"{100 * v:.1f} %" for v in table[name]])
            columns.append([f"{100 * low:.1f} to {100 * high:.1f} %" for low, high in ends])
        note = (
            "Share of the variance of the answer over the worlds (Sobol' indices). Small shares "
            "may come out below 0."
        )
    rows = [list(row) for row in zip(table.index, ranges, *columns, strict=True)]
    return Table(
        "What the answer leans on, all unknowns moving at once",
        ["unknown", "plausible range", *heads],
        rows,
        frozenset(range(2, 2 + len(heads))),
        f"{result.sentence} {note}",
    )
