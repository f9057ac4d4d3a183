"""No motion is followed for ever: solvers are counted, not timed."""

from collections.abc import Callable
from math import inf, isfinite, pi

import pytest
import scipy.integrate

from soundergate.mechanics import bounded, setup
from soundergate.mechanics.pullers import air_flow
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import from_table
from soundergate.scenario.schema import Scenario

Trap = Callable[..., Scenario]


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How often each run of the solver asked for a slope."""
    runs: list[int] = []
    real = scipy.integrate.solve_ivp

    def counting(slope, *args, **keywords):
        runs.append(0)
        number = len(runs) - 1

        def counted(t, y):
            runs[number] += 1
            return slope(t, y)

        return real(counted, *args, **keywords)

    monkeypatch.setattr(scipy.integrate, "solve_ivp", counting)
    return runs


AIR = {"kind": "pin", "puller": "air cylinder"}
COIL = {"kind": "pin", "puller": "solenoid"}
EXTREMES = [
    ({"kind": "drop"}, {**AIR, "bore": "12 in", "moving_mass": "10 g"}),
    ({"kind": "drop"}, {**AIR, "bore": "12 in", "lever": 100, "stroke": "10 ft"}),
    ({"kind": "drop"}, {**AIR, "bore": "0.1 in", "rod": "0.05 in"}),
    ({"kind": "drop"}, {**COIL, "turns": 3000, "plunger_area": "10 cm^2", "saturation": "0.1 T"}),
    ({"kind": "drop"}, {**COIL, "turns": 30000, "plunger_area": "100 cm^2", "volts": "400 V"}),
    ({"kind": "side-hinged", "mass": "0.1 kg"}, AIR),
    ({"kind": "side-hinged", "spring_rate": "20000 N*m"}, AIR),
    ({"kind": "top-hinged", "wind": "60 m/s"}, AIR),
    ({"kind": "top-hinged", "mass": "0.1 kg"}, AIR),
    ({"kind": "drop", "mass": "9000 kg"}, AIR),
]


@pytest.mark.parametrize(("gate", "latch"), EXTREMES)
def test_the_ends_of_what_can_be_built_are_solved_or_refused_in_bounded_steps(
    trap: Trap, asked: list[int], gate: dict, latch: dict
) -> None:
    try:
        (opening,) = setup.solve(trap(gate, latch)).openings
    except ScenarioError as error:
        refused = str(error)
    else:
        refused = ""
        assert isfinite(opening.release_delay.median())
    assert not refused or "too finely" in refused
    assert not refused or ": opening.1.gate." in f": {refused}", "a key that is in the file"
    assert asked
    assert max(asked) <= bounded.MOST + 1


@pytest.mark.parametrize(
    ("gate", "key", "weighs"),
    [
        ({"kind": "push panel", "sheet": "0.01 mm"}, "sheet", '"0.01 mm"'),
        *(
            pytest.param(*same, marks=pytest.mark.slow)
            for same in (
                ({"kind": "push panel", "mass": "30 g", "sheet": "2 mm"}, "mass", '"30 g"'),
                ({"kind": "top-hinged", "plywood": "0.001 mm"}, "plywood", '"0.001 mm"'),
            )
        ),
    ],
)
def test_a_gate_too_light_for_its_size_is_told_at_the_key_that_weighs_it(
    gate: dict, key: str, weighs: str
) -> None:
    latch = {} if gate["kind"] == "push panel" else {"latch": AIR}
    plain = {"width": "4 ft", "height": "3 ft", "gate": {"kind": "push panel"}}
    light = {"width": "8 m", "height": "3 ft", "gate": gate, **latch}
    table = {
        "sounder": {"sows": 2},
        "corral": {"diameter": "30 m"},
        "opening": [plain, light],
        "trigger": {"kind": "line" if latch else "none"},
    }
    with pytest.raises(ScenarioError) as refused:
        setup.solve(from_table(table, "light.toml"))
    told = str(refused.value)
    assert told.startswith(f"light.toml: opening.2.gate.{key} = {weighs}: the gate moves too")
    assert "8 m wide" in told
    assert "a heavier gate would do" in told
    light["gate"] = {**gate, key: "40 kg" if key == "mass" else "1 in"}
    assert setup.solve(from_table(table)).openings, "what is said would do"


def test_what_is_too_fine_is_said(asked: list[int]) -> None:
    with pytest.raises(bounded.TooFine, match="a spring moves too finely to be followed"):
        bounded.integrate(
            lambda t, y: [y[1], -1e14 * y[0]], (0.0, 1.0), [1.0, 0.0], what="a spring", rtol=1e-10
        )
    assert asked == [bounded.MOST + 1]


def barrel(**change: float) -> air_flow.AirPull:
    given = {"area": 0.25 * pi * 0.15**2, "dead_volume": 2e-4, "load": 500.0, "mass": 0.5,
             "travel": 0.05, "supply": 6e5, "path": air_flow.Conductance(8e-9, 0.3)}  # fmt: skip
    return air_flow.AirPull(**{**given, **change})  # type: ignore[arg-type]


def test_a_piston_without_mass_is_timed_as_the_solver_times_a_light_one() -> None:
    """Both are the same flow into the same volume; what differs is the mass's own time."""
    for change in ({}, {"load": 3000.0}, {"travel": 0.2}, {"dead_volume": 1e-3}):
        followed = air_flow.release(barrel(**change)).release_time
        assert air_flow.steady_release(barrel(**change)) == pytest.approx(followed, rel=0.02)
    tank = air_flow.release(barrel(tank=0.05)).release_time
    assert air_flow.steady_release(barrel(tank=0.05)) == pytest.approx(tank, rel=0.1)
    assert air_flow.steady_release(barrel(load=1e5)) == inf
