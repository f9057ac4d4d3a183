"""What campaigns come to over plausible worlds, in sentences that come before all others."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from soundergate.report.words.world_answers import left_out, roughly
from soundergate.seasons.money.break_even import in_money
from soundergate.seasons.worlds.result import CATCH, COST
from soundergate.studies.sentences import about_percent
from soundergate.studies.worlds.sentences import box_sentence, verdict_sentence
from soundergate.studies.worlds.verdicts import AHEAD, DEPENDS, NO_MATTER, hardly, undecided

if TYPE_CHECKING:
    from soundergate.seasons.worlds.order import BreakEvenOverWorlds
    from soundergate.seasons.worlds.result import SeasonWorlds
    from soundergate.studies.worlds.verdicts import Verdict

ONE_WORLD = "Everything that matters is stated in the file, so there is one world to play."
THEN = (
    "All that follows has every unknown at its middle value; its ranges say how well the campaigns "
    "played pin down an average."
)
_PAIRS = 4
"""Pairs that sentences tell of at most; the rest stands in a table."""


def season_worlds_answer(found: SeasonWorlds) -> list[str]:
    """Nine of ten plausible worlds of every setup, then what they say of each pair."""
    told = [_caught(found, arm) for arm in found.arms]
    told += [_cost(found, arm) for arm in found.arms if found.known(arm, COST)]
    for pair in found.compared[:_PAIRS]:
        told += [_pair(found, v) for v in found.verdicts if (v.a, v.b) == pair]
        told += [break_even_sentence(one, found.currency) for one in _of(found, pair)]
    if len(found.compared) > _PAIRS:
        told.append(f"The other {len(found.compared) - _PAIRS} pairs stand in a table.")
    if found.failed:
        told.append(left_out(found.failed, found.asked))
    return [*told, THEN]


def _of(found: SeasonWorlds, pair: tuple[str, str]) -> list[BreakEvenOverWorlds]:
    return [one for one in found.break_even if {one.better, one.other} == set(pair)]


def _lead(found: SeasonWorlds, arm: str) -> str:
    return f"{arm}: in" if len(found.arms) > 1 else "In"


def _caught(found: SeasonWorlds, arm: str) -> str:
    low, middle, high = found.quantiles(arm, CATCH)
    least, most = about_percent(low.estimate), about_percent(high.estimate)
    between = roughly(most) if least == most else f"between {least.removesuffix(' %')} and {most}"
    return (
        f"{_lead(found, arm)} nine of ten plausible worlds a campaign catches {between} of the "
        f"group, in the middle one {about_percent(middle.estimate)}."
    )


def _cost(found: SeasonWorlds, arm: str) -> str:
    low, middle, high = found.quantiles(arm, COST)
    lead = f"{_lead(found, arm)} nine of ten worlds a pig costs"
    if math.isinf(middle.estimate):
        return f"{lead} at least {in_money(low.estimate, found.currency)}; in most none is caught."
    most = (
        "without limit, as in some worlds none is caught"
        if math.isinf(high.estimate)
        else f"to {in_money(high.estimate, found.currency)}"
    )
    return (
        f"{lead} from {in_money(low.estimate, found.currency)} {most}; in the middle one "
        f"{in_money(middle.estimate, found.currency)}."
    )


def _pair(found: SeasonWorlds, v: Verdict) -> str:
    said = verdict_sentence(v) if v.measure == CATCH else cost_sentence(v)
    if v.verdict == DEPENDS and not undecided(v):
        said += f" {box_sentence(v.a, found.rules[v.a, v.b, v.measure])}"
    if v.verdict == NO_MATTER:
        return said
    held, what = found.order(v.a, v.b, v.measure), "better" if v.measure == CATCH else "cheaper"
    return f"{said} “{held.better}” is the {what} one in {about_percent(held.holds)} of the worlds."


def cost_sentence(v: Verdict) -> str:
    """What a pig costs with two setups: no matter, one is cheaper, or it depends."""
    limit = f"{100 * v.negligible:.3g} %"
    if v.verdict == NO_MATTER:
        return (
            f"What a pig costs with “{v.a}” or “{v.b}” does not matter. In "
            f"{about_percent(v.alike)} of plausible worlds it is less than {limit} apart."
        )
    first = v.ahead == v.a if v.verdict == AHEAD else v.mean >= 0
    cheaper, other = (v.a, v.b) if first else (v.b, v.a)
    wins, loses = (v.a_better, v.b_better) if first else (v.b_better, v.a_better)
    turn = 1 if first else -1
    less = f"{about_percent(turn * v.mean)} less on average over plausible worlds"
    if v.verdict == AHEAD:
        ends = sorted(turn * 100 * end for end in (v.mean_low, v.mean_high))
        little = f" So little hardly matters: it is less than {limit}." if hardly(v) else ""
        return (
            f"A pig costs less with “{cheaper}” than with “{other}”: {less} ({ends[0]:.0f} to "
            f"{ends[1]:.0f}), and more by over {limit} in {about_percent(loses)} of them.{little}"
        )
    return (
        f"Whether a pig costs less with “{cheaper}” or with “{other}” depends. With “{cheaper}” it "
        f"costs {less}: less by over {limit} in {about_percent(wins)} of them, and more by over "
        f"that in {about_percent(loses)}." + (" More worlds could tell." if undecided(v) else "")
    )


def break_even_sentence(one: BreakEvenOverWorlds, currency: str) -> str:
    """What a pig must be worth for the setup that catches more to pay, over the worlds."""
    told = [f"“{one.better}” catches more pigs than “{one.other}” on average over the worlds."]
    told += [
        f"In {about_percent(share)} of worlds {words}."
        for words, share in (
            ("it catches no fewer and costs no more: it pays whatever a pig is worth", one.always),
            ("it catches fewer and costs less: it pays only if a pig is worth little", one.up_to),
            ("it catches no more and costs no less: it never pays", one.never),
            ("it catches more and costs more: it pays if a pig is worth enough", one.from_value),
        )
        if share > 0
    ]
    if math.isfinite(one.middle.estimate) and one.middle.estimate > 0:
        pays = f"In the middle one it pays from {in_money(one.middle.estimate, currency)} a pig on"
        if math.isfinite(one.high.estimate):
            low, high = (in_money(end.estimate, currency) for end in (one.low, one.high))
            pays += f", in nine of ten from between {low} and {high} on"
        told.append(f"{pays}.")
    if one.pays is not None and one.damage is not None:
        told.append(
            f"At the stated damage of {in_money(one.damage, currency)} a pig it pays in "
            f"{about_percent(one.pays)} of worlds."
        )
    return " ".join(told)
