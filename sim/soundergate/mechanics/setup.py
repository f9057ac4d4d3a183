"""From a scenario to its solved mechanics: gate, latch, lever and puller of every opening.

Each kind has a module of its name in `gates`, `latches` or `pullers`, which is imported when a
scenario first needs it and offers one function ``solve``:

    gate    solve(gate, opening, site) -> GateSolution
    latch   solve(latch, opening, site, gate: GateSolution) -> LatchSolution     (before the lever)
    puller  solve(latch, opening, site, need: LatchSolution) -> PullerSolution   (after the lever)

``gate``, ``latch`` and ``opening`` are the scenario's own tables (SI); a puller's keys stand in the
latch table. ``need`` is the latch seen from the puller's end of the lever.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from functools import lru_cache
from math import nan
from typing import Any

from soundergate.kinds import module_of
from soundergate.mechanics import measured, unloaded
from soundergate.mechanics import numbers_in_words as words
from soundergate.mechanics.bounded import TooFine
from soundergate.mechanics.latches import lever
from soundergate.mechanics.latches import release_probability as release
from soundergate.mechanics.materials import gate_mass
from soundergate.mechanics.model import Chain, GateSolution, LatchSolution, PullerSolution, Site
from soundergate.mechanics.opening import OpeningSetup, Setup
from soundergate.mechanics.pullers.animal import site_of
from soundergate.scenario import unit_system
from soundergate.scenario.distributions import Duration, LogNormal
from soundergate.scenario.errors import Problem, ScenarioError
from soundergate.scenario.messages import ABSENT, look_up
from soundergate.scenario.unit_system import system_of


def solve(scenario: Any) -> Setup:
    """The mechanics of every opening of a `Scenario`.

    An opening is solved once for its own gate and latch, whatever else the scenario says (cached
    by those inputs); openings that are alike share one solution.

    Raises
    ------
    ScenarioError : a gate or latch whose figures cannot be built, naming the key.
    """
    site = site_of(scenario)
    return Setup(tuple(_solved(scenario, i, site) for i in range(len(scenario.opening))))


def _solved(scenario: Any, index: int, site: Site) -> OpeningSetup:
    opening = scenario.opening[index]
    try:
        try:
            _refuse_unloaded(opening, scenario)
            return _solve_opening(_inputs(opening, site))
        except TooFine as too_fine:
            raise _too_light(opening, too_fine, scenario) from None
    except Problem as problem:
        key = f"opening.{index + 1}.{problem.key}".rstrip(".")
        written = look_up(scenario.raw, key.split("."))
        raise ScenarioError(
            problem.text,
            file=scenario.source,
            key=key,
            hint=words.told(problem.hint or "", unit_system.units(system_of(scenario.raw))),
            **({} if written is ABSENT else {"value": written}),
        ) from None
    except ValueError as error:
        raise ScenarioError(
            f"these measures cannot be built: {error}",
            file=scenario.source,
            key=f"opening.{index + 1}",
        ) from None


_WEIGHED_BY = ("mass", "sheet", "plywood", "boards", "mesh", "frame")


def _too_light(opening: Any, error: TooFine, scenario: Any) -> Problem:
    """A gate whose motion cannot be followed, told at the key that says what it weighs."""
    gate, units = opening.gate, unit_system.units(system_of(scenario.raw))
    written = [key for key in _WEIGHED_BY if key in gate.model_fields_set]
    mass = units.mass(gate_mass(gate, opening.width, opening.height))
    size = f"{units.length(opening.width)} wide and {units.length(opening.height)} high"
    return Problem(
        f"{error}; the gate weighs {mass} and is {size}",
        key=f"gate.{written[0] if written else 'kind'}",
        hint="a heavier gate would do, or one of a smaller width or height, or in less wind (its "
        "key wind)",
    )


def _refuse_unloaded(opening: Any, scenario: Any) -> None:
    """Raise Problem for a gate that its latch need not hold."""
    if opening.latch is None:
        return
    gate = _solve_gate(_gate_inputs(opening))
    if unloaded.is_unloaded(gate):
        raise unloaded.problem(opening, gate, unit_system.units(system_of(scenario.raw)))


@dataclass(frozen=True)
class _Inputs:
    """All that the mechanics of an opening depend on; equal texts mean equal solutions."""

    text: str
    site: Site
    opening: Any = field(compare=False)


_NOT_STEEL: dict[str, Any] = {
    "bait_distance": True,
    "bearing": True,
    "gate": {"lock_fails", "late_entry"},
}


def _inputs(opening: Any, site: Site) -> _Inputs:
    pulled_by_animal = opening.latch is not None and opening.latch.by_animal
    text = opening.model_dump_json(exclude=_NOT_STEEL)
    return _Inputs(text, site if pulled_by_animal else Site(), opening)


def read_by_steel(scenario: Any) -> tuple[Hashable, ...]:
    """All that `solve` reads of a scenario, one value an opening: what leaves these as they are
    leaves every solution as it is."""
    site = site_of(scenario)
    return tuple(_inputs(opening, site) for opening in scenario.opening)


def _gate_inputs(opening: Any) -> _Inputs:
    return _Inputs(opening.model_dump_json(exclude=_NOT_STEEL | {"latch": True}), Site(), opening)


@lru_cache(maxsize=1024)
def _solve_gate(inputs: _Inputs) -> GateSolution:
    """The gate alone, which many latches may share (its curve is the costly part)."""
    opening = measured.as_built(inputs.opening)
    gate = _solver("gates", opening.gate.kind)(opening.gate, opening, inputs.site)
    return measured.timed(opening, gate)


@lru_cache(maxsize=1024)
def _solve_opening(inputs: _Inputs) -> OpeningSetup:
    site = inputs.site
    gate = _solve_gate(_gate_inputs(inputs.opening))
    opening = measured.as_built(inputs.opening)
    if opening.latch is None:
        return _joined(opening, gate, NO_LATCH, NO_PULLER, site)
    solve_latch = _solver("latches", opening.latch.kind)
    at_latch = measured.freed_by(opening, solve_latch(opening.latch, opening, site, gate))
    need = lever.from_puller_end(at_latch, opening.latch.lever)
    pull = _solver("pullers", opening.latch.puller)(opening.latch, opening, site, need)
    return _joined(opening, gate, at_latch, pull, site)


def _solver(folder: str, kind: str) -> Callable[..., Any]:
    solve: Callable[..., Any] = module_of(f"soundergate.mechanics.{folder}", kind).solve
    return solve


NO_LATCH = LatchSolution("none", 0.0, 0.0, 0.0)
NO_PULLER = PullerSolution("none", 0.0, 0.0, Duration.fixed(0.0))


def _joined(
    opening: Any, gate: GateSolution, at_latch: LatchSolution, pull: PullerSolution, site: Site
) -> OpeningSetup:
    """Gate, latch (before the lever) and puller of one opening put together."""
    ratio = opening.latch.lever if opening.latch is not None else 1.0
    need = lever.from_puller_end(at_latch, ratio)
    required = LogNormal(need.pull_required, need.pull_required_sigma)
    available = LogNormal(pull.available, pull.available_sigma)
    by_animal = pull.kind == "animal"
    has_margin = not by_animal and pull.kind != "none" and required.median > 0.0
    return OpeningSetup(
        gate_kind=gate.kind,
        latch_kind=at_latch.kind,
        puller=pull.kind,
        width=opening.width,
        height=opening.height,
        mass=gate.mass,
        holding_load=gate.holding_load,
        pull_required=required.median,
        pull_required_sigma=required.sigma,
        pull_available=0.0 if by_animal else available.median,
        pull_available_sigma=0.0 if by_animal else available.sigma,
        required=need.required,
        available=LogNormal(0.0) if by_animal else pull.given,
        trip_travel=need.trip_travel,
        margin=release.margin(required, available) if has_margin else nan,
        hang_probability=gate.hang_probability,
        jams=gate.jams,
        release_delay=pull.delay,
        curve=gate.curve,
        lift_force=gate.lift_force,
        pry_force=gate.pry_force,
        set_weight=gate.set_weight,
        locked=gate.locked,
        passable=gate.passable,
        cautions=tuple(dict.fromkeys(gate.cautions + at_latch.cautions + pull.cautions)),
        notes=gate.notes + at_latch.notes + pull.notes,
        lever=ratio,
        gate=gate,
        latch=at_latch,
        pull=pull,
        chain=Chain(at_latch, ratio, pull, site),
    )
