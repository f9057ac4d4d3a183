"""The answer in sentences: what a run or a comparison says before any picture or table."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from soundergate.engine.trace.labels import clock, outcome_words
from soundergate.report.quantities import fate_shares
from soundergate.report.style import FATES
from soundergate.report.words.numbers import digits_shown, of_nights, percent
from soundergate.studies import sentences as words
from soundergate.studies.estimates.measures import MEASURES
from soundergate.studies.worlds import sentences as world_words

if TYPE_CHECKING:
    from soundergate.engine.trace.trace import Trace
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.compare import Comparison
    from soundergate.studies.estimate import Estimate, RunResult
    from soundergate.studies.estimates.paired import Difference
    from soundergate.studies.study import StudyResult
    from soundergate.studies.worlds.robust_result import RobustComparison


STANDING = (
    "A simulated share is no promise. Local codes and licensed practice come first; block a raised "
    "gate before anyone works under it; check a set trap at least daily."
)
"""What ends every answer in a terminal. Pages carry all cautions (`pages.cautions`)."""


def run_answer(result: RunResult) -> list[str]:
    """What one setup catches, then what qualifies it."""
    caught, share = result["caught"], result["fraction_caught"]
    level = f"{100 * result.level:g} % confidence, {result.nights:,} nights"
    size, group = _group(result)
    lines = [
        f"An average night catches {caught.estimate:.1f}{size} animals, "
        f"{percent(share)} of {group} ({level})."
    ]
    if result.group_size == 1:
        lines = [f"The one animal is caught on {of_nights(result['whole_group'])} ({level})."]
    else:
        lines.append(f"{_whole(result)} caught on {of_nights(result['whole_group'])}.")
    return [
        *_in_vain(result.scenario),
        *lines,
        *_escapes(result),
        *_how_it_ended(result.interrupted, result.nights, result.precision_reached),
    ]


def run_told(result: RunResult, over_worlds: bool = False) -> list[str]:
    """The same for a terminal, where the lead is one plain number, and with what the range does not
    hold; behind the answer over plausible worlds, which has told what is in vain, if there is one.
    """
    in_vain = _in_vain(result.scenario)
    rest = run_answer(result)[len(in_vain) + 1 :]
    caught = result["caught"]
    not_held = "A single night varies far more" + (
        "." if over_worlds else ", and what nobody knows about pigs is not in them."
    )
    pinned = f"The ranges say how well {result.nights:,} nights pin down the average. {not_held}"
    if over_worlds:
        return [f"{AS_ASSUMED}: {_lower(_about(result))} ({_sure(caught)}). {pinned}"]
    return [*in_vain, f"{_about(result)} ({_sure(caught)}).", *rest, pinned]


def _in_vain(scenario: Scenario | None) -> list[str]:
    """What of the plan makes the best steel useless: `check` says it too."""
    from soundergate.mechanics.advice.plan import in_vain

    return [] if scenario is None else in_vain(scenario)


AS_ASSUMED = "With every unknown at its middle value"


def _lower(text: str) -> str:
    return text[0].lower() + text[1:]


def _about(result: RunResult) -> str:
    mean, group = result["caught"].estimate, result.group_size
    if group == 1:
        return f"The one pig is caught on about {100 * mean:.0f} nights in 100"
    least = result.tally.smallest_group
    of = f"of {group} pigs caught on an average night"
    if least != group:
        of = f"pigs of {least} to {group} caught on an average night"
    if mean == 0:
        return f"None {of}" if least == group else f"No {of}"
    if mean < 0.05:
        return f"Hardly any {of}"
    return f"About {mean:.0f} {of}" if mean >= 2.5 else f"About {mean:.1f} {of}"


def _sure(e: Estimate) -> str:
    if math.isnan(e.low):
        return "too few nights to say how surely"
    digits = 1 if e.high - e.low >= 0.1 else digits_shown(e.low, e.high, 1)
    return f"{100 * e.level:g} % sure: {e.low:.{digits}f} to {e.high:.{digits}f}"


def stopped(nights: int) -> str:
    """What Ctrl-C leaves."""
    return f"Stopped after {nights:,} nights, which all count."


def lets_in_only(scenario: Scenario | None) -> bool:
    """Every opening is a one-way entrance: nothing is released, it keeps what comes in."""
    return scenario is not None and all(opening.gate.one_way for opening in scenario.opening)


def may_stay_open(result: RunResult) -> bool:
    """Whether at a trap check some may have stood in a trap with a way still open."""
    several = result.scenario is None or len(result.scenario.opening) > 1
    return not lets_in_only(result.scenario) and (several or result["released"].estimate < 1)


def _group(result: RunResult) -> tuple[str, str]:
    """ " of 11" and "the group", or for a group whose size varies "" and what it varies between."""
    least, most = result.tally.smallest_group, result.group_size
    if least == most:
        return f" of {most}", "the group"
    return "", f"the group, which numbers {least} to {most}"


def _whole(result: RunResult) -> str:
    sounders = 1 + len(result.scenario.other) if result.scenario is not None else 1
    if sounders == 1:
        return "The whole group is"
    return f"Every animal of {'both' if sounders == 2 else f'all {sounders}'} sounders is"


def _escapes(result: RunResult) -> list[str]:
    """Who got out, and how often a gate closed; nothing is said of a release that cannot be."""
    out = result["escaped"].estimate
    if lets_in_only(result.scenario):
        again = out + result["left_before"].estimate
        kept = "The trap lets animals in and keeps them; nothing is released."
        return [kept, f"{_animals(again)} go in and get out again." if again else _NONE_OUT]
    closed, failed = result["released"], result["failed_release"]
    if not closed.estimate and not failed.estimate and result.nights:
        return [f"Nothing was released on any of the {result.nights:,} nights."]
    got_out = "Nothing that was inside at the release got out."
    if out:
        got_out = f"{_animals(out)} get out as the gate closes or after it is shut"
        # where a gate may stay open beside those that shut, some never leave and are not caught
        several = result.scenario is None or len(result.scenario.opening) > 1
        stand = ", or stand at the check in a trap with a way still open"
        got_out += f"{stand}." if several or failed.estimate > 0 else "."
    lines = [f"{got_out} A gate closes on {of_nights(closed)}."]
    if failed.estimate > 0:
        lines.append(f"The latch is pulled and no gate closes on {of_nights(failed)}.")
    return lines


_NONE_OUT = "None that went in got out again."


def _animals(mean: float) -> str:
    return f"{mean:.2f} animals a night" if mean >= 0.005 else "Fewer than 0.01 animals a night"


_OF_A_RELEASE = ("released", "failed_release", "left_before", "release_s", "educated", "struck")


def measures_shown(result: RunResult) -> list[tuple[str, Estimate]]:
    """What a table of a run shows: every measure with its words, but for those without a meaning.

    Time at the link stands only where someone was there; nothing is said of the release of a trap
    that only lets animals in, unless it ever happened.
    """
    let_in = lets_in_only(result.scenario)
    told = []
    for e in result:
        silent = e.name == "operator_min" or (let_in and e.name in _OF_A_RELEASE)
        if silent and not e.estimate > 0:
            continue
        words = "in and out again" if let_in and e.name == "escaped" else MEASURES[e.name].words
        told.append((words, e))
    return told


def night_answer(trace: Trace) -> str:
    """How one night ended, in a sentence or two."""
    if not any(event.kind == "arrives" for event in trace.events):
        return "No animal came."
    outcome = ""
    if trace.row:
        standing = [trace.fates[animal] for animal in trace.standing()]
        outcome = outcome_words(trace.row, standing, trace.a_way_stays_open)
    if trace.corral.lets_in_only:
        return outcome or "Nothing is released by a one-way entrance."
    if trace.row.get("released", trace.release_time is not None):
        return outcome or "The gate was released."
    pulled = any(event.kind in ("latch fails", "gate moves") for event in trace.events)
    why = "The latch was pulled and no gate closed." if pulled else "Nothing was released."
    return f"{why} {outcome}".strip()


def night_end(trace: Trace) -> str:
    """Of a night that was over before the trap check, one sentence on the rest; else ""."""
    if not trace.ends_early or trace.check_time is None:
        return ""
    found = trace.closing_words()
    return (
        f"Nothing more happens inside until the trap check at {clock(trace.check_time)[:-5]} "
        f"after the set{f': {found}' if found else ''}."
    )


def comparison_answer(comparison: Comparison, over_worlds: bool = False) -> list[str]:
    """Which setup catches the largest share, whether that is settled, and the differences.

    Behind an answer over plausible worlds it is said of which world this is.
    """
    lines = []
    for met, names in comparison.choices.items():
        arms = {name: comparison[name]["fraction_caught"] for name in names}
        line = _best(comparison, arms) if len(arms) > 1 else _alone(*next(iter(arms.items())))
        lines.append(f"Where one meets “{met}”: {line}" if met else line)
    if over_worlds:
        lines[0] = f"{AS_ASSUMED}: {_lower(lines[0])}"
    main = comparison.differences[0].measure if comparison.differences else ""
    rows = [d for d in comparison.differences if d.measure == main]
    lines += _first_few(words.sentences(rows))
    return lines + _how_it_ended(
        comparison.interrupted, comparison.nights, comparison.precision_reached
    )


def _alone(name: str, share: Estimate) -> str:
    return f"{name} catches {percent(share)} of the group; there is nothing to compare."


def study_answer(study: StudyResult) -> list[str]:
    """What holds over plausible worlds if they were played, then the comparison at the defaults."""
    lines = comparison_answer(study.comparison, study.robust is not None)
    if study.robust is not None:
        lines = [*robust_answer(study.robust), *lines]
    return lines if study.sensitivity is None else [*lines, study.sensitivity.sentence]


def robust_answer(result: RobustComparison) -> list[str]:
    """In how many plausible worlds one setup is ahead, and what is worth measuring.

    Of many pairs first how many are settled, and which setup is best; the pairs come after.
    """
    pairs = _first_few(result.pair_sentences)
    worlds = [
        f"That is over {result.worlds} plausible worlds. In each, everything that nobody knows was "
        "drawn anew."
    ]
    if result.worlds < result.asked:
        left = result.asked - result.worlds
        worlds.append(f"{left} of the {result.asked} worlds asked for were not played.")
    verdicts = [v for v in result.verdicts if v.measure == result.measures[0]]
    if len(verdicts) > _FEW_PAIRS:
        return [world_words.tally_sentence(verdicts), *result.choice_sentences, *worlds, *pairs]
    return [*pairs, *worlds, *result.choice_sentences]


_FEW_PAIRS = 3
"""Pairs of which each has its sentence before anything else is said."""


def _first_few(sentences: list[str]) -> list[str]:
    if len(sentences) <= 8:
        return sentences
    return [*sentences[:6], f"The other {len(sentences) - 6} differences stand in a table."]


def _best(comparison: Comparison, arms: dict[str, Estimate]) -> str:
    best = max(arms, key=lambda name: arms[name].estimate)
    lead = f"“{best}” catches the largest share of its group, {percent(arms[best])}"
    found = {name: _difference(comparison, best, name) for name in arms if name != best}
    compared = {name: d for name, d in found.items() if d is not None}
    open_arms = [name for name, d in compared.items() if not d.settled]
    if not compared:
        return f"{lead}."
    if not open_arms:
        whom = _all_others(len(compared), len(arms) - 1)
        return f"{lead}, and these nights settle that it is ahead of {whom}."
    if len(open_arms) == len(arms) - 1:
        whom = "the other" if len(open_arms) == 1 else "any other"
        return f"{lead}, but these nights do not settle that it is ahead of {whom}."
    return f"{lead}, but these nights do not settle that it is ahead of {_listed(open_arms)}."


def _difference(comparison: Comparison, best: str, other: str) -> Difference | None:
    """The difference of two setups; None if they were not compared."""
    try:
        return comparison.difference(best, other)
    except KeyError:
        return None


def _all_others(count: int, of: int) -> str:
    if count < of:
        return f"the {count} that it was compared with" if count > 1 else "its counterpart"
    return {1: "the other", 2: "both others"}.get(count, f"all {count} others")


def _listed(names: list[str]) -> str:
    if len(names) > 4:
        return f"{len(names)} others"
    quoted = [f"“{name}”" for name in names]
    if len(quoted) == 1:
        return quoted[0]
    return f"{', '.join(quoted[:-1])} and {quoted[-1]}"


def fates_in_words(name: str, item: RunResult) -> str:
    """Shares of the fates as text, for those who cannot see the bars."""
    shares = fate_shares(item)
    text = ", ".join(f"{FATES[fate][0]} {100 * share:.0f} %" for fate, share in shares.items())
    return f"{name}: {text}" if name else text


def _how_it_ended(interrupted: bool, nights: int, reached: bool | None) -> list[str]:
    lines = []
    if interrupted:
        lines.append(stopped(nights))
    if reached is False:
        lines.append("The precision that was asked for was not reached; play more nights.")
    return lines
