"""Tables of campaigns over plausible worlds: every setup, every pair, what a pig must be worth."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from soundergate.report.tables.table import Table
from soundergate.report.words.numbers import scale
from soundergate.seasons.campaigns.questions import QUESTIONS
from soundergate.seasons.worlds.result import CATCH, COST
from soundergate.studies.worlds.sentences import further_sentence
from soundergate.studies.worlds.verdicts import AHEAD

if TYPE_CHECKING:
    from soundergate.seasons.worlds.result import SeasonWorlds
    from soundergate.studies.worlds.order import Quantile

_SHOWN = ("fraction_caught", "whole_group", "caught", "nights", "visits", "watched_hours")
_NEVER = "never"


def season_worlds_tables(found: SeasonWorlds) -> list[Table]:
    """All of them, in the order in which they are read."""
    tables = [_figures_table(found)]
    if found.verdicts:
        tables.append(_verdict_table(found))
    if found.break_even:
        tables.append(_break_even_table(found))
    return tables


def _figures_table(found: SeasonWorlds) -> Table:
    money = found.currency or "money"
    asked = [(name, QUESTIONS[name].words, *scale(QUESTIONS[name].unit)) for name in _SHOWN]
    asked += [
        ("hours_per_campaign", "hours a campaign", 1.0, "h"),
        ("cost_per_campaign", "money a campaign", 1.0, money),
        (COST, "money a pig caught", 1.0, f"{money} a pig"),
    ]
    rows = [
        [arm, words, *(_end(q, factor, "none caught") for q in found.quantiles(arm, name)), unit]
        for arm in found.arms
        for name, words, factor, unit in asked
        if found.known(arm, name)
    ]
    longer = further_sentence(len(found.longer), found.further, "campaigns")
    return Table(
        f"Over {len(found.worlds)} plausible worlds, {found.campaigns} campaigns a setup in each",
        ["setup", "figure", "low end", "middle", "high end", "unit"],
        rows,
        frozenset({2, 3, 4}),
        "Nine of ten plausible worlds lie between low end and high end. In brackets: where each of "
        f"the three lies with {100 * found.level:g} % confidence, by order statistics of the "
        f"worlds played.{longer}",
    )


def _end(one: Quantile, factor: float, infinite: str) -> str:
    """A quantile with its interval; an end that there is not as an open one."""
    scaled = [factor * value for value in (one.estimate, one.low, one.high)]
    digits = _digits([value for value in scaled if math.isfinite(value)])
    value, low, high = (
        infinite if math.isinf(number) else f"{number:,.{digits}f}" for number in scaled
    )
    if math.isinf(one.low) and math.isinf(one.estimate):
        return value
    low = "…" if one.low == -math.inf else low
    high = "…" if one.high == math.inf and infinite != _NEVER else high
    return f"{value} ({low} to {high})"


def _digits(values: list[float]) -> int:
    most = max((abs(value) for value in values), default=0.0)
    return 0 if most >= 20 else 1


def _verdict_table(found: SeasonWorlds) -> Table:
    rows = []
    for v in found.verdicts:
        catch = v.measure == CATCH
        said = f"“{v.ahead}” {'ahead' if catch else 'cheaper'}" if v.verdict == AHEAD else v.verdict
        held = found.order(v.a, v.b, v.measure)
        shares = (1 - v.a_better - v.b_better, v.a_better, v.b_better)
        ends = f"{100 * v.mean:+.1f} ({100 * v.mean_low:+.1f} to {100 * v.mean_high:+.1f})"
        rows.append([
            f"{v.a} − {v.b}", "share caught, points" if catch else "cost a pig saved, %", said,
            *(f"{100 * share:.0f}" for share in shares), ends.replace("-", "−"),
            f"{100 * held.holds:.0f} ({100 * held.low:.0f} to {100 * held.high:.0f})",
        ])  # fmt: skip
    limit = f"{100 * found.negligible:g}"
    return Table(
        "No matter, ahead, or depends",
        ["pair", "in", "verdict", f"alike within {limit}, % of worlds", "first better, %",
         "second better, %", "average", "order holds, % of worlds"],
        rows,
        frozenset({3, 4, 5, 6, 7}),
        f"No matter: shown to be less than {limit} apart in more than nine worlds of ten. Ahead or "
        f"cheaper: shown to be worse by more than {limit} in fewer than one of ten, and better on "
        f"average. All pairs of a figure together at {100 * found.level:g} %. Of costs: what the "
        "cheaper one saves, of what a pig costs with the dearer one. The order is that of the "
        "average.",
    )  # fmt: skip


def _break_even_table(found: SeasonWorlds) -> Table:
    rows = [
        [f"{one.better} over {one.other}",
         *(_end(q, 1.0, _NEVER) for q in (one.low, one.middle, one.high)),
         f"{100 * one.always:.0f}", f"{100 * one.up_to:.0f}", f"{100 * one.never:.0f}",
         "—" if one.pays is None else f"{100 * one.pays:.0f}"]
        for one in found.break_even
    ]  # fmt: skip
    money = found.currency or "money"
    return Table(
        f"What a pig must be worth ({money}) for the setup that catches more to pay",
        ["setup", "low end", "middle", "high end", "at any value, % of worlds",
         "only up to a value, %", "at no value, %",
         "at the stated damage, %"],
        rows,
        frozenset(range(1, 8)),
        "It catches more on average over the worlds. In a world in which it catches less it pays "
        "at no value of a pig or, if it is cheaper there, only up to some value.",
    )  # fmt: skip
