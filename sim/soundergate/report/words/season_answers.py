"""What campaigns say, in sentences that can stand alone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from soundergate.report.words.numbers import NONE, percent
from soundergate.report.words.season_worlds import ONE_WORLD, season_worlds_answer

if TYPE_CHECKING:
    from soundergate.seasons.population.outlook import Outlook
    from soundergate.seasons.season import SeasonResult
    from soundergate.seasons.setups import SetupSeason
    from soundergate.seasons.worlds.result import SeasonWorlds

_OFTEN = 0.02
"""Share of campaigns given up empty-handed that is worth a sentence."""


_TRIPS = "A trip is counted for each visit, and two more a campaign, to set up and to take away."


def season_answer(
    result: SeasonResult, over: SeasonWorlds | None = None, one_world: bool = False
) -> list[str]:
    """The answer first, then what qualifies it; what plausible worlds say before all else.

    ``one_world``: say so where worlds were asked for and nothing is unknown.
    """
    if over is not None:
        return [*season_worlds_answer(over), *_as_assumed(result)]
    return [*([ONE_WORLD] if one_world else []), *_as_assumed(result)]


def _as_assumed(result: SeasonResult) -> list[str]:
    told = [_one(setup, len(result.setups) > 1) for setup in result.setups]
    told += [_cost(setup) for setup in result.setups if setup.any_price]
    told += [_TRIPS] * any(setup.prices.trip for setup in result.setups)
    told += [one.told for one in result.break_even]
    told += [one.held_words.strip() for one in result.surfaces if one.held]
    told += result.no_maps
    told += _given_up_early(result.setups)
    told.append(_population(result))
    told += _unwatched(result)
    told.append(
        "Nobody has measured what a failed closure teaches: see below how much hangs on it."
        if any(result.unknowns)
        else "What a failed closure teaches pigs is as the file says."
    )
    return told


def _one(setup: SetupSeason, named: bool) -> str:
    whole, nights = setup["whole_group"], setup["nights"]
    lead = f"{setup.name}: a campaign" if named else "A campaign"
    return (
        f"{lead} catches {percent(setup['fraction_caught'])} of the group, and the whole group in "
        f"{percent(whole)} of campaigns. It takes {nights.estimate:.0f} nights from the first bait "
        f"to the last check; the trap is set on {setup['set_nights'].estimate:.1f} of them."
    )


def _cost(setup: SetupSeason) -> str:
    pig = setup.costs["cost_per_pig"]
    if math.isnan(pig.estimate):
        return f"{setup.name}: no cost a pig: {pig.why}."
    missing = [one.what for one in setup.costs.not_counted]
    rest = f" Not counted: {', '.join(missing)}." if missing else ""
    return f"{setup.name}: {money_range(pig.estimate, pig.low, pig.high)} {pig.unit}.{rest}"


def _given_up_early(setups: Sequence[SetupSeason]) -> list[str]:
    """Where traps were often taken away before they had caught anything: a sentence for all that
    are given up after as many nights."""
    often: dict[int, list[str]] = {}
    for setup in setups:
        campaigns, patience = setup.course.campaigns, setup.scenario.campaign.give_up
        share = float((campaigns.gave_up & (campaigns.caught == 0)).mean())
        if share >= _OFTEN:
            often.setdefault(patience, []).append(f"{setup.name} in {100 * share:.0f} %")
    return [
        f"{', '.join(told)} of campaigns: given up before anything was caught, after {patience} "
        f"{'set night' if patience == 1 else 'set nights in a row'} without a new pig inside. "
        "To wait longer, set campaign.give_up higher."
        for patience, told in often.items()
    ]


def _unwatched(result: SeasonResult) -> list[str]:
    """Whose set traps nobody visits every morning."""
    names = [s.name for s in result.setups if s.scenario.campaign.checks != "daily"]
    if not names:
        return []
    return [
        f"{', '.join(names)}: the set trap is visited only after a closure. Many laws ask for "
        "a visit every day, whatever a link or an alarm says; ask before you plan with this."
    ]


def money_range(value: float, low: float, high: float) -> str:
    """A sum of money with its range, to three figures or whole units."""
    if math.isnan(value):
        return NONE
    digits = 0 if abs(value) >= 100 else 1 if abs(value) >= 10 else 2
    if math.isnan(low):
        return f"{value:,.{digits}f}"
    ends = [f"{end:,.{digits}f}" if math.isfinite(end) else "without limit" for end in (low, high)]
    return f"{value:,.{digits}f} ({' to '.join(ends)})"


def _population(result: SeasonResult) -> str:
    planned = f"{result.campaigns_a_year:g} campaigns a year are planned"
    if result.a_year_by_default:
        planned = (
            f"nobody has planned a number, so the default is taken: {result.campaigns_a_year:g} a "
            "year, one for each sounder of the property"
        )
    if result.shown_outlook is None:
        return "No pig was caught, so nothing follows for the pigs of the property."
    first, name = result.shown_outlook
    if not math.isfinite(first.share):
        return f"No removal stops the growth that the file states; {planned}."
    least, most = _campaign_range(first)
    return (
        f"To stop growth as the file states it, {100 * first.share:.0f} % of the pigs must be "
        f"removed each year. Published figures differ: they ask for {least} to {most} campaigns a "
        f"year like those of {name}; {planned}."
    )


def _campaign_range(outlook: Outlook) -> tuple[str, str]:
    needed = outlook.table["campaigns"]
    known = needed[needed.notna()]
    return f"{math.ceil(known.min()):,}", f"{math.ceil(known.max()):,}"
