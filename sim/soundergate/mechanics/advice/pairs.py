"""Gates against latches for one opening: which pairs release, and how soon they bar the way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from typing import TYPE_CHECKING, Any

from soundergate.kinds import offered
from soundergate.mechanics import clearance as bodies
from soundergate.mechanics import setup
from soundergate.mechanics.advice import mending
from soundergate.mechanics.advice.check import passes
from soundergate.mechanics.advice.pullers import animal
from soundergate.mechanics.advice.unmeasured import without
from soundergate.mechanics.advice.weak_link import weak_link
from soundergate.mechanics.opening import OpeningSetup
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.gates import choice
from soundergate.scenario.gates.base import Gate
from soundergate.scenario.latches import base
from soundergate.scenario.latches.choice import common_keys, puller_keys
from soundergate.scenario.loading import with_values
from soundergate.scenario.variants import kinds_in

if TYPE_CHECKING:
    import pandas as pd


def _forms(kind: str) -> dict[str, Mapping[str, Any]]:
    """The forms in which a kind of gate is compared, by name: its keys; most have one form."""
    forms: dict[str, Mapping[str, Any]] = offered(
        "soundergate.mechanics.advice.gates", kind, "FORMS", {kind: {}}
    )
    return {name: {"kind": kind, **keys} for name, keys in forms.items()}


GATES: Mapping[str, Mapping[str, Any]] = {
    name: form
    for kind, module in kinds_in(choice.GATES).items()
    if not module.CLASSES[0].one_way
    for name, form in _forms(kind).items()
}
LATCHES = tuple(kinds_in(base.LATCHES))


def gate_words(name: str) -> str:
    """A form of gate in a sentence: "drop gate", "side-hinged gate of one leaf"."""
    kind, _, leaves = name.partition(", ")
    return f"{kind} gate{' of ' + LEAVES[leaves] if leaves else ''}"


LEAVES = {"single": "one leaf", "double": "two leaves"}


@dataclass(frozen=True)
class Pair:
    """One gate with one latch in this opening.

    ``release_time`` s is the median from the trigger to the gate moving, ``juvenile_time`` s the
    median from the trigger until a median juvenile no longer gets through, ``shut_time`` s from
    the trigger until shut. ``feasible`` says that `check` would let it pass; otherwise ``why``
    says what fails.
    """

    gate: str
    latch: str
    feasible: bool
    why: str
    margin: float
    release_probability: float
    shut_probability: float
    hang_probability: float
    release_time: float
    juvenile_time: float
    shut_time: float


@dataclass(frozen=True)
class Pairs:
    """All pairs, the feasible first, soonest past a juvenile first among them."""

    pairs: tuple[Pair, ...]

    @property
    def best(self) -> Pair | None:
        """The feasible pair that bars a juvenile soonest; None when no pair is feasible."""
        return self.pairs[0] if self.pairs and self.pairs[0].feasible else None

    @property
    def table(self) -> pd.DataFrame:
        """One row a pair, times in s."""
        import pandas as pd

        return pd.DataFrame([vars(pair) for pair in self.pairs])


def compare_pairs(scenario: Any, opening: int = 0) -> Pairs:
    """Every gate kind with every latch kind in one opening of a `Scenario`, on its puller.

    Materials, lock, wind and the puller's own keys are kept; keys that belong to one kind of gate
    or latch are kept for that kind and take their defaults for the others.

    Raises
    ------
    ScenarioError : the opening is a one-way entrance, which has no latch.
    """
    if scenario.opening[opening].latch is None:
        raise ScenarioError(
            "a one-way entrance has no latch to compare",
            file=scenario.source,
            key=f"opening.{opening + 1}.gate.kind",
            value=scenario.opening[opening].gate.kind,
        )
    found = [
        _pair(scenario, opening, name, gate, latch)
        for name, gate in GATES.items()
        for latch in LATCHES
    ]
    return Pairs(tuple(sorted(found, key=lambda pair: (not pair.feasible, pair.juvenile_time))))


def _pair(scenario: Any, index: int, name: str, gate: Mapping[str, Any], latch: str) -> Pair:
    written = scenario.raw["opening"][index]
    tables = {
        f"opening.{index + 1}.gate": gate_table(written["gate"], gate),
        f"opening.{index + 1}.latch": _latch_table(written.get("latch", {}), latch),
    }
    try:
        changed = with_values(without(scenario), tables)
        solved = setup.solve(changed).openings[index]
    except ScenarioError as error:
        nothing = (float("nan"), 0.0, 0.0, 0.0, inf, inf, inf)
        return Pair(name, latch, False, error.problem, *nothing)
    why = "" if passes(solved) else weak_link(solved) + _remedy(solved)
    delay = solved.release_delay.median()
    return Pair(
        gate=name,
        latch=latch,
        feasible=not why,
        why=why,
        margin=solved.margin,
        release_probability=solved.release_probability,
        shut_probability=solved.shut_probability,
        hang_probability=solved.hang_probability,
        release_time=delay,
        juvenile_time=delay + solved.curve.time_to(juvenile_clearance(changed, solved)),
        shut_time=delay + solved.curve.shut_time,
    )


def _remedy(opening: OpeningSetup) -> str:
    """The levers that would make the pair feasible, if only the latch's release is amiss."""
    if opening.puller == "animal":
        ratio = None if opening.jams else animal.lever_that_does(opening)
        return "" if ratio is None else f"; a lever ratio of {ratio:g} would do"
    ratios = None if opening.jams else mending.levers(opening)
    if ratios is None:
        return ""
    least, greatest = ratios
    if greatest < 1.005 * least:
        return f"; a lever ratio of {least:.2g} would do"
    most = "up" if greatest == inf else f"to {greatest:.2g}"
    return f"; a lever ratio from {least:.2g} {most} would do"


def juvenile_clearance(scenario: Any, opening: OpeningSetup) -> float:
    """The clearance (m) that a median juvenile needs: to duck under, or to squeeze through."""
    return bodies.clearance(scenario, "juvenile", opening.curve.measure)


def gate_table(written: Mapping[str, Any], gate: Mapping[str, Any]) -> dict[str, Any]:
    """The gate as written if it is of this kind, else the kind with the common keys kept."""
    if written.get("kind") == gate["kind"]:
        return {**written, **gate}
    common = set(Gate.model_fields) - {"kind"}
    return {**{k: v for k, v in written.items() if k in common}, **gate}


def _latch_table(written: Mapping[str, Any], kind: str) -> dict[str, Any]:
    """The latch as written if it is of this kind, else the kind with its puller's keys kept."""
    if written.get("kind") == kind:
        return dict(written)
    kept = common_keys() | puller_keys()
    return {**{k: v for k, v in written.items() if k in kept}, "kind": kind}
