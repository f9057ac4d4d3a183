"""What would mend a weak opening, in words: only what was solved again with the change and passed.

The kinds of change stand in `mends`, the trying in `bench`. A gate that sticks is mended first, and
the latch on top of that.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, inf, log10
from typing import Any

from soundergate.mechanics import scatter
from soundergate.mechanics.advice import mends, mends_two
from soundergate.mechanics.advice.bench import TARGET, Bench, Test, shuts
from soundergate.mechanics.latches import lever
from soundergate.mechanics.numbers_in_words import percent
from soundergate.mechanics.opening import OpeningSetup
from soundergate.scenario.unit_system import Units

HANG_TARGET = 0.02
"""Share of releases that may stick open before channels are worth lengthening."""


@dataclass(frozen=True)
class Proposal:
    """One way to mend an opening: ``words`` for a person, the ``scenario`` with it written in, and
    the opening ``solved`` with it."""

    words: str
    scenario: Any
    solved: OpeningSetup


@dataclass(frozen=True)
class Advice:
    """Proposals, and sentences on what would not do."""

    proposals: tuple[Proposal, ...] = ()
    wont: tuple[str, ...] = ()

    @property
    def lines(self) -> list[str]:
        """All of it as sentences."""
        return [*(p.words for p in self.proposals), *self.wont]


def proposals(scenario: Any, index: int, opening: OpeningSetup, units: Units) -> list[str]:
    """Sentences that say what would mend an opening of a `Scenario`; none when nothing needs it."""
    return advice(scenario, index, opening, units).lines


def advice(scenario: Any, index: int, opening: OpeningSetup, units: Units) -> Advice:
    """What would mend an opening, each proposal solved again and passing."""
    if opening.latch_kind == "none":
        return Advice()
    bench = Bench(scenario, index, units)
    sticks = opening.jams or opening.hang_probability > HANG_TARGET
    if shuts(opening) >= TARGET and not sticks:
        return _for_the_empty(bench)
    if not sticks:
        return _latch(bench, "", ())
    gate, wont = _tried(bench, mends.on_the_gate(bench), _runs_freely)
    whole = [mend for mend in gate if shuts(mend.solved) >= TARGET]
    wont_words = _channels_wont(bench, gate, wont)
    if whole:
        return Advice(tuple(_gate_proposal(bench, mend) for mend in whole), wont_words)
    if shuts(opening) >= TARGET:
        return Advice((), wont_words)
    if not gate:
        if opening.jams or opening.hang_probability > 1.0 - TARGET:
            return Advice((), (*wont_words, _NOTHING))  # no latch mends the gate
        return _latch(bench, "", wont_words)
    return _latch(bench.on(gate[0].change), gate[0].words.removeprefix(": ") + ", and", wont_words)


_NOTHING = f"No change of one part that was tried makes it sure in {percent(TARGET)} of tries."


def _runs_freely(opening: OpeningSetup) -> bool:
    return not opening.jams and opening.hang_probability <= HANG_TARGET


def _surely(opening: OpeningSetup) -> bool:
    return shuts(opening) >= TARGET


def _tried(
    bench: Bench, kinds: tuple[mends.Kind, ...], does: Test
) -> tuple[list[mends.Mend], list[str]]:
    found = [kind(bench, does) for kind in kinds]
    good = [one for one in found if isinstance(one, mends.Mend)]
    return good, [one for one in found if isinstance(one, str) and one]


def _gate_proposal(bench: Bench, mend: mends.Mend) -> Proposal:
    words = mend.words.removeprefix(": ")
    text = (
        f"{words[:1].upper()}{words[1:]} would bring sticking open to "
        f"{percent(mend.solved.hang_probability)}."
    )
    return Proposal(text, bench.written(mend.change), mend.solved)


def _channels_wont(bench: Bench, gate: list[mends.Mend], wont: list[str]) -> tuple[str, ...]:
    if not wont:
        return ()
    if bench.now.gate_kind == "drop" and not any("channel_length" in m.change.gate for m in gate):
        rest = [one for one in wont if one != "longer channels"]
        text = f"No channel length brings sticking open below {percent(HANG_TARGET)}"
        return (f"{text}{', nor would ' + ' or '.join(rest) if rest else ''}.",)
    return (f"Sticking open would not be brought below {percent(HANG_TARGET)} by {_listed(wont)}.",)


def _latch(bench: Bench, before: str, wont_gate: tuple[str, ...]) -> Advice:
    good, wont = _tried(bench, mends.on_the_latch(bench), _surely)
    if not good:  # two cheap changes come before another latch or puller
        good, _ = _tried(bench, mends_two.pairs(bench), _surely)
    others, more = _tried(bench, mends.OTHER_PARTS, _surely)
    good, wont = good + others, wont + more
    if not good:
        good, more = _tried(bench, (mends.latch_and_air,), _surely)
        wont += more
    aim = percent(TARGET)
    given = tuple(
        Proposal(_sentence(aim, before, mend.words), bench.written(mend.change), mend.solved)
        for mend in good
    )
    lines = list(wont_gate)
    if _short(bench.now):
        lines.append(_travel(bench))
    if wont:
        lines.append(f"Within what is usually built, this alone would not do: {_listed(wont)}.")
    if not given:
        lines.append(_NOTHING)
    if bench.now.pull.available <= 0.0:
        lines.insert(0, f"The {bench.now.puller} gives no pull at all.")
    return Advice(given, tuple(lines))


def _sentence(aim: str, before: str, words: str) -> str:
    """ "For 95 %: channels of 4 ft a side, and, with the lever as it is, a pull of 30 lbf."""
    if not before:
        return f"For {aim}{words}."
    held, _, what = words.partition(": ")
    return f"For {aim}{held}: {before} {what}."


def _short(opening: OpeningSetup) -> bool:
    return opening.trip_travel > opening.pull.stroke * (1.0 + 1e-9)


def _travel(bench: Bench) -> str:
    """Why a lever may be too long."""
    now, u = bench.now, bench.units
    longest = mends.longest_built(bench, now.pull.stroke)
    return (
        f"Its {now.puller} moves {u.short(now.pull.stroke)} but the latch needs "
        f"{u.short(now.trip_travel)} there: a lever ratio of {longest:g} is the most that still "
        "frees it."
    )


def _listed(things: list[str]) -> str:
    """a; b or c."""
    return things[0] if len(things) == 1 else f"{'; '.join(things[:-1])}; or {things[-1]}"


def empty_release(opening: OpeningSetup) -> float | None:
    """Probability that the empty bait container still frees the latch; None for other pullers."""
    return opening.odds.by_state.get("empty")


def _for_the_empty(bench: Bench) -> Advice:
    """The container that frees the latch to the end, where this one does not."""
    empty = empty_release(bench.now)
    if empty is None or empty >= TARGET:
        return Advice()

    def to_the_end(opening: OpeningSetup) -> bool:
        left = empty_release(opening)
        return left is not None and left >= TARGET and _surely(opening)

    by_puller = mends.of_kind("pullers", bench.now.puller, "LAST")
    good, wont = _tried(bench, (*by_puller, mends.lever, mends.other_latch), to_the_end)
    given = [Proposal(_to_the_end(mend), bench.written(mend.change), mend.solved) for mend in good]
    lines = (f"Empty, these would not do: {_listed(wont)}.",) if wont else ()
    return Advice(tuple(given), lines)


def _to_the_end(mend: mends.Mend) -> str:
    words = mend.words.removeprefix(": ")
    left = empty_release(mend.solved)
    return (
        f"{words[:1].upper()}{words[1:]} would free the latch in {percent(left or 0.0)} of tries "
        "however much is eaten."
    )


def levers(opening: OpeningSetup) -> tuple[float, float] | None:
    """The lever ratios, least and greatest, with which the latch is freed surely enough.

    The least gives force for a release probability of 0.95 (two figures, rounded up), the greatest
    still leaves the travel (rounded down; inf when nothing limits the stroke). A solenoid is not
    drawn out beyond the gap of its stated pull. None when no ratio does both, or none is needed.
    """
    latch, pull = opening.latch, opening.pull
    if not (latch.holds and latch.releases) or shuts(opening) >= TARGET:
        return None
    given = pull.given.scaled(pull.sketch.get("at_gap", 1.0))
    factor = scatter.factor_for(TARGET, opening.required, given)
    if factor is None:
        return None
    least = _two_figures(opening.lever * factor, ceil)
    reach = pull.sketch.get("gap", pull.stroke)
    greatest = lever.longest_ratio(latch.trip_travel, reach)
    greatest = greatest if greatest == inf else _two_figures(greatest, floor)
    return (least, greatest) if least <= greatest else None


def _two_figures(value: float, rounded: Any) -> float:
    step = 10.0 ** (floor(log10(value)) - 1)
    return float(
        f"{rounded(value / step * (1.0 - 1e-12 if rounded is ceil else 1.0 + 1e-12)) * step:.6g}"
    )
