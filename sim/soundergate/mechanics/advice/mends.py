"""What is worth trying on an opening that does not shut surely, kind by kind of change.

A kind takes the `Bench` and a test, and gives the smallest change of its kind that passes with the
words for it, or the words for what would not do. Sizes stay within what is usually built: the
ranges that the register calls plausible, levers up to `LONGEST_LEVER`.

Here stands what any opening has: a lever, an engaged length, friction, another latch or puller.
What one kind of gate, latch or puller has stands in a module of its name in `gates`, `latches` and
`pullers`: ``MENDS`` to try on it, ``RELIEFS`` on a gate that take load off its latch, and of a
puller ``PAIRS`` (two changes at once), ``firsts`` (in place of the common lever) and ``LAST``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import floor, isfinite, log10
from typing import Any

from soundergate.kinds import offered
from soundergate.mechanics.advice.bench import Bench, Change, Test, plausible
from soundergate.mechanics.latches import lever as levers
from soundergate.mechanics.opening import OpeningSetup
from soundergate.scenario.latches.base import LATCHES
from soundergate.scenario.latches.choice import latch_keys, puller_keys
from soundergate.scenario.units import read_quantity
from soundergate.scenario.variants import kinds_in

LONGEST_LEVER = 12.0
"""A foot on an inch: more is seldom built."""

GREASED = 0.15
"""Friction of lubricated steel (tables cited at opening.latch.friction)."""


@dataclass(frozen=True)
class Mend:
    """A change that passes: ``words`` after "For 95 %", and the opening ``solved`` with it."""

    change: Change
    words: str
    solved: OpeningSetup


Outcome = Mend | str | None
"""What passes, or what of this kind would not do, or nothing to say."""

Kind = Callable[[Bench, Test], Outcome]


def outcome(
    found: tuple[Change, OpeningSetup] | None,
    says: Callable[[Change, OpeningSetup], str],
    wont: str,
) -> Outcome:
    return wont if found is None else Mend(found[0], says(*found), found[1])


# ---- lever and puller ----------------------------------------------------------------------


def reach(bench: Bench) -> float:
    """How far (m) the puller moves with the pull that it is stated to have."""
    latch = bench.tables.latch
    return float(getattr(latch, "gap", bench.now.pull.stroke))


def _longest(bench: Bench) -> float:
    return levers.longest_ratio(bench.now.latch.trip_travel, reach(bench))


def longest_built(bench: Bench, stroke: float) -> float:
    """The longest lever (two figures, rounded down) whose travel a ``stroke`` (m) still gives."""
    ratio = levers.longest_ratio(bench.now.latch.trip_travel, stroke)
    if not 0.0 < ratio < LONGEST_LEVER:
        return min(ratio, LONGEST_LEVER)
    step = 10.0 ** (floor(log10(ratio)) - 1)
    return round(floor(ratio / step * (1.0 + 1e-9)) * step, 9)


def lever(bench: Bench, does: Test) -> Outcome:
    longest = _longest(bench)
    built = longest_built(bench, reach(bench))
    ratios = [0.1 * n for n in range(2, 50)] + [0.5 * n for n in range(10, 1 + 2 * 12)]
    within = [round(r, 6) for r in ratios if r < built * (1.0 - 1e-9)]
    within += [built] if built > 0.0 else []
    now, u = bench.now, bench.units

    def says(change: Change, solved: OpeningSetup) -> str:
        travel = f", with {u.short(solved.trip_travel)} of travel at the puller"
        return f": a lever ratio of {change.latch['lever']:g}{travel}"

    wont = f"a lever ratio up to {LONGEST_LEVER:g}"
    if longest < LONGEST_LEVER:
        wont = (
            f"another lever (the {now.puller} moves {u.short(reach(bench))} and frees the latch "
            f"only up to a ratio of {built:g})"
        )
    options = [Change({"lever": r}) for r in within]
    if now.lever > longest * (1.0 + 1e-9):  # no longer than it must be shortened
        return outcome(bench.first(options[-1:], does), says, wont)
    return outcome(bench.least(options, does), says, wont)


def held_lever(bench: Bench, does: Test) -> tuple[dict[str, Any], str] | None:
    """The lever as it is, or the longest that the travel still allows; None when that does."""
    longest = _longest(bench)
    if bench.now.lever <= longest * (1.0 + 1e-9):
        return {}, "the lever as it is"
    ratio = longest_built(bench, reach(bench))
    if ratio == 0.0 or bench.first([Change({"lever": ratio})], does) is not None:
        return None
    return {"lever": ratio}, f"a lever ratio of {ratio:g}"


def lengths_engaged(bench: Bench) -> list[str]:
    """Shorter engaged lengths than the latch's own, the longest first; none for a knee."""
    latch = bench.tables.latch
    if latch.kind == "knee" or bench.now.latch.trip_travel <= 0.0:
        return []
    low = plausible("opening.latch.engaged", high=False)
    return bench.amounts("engaged", low * (1.0 - 1e-6), latch.engaged * (1.0 - 1e-6))[::-1]


def less_engaged(bench: Bench, does: Test) -> Outcome:
    """Less of the pin or catch engaged, with the lever as it is."""
    lengths = lengths_engaged(bench)
    least = bench.units.short(plausible("opening.latch.engaged", high=False))
    return outcome(
        bench.least([Change({"engaged": text}) for text in lengths], does),
        lambda change, _: f" with the lever as it is: a latch engaged by {change.latch['engaged']}",
        f"a latch engaged by less (down to {least})" if lengths and isfinite(reach(bench)) else "",
    )


def engaged(bench: Bench, does: Test) -> Outcome:
    """Less engaged: with the lever as it is, or else with the longest that the travel allows."""
    latch, trip = bench.tables.latch, bench.now.latch.trip_travel
    lengths = lengths_engaged(bench)
    if not lengths or isinstance(lever(bench, does), Mend):
        return None
    as_it_is = less_engaged(bench, does)
    if isinstance(as_it_is, Mend):
        return as_it_is

    def with_lever(text: str) -> Change:
        travel = trip * read_quantity(text, "length") / latch.engaged
        longest = min(levers.longest_ratio(travel, reach(bench)), LONGEST_LEVER)
        return Change({"engaged": text, "lever": int(longest * 10.0 + 1e-6) / 10.0})

    return outcome(
        bench.least([with_lever(text) for text in lengths], does),
        lambda change, _: (
            f" with a lever ratio of {change.latch['lever']:g}: a latch engaged by "
            f"{change.latch['engaged']}"
        ),
        as_it_is or "",
    )


def greased(friction: Any) -> list[dict[str, float]]:
    """Lower frictions, as a file says them, from what it is down to `GREASED`; its scatter kept."""
    values = [round(0.05 * n, 2) for n in range(40, 0, -1) if 0.05 * n < friction.median]
    return [{"median": v, "sigma": friction.sigma} for v in values if v >= GREASED - 1e-9]


def grease(bench: Bench, does: Test) -> Outcome:
    options = [Change({"friction": to}) for to in greased(bench.tables.latch.friction)]
    return outcome(
        bench.least(options, does),
        lambda change, _: (
            ": a latch that rubs less, kept clean and greased to a friction of "
            f"{change.latch['friction']['median']:g}"
        ),
        f"a latch kept clean and greased (a friction of {GREASED:g})" if options else "",
    )


def _as_kind(kind: str) -> dict[str, Any]:
    return {**dict.fromkeys(latch_keys()), "kind": kind}


def _other_kinds(bench: Bench) -> list[str]:
    """The other kinds of latch; those that their own load may let go come last."""
    kinds = [kind for kind in kinds_in(LATCHES) if kind != bench.now.latch_kind]
    return sorted(kinds, key=lambda kind: bool(of_kind("latches", kind, "TRIED_LAST")))


def other_latch(bench: Bench, does: Test) -> Outcome:
    """Another kind with its usual measures, on the same puller, with or without the lever."""

    def options() -> Iterator[Change]:
        for lever_now in dict.fromkeys((bench.now.lever, 1.0)):
            for kind in _other_kinds(bench):
                yield Change({**_as_kind(kind), "lever": lever_now})

    return outcome(
        bench.first(options(), does),
        lambda change, solved: (
            f": a {change.latch['kind']} latch with a lever ratio of {solved.lever:g} instead of "
            f"the {bench.now.latch_kind}"
        ),
        "another latch of the usual measures on this puller",
    )


AIR = "air cylinder"
"""The puller that is proposed in place of another: it gives the most."""


def _by_air() -> dict[str, Any]:
    """An air cylinder, the keys of any other puller left out."""
    return {**dict.fromkeys(puller_keys()), "puller": AIR}


def air(bench: Bench, does: Test) -> Outcome:
    """An air cylinder of the usual measures, with or without the lever."""
    if bench.tables.latch.puller == AIR:
        return None
    plain = _by_air()
    same = [Change({**plain, "lever": r}) for r in dict.fromkeys((bench.now.lever, 1.0))]
    return outcome(
        bench.first(same, does),
        lambda _, solved: (
            f": an air cylinder of the usual measures with a lever ratio of {solved.lever:g} "
            f"instead of the {bench.now.puller}"
        ),
        "an air cylinder of the usual measures",
    )


def latch_and_air(bench: Bench, does: Test) -> Outcome:
    """Both at once, when nothing alone does."""
    plain = {**_by_air(), "lever": 1.0}
    return outcome(
        bench.first([Change({**plain, **_as_kind(kind)}) for kind in _other_kinds(bench)], does),
        lambda change, _: (
            f": a {change.latch['kind']} latch on an air cylinder, both of the usual measures"
        ),
        "another latch on an air cylinder of the usual measures",
    )


OTHER_PARTS: tuple[Kind, ...] = (other_latch, air)
"""Another latch or puller instead of a change to the one that is there."""


# ---- what there is to try ------------------------------------------------------------------


def of_kind(folder: str, kind: str, name: str) -> Any:
    """What the module of a kind of gate, latch or puller offers under a name; () without one."""
    return offered(f"soundergate.mechanics.advice.{folder}", kind, name, ())


def on_the_gate(bench: Bench) -> tuple[Kind, ...]:
    """What is worth trying on a gate that sticks."""
    kinds: tuple[Kind, ...] = of_kind("gates", bench.now.gate_kind, "MENDS")
    return kinds


def on_the_latch(bench: Bench) -> tuple[Kind, ...]:
    """What is worth trying on the latch and its puller, the line among it if one pulls it."""
    now = bench.now
    firsts = of_kind("pullers", now.puller, "firsts")
    return (
        *((firsts and firsts(bench)) or (lever,)),
        engaged,
        *of_kind("pullers", now.puller, "MENDS"),
        *of_kind("latches", now.latch_kind, "MENDS"),
        grease,
        *of_kind("pullers", now.puller, "LAST"),
        *of_kind("gates", now.gate_kind, "RELIEFS"),
    )
