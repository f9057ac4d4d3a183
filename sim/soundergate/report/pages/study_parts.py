"""What a study's page shows beside a comparison: its arms in panels, and its plausible worlds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from soundergate.report.contents import Picture, Table
from soundergate.report.figures import robust as robust_figures
from soundergate.report.figures.panels import MOST_PANELS, caught_panels, filling_panels
from soundergate.report.quantities import scale_of
from soundergate.report.words.numbers import digits_shown
from soundergate.studies.estimates.measures import MEASURES

if TYPE_CHECKING:
    from soundergate.engine.trace.trace import Trace
    from soundergate.studies.compare import Comparison
    from soundergate.studies.worlds.robust_result import RobustComparison
    from soundergate.studies.worlds.robust_rows import RobustDifference
    from soundergate.studies.worlds.sensitivity import Sensitivity

TRACED = 24
"""Nights of each arm that are played again to draw how its trap fills."""


def arm_pictures(comparison: Comparison) -> list[Picture]:
    """Number caught and filling of every arm in a panel; nothing where panels would be too many."""
    results = {arm.name: arm.result for arm in comparison.arms}
    if len(results) > MOST_PANELS:
        return []
    means = "; ".join(f"{name} {r['caught'].estimate:.1f}" for name, r in results.items())
    pictures = [
        Picture(
            caught_panels(results),
            f"Bars: share of nights by number caught, a panel a setup. Means: {means}.",
            "How many animals a night catches. One night is far less certain than the mean.",
            "caught",
        )
    ]
    traces = arm_traces(comparison)
    if traces:
        nights = len(next(iter(traces.values())))
        pictures.append(
            Picture(
                filling_panels(traces),
                f"Curves: number inside over time, a panel a setup, over {nights} nights.",
                f"How the traps fill, over the first {nights} nights; ticks mark releases.",
                "filling",
            )
        )
    return pictures


def arm_traces(comparison: Comparison) -> Mapping[str, Sequence[Trace]]:
    """The first nights of each arm, played again event by event."""
    from soundergate.engine.trace.one_night import trace_night

    count = min(TRACED, comparison.nights)
    return {
        arm.name: [trace_night(arm.result.scenario, comparison.seed, k) for k in range(count)]
        for arm in comparison.arms
        if arm.result.scenario is not None
    }


def robust_pictures(result: RobustComparison) -> list[Picture]:
    """How differences lie over the worlds, and what is worth knowing before choosing.

    Of one arm alone, how its own answer lies.
    """
    if len(result.arms) == 1:
        return [_arm_picture(result)]
    main = result.measures[0]
    words = MEASURES[main].words
    shares = "; ".join(
        f"{d.a} has more than {d.b} in {100 * d.share:.0f} % of worlds"
        for d in result.differences
        if d.measure == main
    )
    leading = ", ".join(w.unknown for w in result.worth()[:3])
    return [
        Picture(
            robust_figures.worlds(result).figure,  # type: ignore[arg-type]
            f"Lines: differences in {words} over {result.worlds} plausible worlds. {shares}.",
            f"Differences in {words} over {result.worlds} plausible worlds: every default that "
            f"is not known was drawn from its range, and all setups met the same "
            f"{result.nights} nights in each world. A share within brackets is its "
            f"{100 * result.level:g} % interval, all pairs together.",
            "worlds",
        ),
        Picture(
            robust_figures.worth(result).figure,  # type: ignore[arg-type]
            f"Bars: worth of knowing an unknown before choosing; largest: {leading}.",
            "What it would be worth to know one thing before choosing between all these setups: "
            "how much more an average night would bring. What matters alike for all setups is "
            "worth nothing here.",
            "worth",
        ),
    ]


def _arm_picture(result: RobustComparison) -> Picture:
    words = MEASURES[result.measures[0]].words
    return Picture(
        robust_figures.arm_spreads(result).figure,  # type: ignore[arg-type]
        f"Line: {words} over {result.worlds} plausible worlds. {' '.join(result.sentences)}",
        f"The {words} over {result.worlds} plausible worlds, {result.nights} nights in each: every "
        "default that is not known was drawn from its range.",
        "worlds",
    )


def robust_tables(result: RobustComparison) -> list[Table]:
    """Every arm and every difference over the worlds, and every unknown."""
    arms = _arms_table(result)
    return [arms] if len(result.arms) == 1 else [arms, _worlds_table(result), _worth_table(result)]


def _arms_table(result: RobustComparison) -> Table:
    rows = []
    for one in result.arm_spreads:
        factor, unit = scale_of(one.measure)
        digits = digits_shown(one.mean_low, one.mean_high, factor)
        least, low, middle, high, most = (f"{factor * q:.{digits}f}" for q in one.quantiles)
        words = f"{MEASURES[one.measure].words} ({unit or one.unit})"
        rows.append([one.arm, words, middle, f"{low} to {high}", f"{least} to {most}"])
    return Table(
        "Every setup over plausible worlds",
        ["setup", "in", "middle", "half of the worlds", "nine of ten"],
        rows,
        frozenset(range(2, 5)),
        f"Over {result.worlds} plausible worlds, {result.nights} nights in each.",
    )


def _worlds_table(result: RobustComparison) -> Table:
    level = f"{100 * result.level:g} % interval"
    note = (
        f"Shares are of {result.worlds} plausible worlds; intervals of one measure hold together "
        f"over all pairs. Settled: the {result.nights} nights of a world tell the two apart, each "
        "world and pair by itself."
    )
    if result.failed:
        note += f" {len(result.failed)} worlds could not be built and are left out."
    return Table(
        "Differences over plausible worlds",
        ["difference", "in", "more in", level, "settled more", "settled less", "mean", "5 to 95 %"],
        [_world_cells(d) for d in result.differences],
        frozenset(range(2, 8)),
        note,
    )


def _world_cells(d: RobustDifference) -> list[str]:
    factor, unit = scale_of(d.measure)
    digits = digits_shown(d.mean_low, d.mean_high, factor)
    unit = unit.replace("%", "points,")

    def signed(value: float) -> str:
        return f"{factor * value:+.{digits}f}".replace("-", "−")

    return [
        f"{d.a} − {d.b}",
        f"{MEASURES[d.measure].words} ({unit})",
        f"{100 * d.share:.0f} %",
        f"{100 * d.low:.0f} to {100 * d.high:.0f} %",
        f"{100 * d.clear_more:.0f} %",
        f"{100 * d.clear_less:.0f} %",
        signed(d.mean),
        f"{signed(d.quantiles[0])} to {signed(d.quantiles[-1])}",
    ]


def _worth_table(result: RobustComparison) -> Table:
    factor, unit = scale_of(result.measures[0])
    rows = [
        [
            w.unknown,
            robust_figures.range_words(w.low, w.high, w.range_unit),
            f"{factor * w.evppi:.3f}",
            "yes" if w.shown else "no",
        ]
        for w in result.worth()
    ]
    together = factor * result.worth_of_all()
    chance = factor * result.worth()[0].chance
    return Table(
        "What is worth knowing before choosing",
        ["unknown", "plausible range", f"worth ({unit.replace('%', 'points,')})", "shown"],
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
    ranges = [robust_figures.range_words(*one) for one in units]
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
