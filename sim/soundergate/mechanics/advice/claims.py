"""What the trade says of gates and latches, put to the test by computing it.

Every claim is common practice, no source. Each is worked out for one stated case from the
package's own defaults and broken into checks that can fail: ``agree`` when all of them come out,
``disagree`` when none does, ``depends`` otherwise. No verdict is written down anywhere: change the
case and it may change.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import degrees, inf, radians
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from soundergate.mechanics import numbers_in_words as words
from soundergate.mechanics.advice.claims_case import Case
from soundergate.mechanics.gates import top_hinged
from soundergate.mechanics.latches import knee
from soundergate.mechanics.latches.release_probability import probability
from soundergate.mechanics.opening import OpeningSetup
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.unit_system import SI, Units
from soundergate.scenario.units import format_quantity

if TYPE_CHECKING:
    import pandas as pd

ORIGIN = "common practice, no source"

SURE = 0.9
"""Release probability that counts as releasing."""


@dataclass(frozen=True)
class Verdict:
    """One claim with what came out.

    ``checks`` maps each part of the claim to whether it came out; ``figures`` maps a name with its
    SI unit to a number. Texts give figures in both systems: `words.told` keeps one.
    """

    claim: str
    checks: Mapping[str, bool]
    reason: str
    figures: Mapping[str, float]
    origin: str = ORIGIN

    @property
    def verdict(self) -> Literal["agree", "disagree", "depends"]:
        """From the checks alone."""
        if all(self.checks.values()):
            return "agree"
        return "depends" if any(self.checks.values()) else "disagree"


def examine(case: Case | None = None) -> tuple[Verdict, ...]:
    """All claims, judged for one case (the default one if None)."""
    chosen = case or Case()
    return tuple(judge(chosen) for judge in CLAIMS)


def table(verdicts: tuple[Verdict, ...], units: Units = SI) -> pd.DataFrame:
    """One row a claim, as text: claim, verdict, what came out and what did not, reason, figures."""
    import pandas as pd

    rows = [
        {
            "claim": v.claim,
            "verdict": v.verdict,
            "came out": "; ".join(name for name, good in v.checks.items() if good),
            "did not": "; ".join(name for name, good in v.checks.items() if not good),
            "reason": words.told(v.reason, units),
            "figures": "; ".join(": ".join(pair) for pair in figures(v, units)),
            "origin": v.origin,
        }
        for v in verdicts
    ]
    return pd.DataFrame(rows)


def figures(verdict: Verdict, units: Units) -> list[tuple[str, str]]:
    """The figures of a claim for people: name and value with its unit."""
    return [words.figure(name, value, units) for name, value in verdict.figures.items()]


def drop_fastest(case: Case) -> Verdict:
    """Against a top-hinged gate from level and sprung side-hinged gates of one and two leaves."""
    drop, level = case.opening("drop"), case.opening("top-hinged")
    leaves = {
        "one sprung leaf": case.opening("side-hinged"),
        "two sprung leaves": case.opening("side-hinged", leaves=2),
    }
    gates = {"drop": drop, "top-hinged from level": level, **leaves}
    first = min(gates, key=lambda name: case.barred(gates[name]))
    return Verdict(
        "drop gates shut fastest",
        {
            "is shut before a top-hinged gate": drop.curve.shut_time < level.curve.shut_time,
            "bars a juvenile before a top-hinged gate": case.barred(drop) < case.barred(level),
            "bars an adult before a top-hinged gate": case.barred(drop, "adult")
            < case.barred(level, "adult"),
            **{
                f"is shut before {name}": drop.curve.shut_time < o.curve.shut_time
                for name, o in leaves.items()
            },
        },
        f"to be shut is not all that counts: the first to bar a juvenile is {first}, after "
        f"{case.barred(gates[first]):.2f} s, the drop gate after {case.barred(drop):.2f} s; weight "
        "sets the pace of the gates that fall, while a spring can be made as strong as one likes",
        {
            **{f"{name}, bars a juvenile (s)": case.barred(o) for name, o in gates.items()},
            **{f"{name}, shut (s)": o.curve.shut_time for name, o in gates.items()},
        },
    )


def top_hinged_slower(case: Case) -> Verdict:
    """From level, against a drop gate, with what makes it slow in use beside it."""
    drop, level = case.opening("drop"), case.opening("top-hinged")
    plate = _plate(case, level)
    back = 0.5 * case.height
    return Verdict(
        "top-hinged gates are slower than drop gates",
        {
            "bars a juvenile later": case.barred(level) > case.barred(drop),
            "bars an adult later": case.barred(level, "adult") > case.barred(drop, "adult"),
            "is shut later": level.curve.shut_time > drop.curve.shut_time,
        },
        "the edge of a level plate starts half as fast again as a free fall, so it begins ahead of "
        "a falling gate and loses that near the end. What slows it in use is how high it has to be "
        "set, the space it sweeps (a back there props it), wind, hinge friction, and a bounce "
        "without a catch",
        {
            "level, bars a juvenile (s)": case.barred(level),
            "drop, bars a juvenile (s)": case.barred(drop),
            "level, bars an adult (s)": case.barred(level, "adult"),
            "drop, bars an adult (s)": case.barred(drop, "adult"),
            "level, shut (s)": level.curve.shut_time,
            "drop, shut (s)": drop.curve.shut_time,
            "depth swept (m)": plate.sweep_depth(),
            "propped at, by a back half as high as it and as far off (deg)": degrees(
                top_hinged.contact_angle(plate.height, back, back)
            ),
            "gust that stops it half-way down (m/s)": plate.stopping_gust(radians(45.0)),
        },
    )


def _plate(case: Case, opening: OpeningSetup) -> top_hinged.TopHinged:
    return top_hinged.TopHinged(case.width, case.height, opening.mass)


def nearly_upright_slowest(case: Case) -> Verdict:
    """Up to 5 degrees off upright, against level, a drop gate and a sprung leaf."""
    steps = (90.0, 120.0, 150.0, 165.0, 175.0)
    solved = [case.opening("top-hinged", set_angle=f"{a} deg") for a in steps]
    shut = [o.curve.shut_time for o in solved]
    load = [o.holding_load for o in solved]
    drop, leaf = case.opening("drop").curve, case.opening("side-hinged").curve
    top = top_hinged.TopHinged(case.width, case.height, solved[0].mass, radians(steps[-1]))
    return Verdict(
        "set nearly upright for a weak puller, a top-hinged gate is slowest of all and holds least",
        {
            "slower the nearer upright": bool((np.diff(shut) > 0.0).all()),
            "slower than a drop gate": shut[-1] > drop.shut_time,
            "slower than a sprung leaf": shut[-1] > leaf.shut_time,
            "holds less the nearer upright": bool((np.diff(load) < 0.0).all()),
        },
        "the nearer upright, the less of its weight the latch carries (as the sine of the angle "
        f"off upright), here {100.0 * load[-1] / load[0]:.0f} % of that from level, and the plate "
        "starts ever more "
        f"slowly: {shut[-1] / shut[0]:.1f} times the time; a wind of "
        f"{words.wind(top.holding_gust())} can then hold it up",
        {
            **{f"set at {a:.0f} deg, shut (s)": t for a, t in zip(steps, shut, strict=True)},
            **{f"set at {a:.0f} deg, load (N)": f for a, f in zip(steps, load, strict=True)},
            "drop, shut (s)": drop.shut_time,
            "sprung leaf, shut (s)": leaf.shut_time,
        },
    )


def lever_with_weak_solenoid(case: Case) -> Verdict:
    """On the wide drop gate: the weak solenoid alone, with the least lever, the air cylinder."""
    pull = format_quantity(case.weak_pull, "N", 9)
    solenoid: dict[str, Any] = {"kind": "pin", "puller": "solenoid", "pull": pull}
    alone, air = case.opening("drop", case.wide, solenoid), case.opening("drop", case.wide)
    ratio = float(
        next((n for n in range(1, 31) if _released(case, {**solenoid, "lever": n}) >= SURE), inf)
    )
    travel = alone.latch.trip_travel * ratio
    reach = case.short_stroke >= travel
    return Verdict(
        "heavy drop gates need a lever with a weak solenoid and none with an air cylinder",
        {
            "the solenoid alone is too weak": alone.release_probability < SURE,
            "a lever gives it force enough": ratio < inf,
            "the lever leaves it stroke enough": reach,
            "the air cylinder does without": air.release_probability >= SURE,
        },
        _lever_reason(case, ratio, travel, reach),
        {
            "gate mass (kg)": alone.mass,
            "pull needed (N)": alone.pull_required,
            "solenoid gives (N)": alone.pull_available,
            "releases, solenoid alone (share)": alone.release_probability,
            "least whole lever ratio": ratio,
            "travel at that ratio (mm)": travel * 1e3,
            "air cylinder gives (N)": air.pull_available,
            "releases, air cylinder alone (share)": air.release_probability,
        },
    )


def _lever_reason(case: Case, ratio: float, travel: float, reach: bool) -> str:
    if ratio == inf:
        return "no lever up to 30 gives the force; the travel it asks grows with its ratio"
    text = (
        f"a lever of {ratio:.3g} gives the force and asks {words.travel(travel)} of travel of a "
        f"solenoid that moves {words.travel(case.short_stroke)}"
    )
    if reach:
        return text
    return f"{text}: the pin may be in by {words.travel(case.short_stroke / ratio)} only"


def _released(case: Case, latch: dict[str, Any]) -> float:
    """Release probability of the wide drop gate as far as force goes."""
    opening = case.opening("drop", case.wide, latch)
    return probability(
        LogNormal(opening.pull_required, opening.pull_required_sigma),
        LogNormal(opening.pull_available, opening.pull_available_sigma),
    )


def easiest_to_open(case: Case) -> Verdict:
    """Prying from inside, to begin and to make room for a juvenile, without and with a lock."""
    names = ("top-hinged", "drop", "side-hinged")
    kinds = {name: case.opening(name, lock=False) for name in names}
    begin = {name: min(o.lift_force, o.pry_force) for name, o in kinds.items()}
    room = {name: _pry(o, case.need(o)) for name, o in kinds.items()}
    by_default = all(case.opening(name).locked for name in names)
    return Verdict(
        "top-hinged gates are the easiest for trapped pigs to open, drop gates the hardest",
        {
            "top-hinged easiest to begin": min(names, key=begin.__getitem__) == "top-hinged",
            "drop hardest to begin": max(names, key=begin.__getitem__) == "drop",
            "top-hinged easiest to get a juvenile out": min(names, key=room.__getitem__)
            == "top-hinged",
            "drop hardest to get a juvenile out": max(names, key=room.__getitem__) == "drop",
            "also so with the usual catch": not by_default,
        },
        "hanging shut a plate resists with nothing but its hinge, a drop gate with its whole "
        f"weight from the very start; to let a juvenile out asks least of the "
        f"{min(names, key=room.__getitem__)} gate, and a catch that holds decides for any kind",
        {
            **{f"{name}, to begin (N)": force for name, force in begin.items()},
            **{f"{name}, room for a juvenile (N)": force for name, force in room.items()},
        },
    )


def _pry(opening: OpeningSetup, clear: float) -> float:
    """Force (N) of the lesser way with ``clear`` (m) free."""
    by_clear = opening.gate.pry_by_clear
    if by_clear is None:
        return min(opening.lift_force, opening.pry_force)
    return float(np.interp(clear, opening.curve.clear, by_clear))


def knee_light(case: Case) -> Verdict:
    """2 to 10 degrees over centre, greased and dry, against a pin in double shear."""
    radius, link = 0.00635, 0.1524
    pulls: dict[tuple[float, float], float] = {}
    for friction in (0.12, 0.4):
        psi = knee.friction_angle(friction, radius, radius, link)
        for angle in (2.0, 5.0, 10.0):
            pulls[friction, angle] = knee.release_ratio(radians(angle), psi)
    worst = max(pulls, key=lambda key: pulls[key] / key[0])
    return Verdict(
        "a knee latch holds strongly and releases with little force",
        {
            "holds any load, even without friction": all(
                knee.holds_itself(radians(angle), 0.0) for _, angle in pulls
            ),
            "releases with less than a pin, dry": all(
                pull < 2.0 * mu for (mu, _), pull in pulls.items() if mu == 0.4
            ),
            "releases with less than a pin, greased": all(
                pull < 2.0 * mu for (mu, _), pull in pulls.items() if mu == 0.12
            ),
        },
        "over centre its stop carries what the links can bear; to break the line takes a share of "
        "the load that grows with how far over centre it stands and with friction: "
        f"{worst[1]:.0f} degrees over centre with friction {worst[0]} that is {pulls[worst]:.2f}, "
        f"where a pin takes {2.0 * worst[0]:.2f}",
        {
            **{
                f"knee {angle:.0f} deg, friction {mu}: pull / load": pull
                for (mu, angle), pull in pulls.items()
            },
            **{f"pin, friction {mu}: pull / load": 2.0 * mu for mu in (0.12, 0.4)},
        },
    )


def wide_heavier(case: Case) -> Verdict:
    """Five widths up to the wide one, in every kind of gate with a latch."""
    widths = np.linspace(0.75 * case.width, case.wide, 5).tolist()
    names = ("drop", "top-hinged", "side-hinged")
    solved = {name: [case.opening(name, w) for w in widths] for name in names}
    checks: dict[str, bool] = {}
    numbers: dict[str, float] = {}
    for name, row in solved.items():
        checks[f"{name}: heavier"] = bool((np.diff([o.mass for o in row]) > 0.0).all())
        loads = [o.holding_load for o in row]
        checks[f"{name}: more load on the latch"] = bool((np.diff(loads) > 0.0).all())
        for o in (row[0], row[-1]):
            wide = f"{name}, {words.distance(o.width)} wide"
            numbers[f"{wide}, mass (kg)"] = o.mass
            numbers[f"{wide}, load (N)"] = o.holding_load
    return Verdict(
        "wide gates are heavier and need stronger latches",
        checks,
        "mass grows with width in every kind; so does the latch's load where the weight hangs on "
        "the latch, while a sprung leaf is held at its edge, where a longer arm needs less",
        numbers,
    )


CLAIMS: tuple[Callable[[Case], Verdict], ...] = (
    drop_fastest,
    top_hinged_slower,
    nearly_upright_slowest,
    lever_with_weak_solenoid,
    easiest_to_open,
    knee_light,
    wide_heavier,
)
