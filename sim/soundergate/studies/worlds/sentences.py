"""Differences over plausible worlds in plain sentences."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from soundergate.scenario.units import figures
from soundergate.studies.estimates.measures import measure
from soundergate.studies.sentences import about_percent, points, scale, signed
from soundergate.studies.worlds import phrases
from soundergate.studies.worlds.verdicts import (
    AHEAD,
    DEPENDS,
    NO_MATTER,
    fewest_worlds,
    hardly,
    mostly_alike,
    undecided,
)

if TYPE_CHECKING:
    from soundergate.studies.worlds.boxes import Box
    from soundergate.studies.worlds.further import Further
    from soundergate.studies.worlds.robust_rows import ArmOverWorlds, RobustDifference, Worth
    from soundergate.studies.worlds.verdicts import Verdict


def tally_sentence(verdicts: Sequence[Verdict]) -> str:
    """Of many pairs how many are settled, and how."""
    ways = {AHEAD: "one is ahead", NO_MATTER: "it is no matter which", DEPENDS: "it depends"}
    found = [_LEFT_OPEN if undecided(v) else ways[v.verdict] for v in verdicts]
    counts = {words: found.count(words) for words in (*ways.values(), _LEFT_OPEN)}
    told = [f"in {count} {words}" for words, count in counts.items() if count]
    if len(told) == 1:
        (words,) = (words for words, count in counts.items() if count)
        whole = f"Of all {len(verdicts)} pairs of setups {words}."
    else:
        whole = f"Of {len(verdicts)} pairs of setups {', '.join(told[:-1])} and {told[-1]}."
    if verdicts[0].worlds < verdicts[0].fewest_worlds:
        whole += f" {_too_few(verdicts[0])}"
    return whole


_LEFT_OPEN = "it is left open"


def _too_few(v: Verdict) -> str:
    """What more worlds could show."""
    pairs = " of so many pairs" if v.fewest_worlds > fewest_worlds(v.level) else ""
    return f"So few worlds cannot show more{pairs}: play {v.fewest_worlds} or more."


def verdict_sentence(v: Verdict) -> str:
    """No matter which, one is ahead, or it depends: of two setups over plausible worlds."""
    limit = points(v.negligible)
    if v.verdict == NO_MATTER:
        return (
            f"“{v.a}” or “{v.b}”: it does not matter which. In {_in_worlds(v.alike)} "
            f"they are less than {limit} apart."
        )
    if v.verdict == AHEAD:
        other = v.b if v.ahead == v.a else v.a
        loses = v.b_better if v.ahead == v.a else v.a_better
        turn = 1 if v.ahead == v.a else -1
        ends = sorted(turn * 100 * end for end in (v.mean_low, v.mean_high))
        told = (
            f"“{v.ahead}” is ahead of “{other}”: {points(turn * v.mean)} more on average over "
            f"plausible worlds ({ends[0]:.1f} to {ends[1]:.1f}), and worse by more than {limit} in "
            f"{_of_them(loses)}."
        )
        if hardly(v):
            told += f" So little hardly matters: on average it is less than {limit}."
        return told
    better, worse = (v.a, v.b) if v.mean >= 0 else (v.b, v.a)
    wins, loses = (v.a_better, v.b_better) if v.mean >= 0 else (v.b_better, v.a_better)
    does = "catches" if v.measure == "fraction_caught" else "does"
    more = "more" if does == "catches" else "better"
    lead = f"{v.worlds} worlds leave it open" if undecided(v) else "it depends"
    told = (
        f"“{better}” or “{worse}”: {lead}. “{better}” {does} {points(abs(v.mean))} {more} on "
        f"average, better by more than {limit} in {_in_worlds(wins)} and worse "
        f"by more than that in {_of_them(loses)}."
    )
    if v.worlds < v.fewest_worlds:
        told += f" {_too_few(v)}"
    elif undecided(v):
        ahead = f"that “{better}” is ahead"
        shown = "that it does not matter which" if mostly_alike(v) else ahead
        told += f" More worlds could show {shown}."
    return told


def further_sentence(worlds: int, further: Further, what: str) -> str:
    """Of worlds that were played longer to tell, with a blank before it; "" of none.

    ``what`` they played: "nights" or "campaigns".
    """
    if not worlds and not further.open_pairs:
        return ""
    some = "1 world was" if worlds == 1 else f"{worlds} worlds were"
    told = (
        f" {some} played longer to tell: {further.played:,} further {what} of all setups together, "
        f"of at most {further.most:,}."
    )
    if further.open_pairs:
        pairs = "1 pair" if further.open_pairs == 1 else f"{further.open_pairs:,} pairs"
        told += f" More than these could still change what is said of {pairs}."
    return told


NOT_SOUGHT = "On what was not sought: of so many pairs only for those with the best setup."


def box_sentence(a: str, box: Box | None) -> str:
    """On what it depends."""
    if box is None:
        return "Which worlds those are hangs on many things that nobody knows, a little on each."
    sides = " and ".join(phrases.where(side) for side in box.sides)
    return (
        f"“{a}” is ahead where {sides}: in {_in_ten(box.inside)} such worlds, and in "
        f"{_in_ten(box.outside)} others."
    )


def _in_ten(share: float) -> str:
    return f"{round(10 * share)} of 10"


_ALL_OR_NONE = {0.0: "none", 1.0: "all"}


def _in_worlds(share: float) -> str:
    """In how many: "12 % of plausible worlds", "no plausible world", "all plausible worlds"."""
    ends = {0.0: "no plausible world", 1.0: "all plausible worlds"}
    return ends.get(share) or f"{about_percent(share)} of plausible worlds"


def _of_them(share: float) -> str:
    """The same of worlds that were named: "12 % of them", "none of them", "all of them"."""
    return f"{_ALL_OR_NONE.get(share) or about_percent(share)} of them"


def robust_sentence(d: RobustDifference) -> str:
    """In how many plausible worlds one setup is ahead of another, and by how much."""
    factor, unit = scale(d.measure, d.unit)
    low, high, least, most = (
        signed(factor * v) for v in (d.mean_low, d.mean_high, d.quantiles[0], d.quantiles[-1])
    )
    shares = f"more in {100 * d.share:.0f} % of {d.worlds} plausible worlds"
    together = "" if d.each_level == d.level else ", all pairs together"
    level = f"{100 * d.level:.4g} % confidence{together}"
    shares += f" ({100 * d.low:.0f} to {100 * d.high:.0f} %, {level})"
    if d.equal > 0:
        shares += f", as much in {100 * d.equal:.0f} %"
    return (
        f"{d.a} against {d.b}, {measure(d.measure).words}: {shares}; "
        f"{signed(factor * d.mean)} {unit} on average ({low} to {high}), between {least} and "
        f"{most} in nine worlds of ten."
    )


def spread_sentence(one: ArmOverWorlds) -> str:
    """How the answer of one setup lies over plausible worlds."""
    asked = measure(one.measure)
    factor, unit = (100, "%") if asked.a_share else (1, one.unit)
    least, low, middle, high, most = (figures(factor * q, 3) for q in one.quantiles)
    return (
        f"{one.arm}, {asked.words}: {middle} {unit} in the middle one of {one.worlds} plausible "
        f"worlds, {low} to {high} in half of them, {least} to {most} in nine of ten."
    )


def worth_sentence(best: str, each: Sequence[Worth], together: float, met: str = "") -> str:
    """Whether anything unknown is worth measuring before one chooses, where one meets ``met``."""
    (unit,) = {w.unit for w in each}
    factor = 100 if unit.startswith("of ") else 1
    unit = "points" if factor == 100 else unit
    lead = f"Over all worlds {best} does best on average."
    if met:
        lead = f"Where one meets “{met}”, “{best}” does best on average over all worlds."
    if factor * together < 0.05:
        return f"{lead} Whatever pigs do, no other choice would be noticeably better."
    shown = [w for w in each if w.shown and w.evppi > 0.05 * together][:4]
    most = f"Knowing all about pigs beforehand would add at most {factor * together:.2g} {unit}"
    if not shown:
        return f"{lead} {most}, and no single unknown is shown to be worth measuring."
    named = "; ".join(f"{phrases.named(w.unknown)}, {factor * w.evppi:.2g}" for w in shown)
    return f"{lead} {most}. Most worth measuring, each by itself: {named}."
