"""The drop gate's own properties: racking, hanging, energy, what a person lifts."""

from collections.abc import Callable
from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import cumulative_simpson

from soundergate.mechanics.gates.drop import DropGate, from_table
from soundergate.mechanics.materials import gate_mass
from soundergate.scenario.constants import GRAVITY
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.schema import Scenario


def rusty(width: float = 1.2, channel: float = 1.8, mass: float = 20.0, **more: object) -> DropGate:
    """A gate 0.9 m high with one-sided drag worth a twentieth of 20 kg."""
    values: dict = {"friction": LogNormal(0.42, 0.3), "drag": LogNormal(10.0, 0.8), **more}
    return DropGate(width, 0.9, mass, channel, **values)


@given(
    width=st.floats(0.6, 3.0),
    channel=st.floats(1.05, 2.0),
    one_sided=st.floats(0.0, 25.0),
    counterweight=st.floats(0.0, 8.0),
    eccentric=st.floats(0.0, 0.1),
    mu=st.floats(0.05, 0.6),
)
@settings(deadline=None, max_examples=60)
def test_energy_balance(
    width: float,
    channel: float,
    one_sided: float,
    counterweight: float,
    eccentric: float,
    mu: float,
) -> None:
    """Work of gravity = kinetic energy of both masses + friction work, to 1e-6 of the first.

    Friction is summed here contact by contact from the motion found (its acceleration gives the
    rope's tension), which is not how the curve was computed.
    """
    gate = DropGate(
        width,
        0.9,
        25.0,
        channel,
        friction=LogNormal(mu),
        counterweight=counterweight,
        pull_offset=eccentric,
    )
    curve = gate.closing_curve(drag=one_sided)
    if not curve.shuts:
        return
    x = np.linspace(0.0, 0.9, 6001)
    b = np.minimum(0.9, channel - x)
    a = gate.net_force(x, mu, one_sided) / gate.moving_mass(x, mu)
    tension = counterweight * (GRAVITY + a)
    couple = (one_sided * width / 2.0 + tension * eccentric) / b
    rubbed = cumulative_simpson(one_sided + 2.0 * mu * couple, x=x)[-1]
    fallen = (25.0 - counterweight) * GRAVITY * 0.9
    kinetic = 0.5 * (25.0 + counterweight) * float(curve.speed[0]) ** 2
    assert kinetic + rubbed == pytest.approx(fallen, rel=1e-6)


@given(width=st.floats(0.9, 3.0), factor=st.floats(1.02, 1.5))
@settings(deadline=None, max_examples=30)
def test_wider_gates_hang_more_often(width: float, factor: float) -> None:
    narrow, wide = rusty(width), rusty(width * factor)
    assert narrow.hang_probability() < wide.hang_probability() < 1.0


@given(channel=st.floats(1.0, 1.7), longer=st.floats(0.02, 0.5))
@settings(deadline=None, max_examples=30)
def test_longer_channels_hang_less_often(channel: float, longer: float) -> None:
    short, long = rusty(channel=channel), rusty(channel=channel + longer)
    assert short.hang_probability() > long.hang_probability() > 0.0


def test_hang_probability_against_simulation() -> None:
    """200,000 draws of friction and drag; agreement within 4 standard errors (6e-5)."""
    gate = rusty(width=2.4, channel=1.2)
    rng = np.random.default_rng(20240611)
    z = rng.standard_normal((2, 200_000))
    mu, drag = 0.42 * np.exp(0.3 * z[0]), 10.0 * np.exp(0.8 * z[1])
    b = 1.2 - 0.9
    hung = float((drag * (1.0 + mu * 2.4 / b) >= 20.0 * GRAVITY).mean())
    error = (hung * (1 - hung) / 200_000) ** 0.5
    assert hung > 0.01
    assert gate.hang_probability() == pytest.approx(hung, abs=4 * error)


def test_no_scatter_makes_hanging_certain_or_impossible() -> None:
    sure = {"friction": LogNormal(0.42), "drag": LogNormal(10.0)}
    assert rusty(**sure).hang_probability() == 0.0
    stuck = rusty(friction=LogNormal(0.42), drag=LogNormal(150.0))
    assert stuck.hang_probability() == 1.0
    assert stuck.solution().jams


def test_a_gate_raised_out_of_its_channels_jams_with_a_reason() -> None:
    solved = rusty(channel=0.9).solution()
    assert solved.jams
    assert solved.hang_probability == 1.0
    assert "out of its channels" in solved.notes[0]
    assert np.isinf(solved.curve.time[:-1]).all()
    assert np.isinf(solved.curve.rest_time[5, :5]).all()


def test_a_counterweight_as_heavy_as_the_gate_jams() -> None:
    solved = rusty(counterweight=20.0).solution()
    assert solved.jams
    assert solved.holding_load == 0.0
    assert "counterweight" in solved.notes[0]


def test_side_load_brakes_by_friction_alone() -> None:
    """a = g - mu N/m."""
    leaned = rusty(side_load=100.0, drag=LogNormal(0.0))
    assert leaned.acceleration(0.3, 0.42, 0.0) == pytest.approx(GRAVITY - 0.42 * 100.0 / 20.0)
    assert leaned.hang_probability() > 0.0


def test_full_weight_from_the_first_millimetre_and_to_set_it() -> None:
    solved = rusty(counterweight=5.0).solution()
    weight = 15.0 * GRAVITY
    assert solved.lift_force == solved.set_weight == pytest.approx(weight)
    assert solved.pry_force > weight
    assert solved.pry_by_clear is not None
    assert solved.pry_by_clear == pytest.approx(weight)


def test_restart_after_being_propped_is_a_fall_from_there() -> None:
    free = rusty(drag=LogNormal(0.0)).solution().curve
    i = 40
    drops = free.clear[i] - free.clear[:i]
    np.testing.assert_allclose(free.rest_time[i, :i], np.sqrt(2 * drops / GRAVITY), rtol=1e-9)
    np.testing.assert_allclose(free.rest_energy[i, :i], 20.0 * GRAVITY * drops, rtol=1e-9)
    assert (free.rest_time[i, i:] == 0.0).all()


def test_strike_energy_is_the_gates_own_not_the_counterweights() -> None:
    solved = rusty(counterweight=10.0, drag=LogNormal(0.0)).solution()
    v = solved.curve.speed[0]
    assert solved.curve.energy[0] == pytest.approx(0.5 * 20.0 * v**2)


def test_lifting_caution_only_above_the_load_constant() -> None:
    light, heavy = rusty(mass=22.9).solution(), rusty(mass=23.1).solution()
    assert len(light.cautions) == 1
    assert "suspended load" in light.cautions[0]
    assert "one person" in heavy.cautions[1]


@pytest.mark.parametrize("name", ["width", "height", "mass", "channel_length"])
def test_sizes_must_be_positive(name: str) -> None:
    with pytest.raises(ValueError, match=f"{name} must be positive, got 0.0"):
        replace(rusty(), **{name: 0.0})


def test_side_loads_of_a_scenario_add_up(trap: Callable[..., Scenario]) -> None:
    """Weight times sin of the lean, wind pressure on the face, and the stated load."""
    gate = {"kind": "drop", "mass": "20 kg", "out_of_plumb": "3 deg", "side_load": "12 N"}
    scenario = trap(gate={**gate, "wind": "10 m/s"}, width="1 m", height="1 m")
    opening = scenario.opening[0]
    built = from_table(opening.gate, opening, 20.0)
    lean = 20.0 * GRAVITY * np.sin(np.radians(3.0))
    wind = 0.5 * 1.204 * 1.17 * 1.0 * 10.0**2  # square plate, Cd 1.17
    assert built.side_load == pytest.approx(12.0 + lean + wind)


def test_wind_passes_through_mesh(trap: Callable[..., Scenario]) -> None:
    gates = ({"mesh": "4 gauge 100x100 mm"}, {"sheet": "14 gauge"})
    loads = []
    for gate in gates:
        opening = trap(gate={"kind": "drop", "wind": "10 m/s", **gate}).opening[0]
        loads.append(from_table(opening.gate, opening, 20.0).side_load)
    covered = 1.0 - (1.0 - 0.05723) ** 2
    assert loads[0] == pytest.approx(covered * loads[1])


def test_an_off_centre_hold_wedges_as_often_as_friction_reaches_the_rule() -> None:
    """P(mu >= b / 2e) for a log-normal mu and no other drag: here e = 0.9 m, b = 0.9 m."""
    gate = rusty(width=2.4, drag=LogNormal(0.0), pull_offset=0.9)
    beyond = NormalDist(np.log(0.42), 0.3).cdf(np.log(0.5))
    assert gate.hang_probability() == pytest.approx(1.0 - beyond)


def by_default(trap: Callable[..., Scenario], **opening: str) -> float:
    """Hang probability of a gate whose file says nothing but its sizes."""
    length = opening.pop("channel", None)
    gate = {"kind": "drop", **({"channel_length": length} if length else {})}
    table = trap(gate, **opening).opening[0]
    return from_table(
        table.gate, table, gate_mass(table.gate, table.width, table.height)
    ).hang_probability()


@given(width=st.floats(2.0, 12.0), wider=st.floats(1.02, 2.0), height=st.floats(1.5, 5.0))
@settings(deadline=None, max_examples=25)
def test_with_defaults_a_wider_gate_hangs_more_often(
    trap: Callable[..., Scenario], width: float, wider: float, height: float
) -> None:
    high = f"{height!r} ft"
    narrow = by_default(trap, width=f"{width!r} ft", height=high)
    assert narrow < by_default(trap, width=f"{width * wider!r} ft", height=high)


@given(width=st.floats(2.0, 12.0), channel=st.floats(3.1, 5.9), longer=st.floats(0.05, 3.0))
@settings(deadline=None, max_examples=25)
def test_with_defaults_longer_channels_hang_less_often(
    trap: Callable[..., Scenario], width: float, channel: float, longer: float
) -> None:
    """Strictly up to the length that guides the whole gate when raised, here 6 ft."""
    wide = f"{width!r} ft"
    short = by_default(trap, width=wide, channel=f"{channel!r} ft")
    long = by_default(trap, width=wide, channel=f"{channel + longer!r} ft")
    assert short > long > 0.0
    more = by_default(trap, width=wide, channel="9 ft")
    assert more == pytest.approx(by_default(trap, width=wide, channel="6 ft"), rel=1e-9)


@pytest.mark.parametrize("mass", ["10 kg", "20 kg", "80 kg"])
def test_the_default_drag_is_a_share_of_the_weight(
    trap: Callable[..., Scenario], mass: str
) -> None:
    opening = trap({"kind": "drop", "mass": mass}).opening[0]
    built = from_table(opening.gate, opening, opening.gate.mass)
    assert built.drag.median == pytest.approx(0.08 * opening.gate.mass * GRAVITY)
    assert built.drag.sigma == 0.9
    halved = trap({"kind": "drop", "mass": mass, "drag_share": 0.04}).opening[0]
    built = from_table(halved.gate, halved, halved.gate.mass)
    assert (built.drag.median, built.drag.sigma) == (
        pytest.approx(0.04 * opening.gate.mass * GRAVITY),
        0.9,
    )


def test_a_four_foot_gate_drags_with_three_pounds_and_a_stated_force_stays(
    trap: Callable[..., Scenario],
) -> None:
    """12 square feet of 14 gauge weigh 37.5 lb; 8 % of that is 3 lbf."""
    lbf = 4.4482216152605
    plain = trap().opening[0]
    mass = gate_mass(plain.gate, plain.width, plain.height)
    assert plain.gate.drag is None
    assert from_table(plain.gate, plain, mass).drag.median == pytest.approx(3.0 * lbf, rel=1e-9)
    for width in ("4 ft", "9 ft"):
        stated = trap({"kind": "drop", "drag": "5 lbf"}, width=width).opening[0]
        assert stated.gate.drag_share is None
        assert from_table(stated.gate, stated, 50.0).drag.median == pytest.approx(5.0 * lbf)


@pytest.mark.parametrize("name", ["width", "height", "mass", "channel_length"])
def test_any_size_above_nothing_is_a_size(name: str) -> None:
    sizes = {"width": 1.0, "height": 1.0, "mass": 1.0, "channel_length": 1.0, name: 1e-6}
    assert getattr(DropGate(**sizes), name) == 1e-6
