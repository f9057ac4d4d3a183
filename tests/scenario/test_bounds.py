"""Every quantity of gates, latches and pullers has the limits of what can be built."""

import pytest

from soundergate.scenario.errors import Problem, ScenarioError
from soundergate.scenario.fields import Number, Quantity, Whole
from soundergate.scenario.gates.choice import GATE_CLASSES
from soundergate.scenario.latches.choice import LATCH_CLASSES
from soundergate.scenario.loading import loads, with_values
from soundergate.scenario.schema import Opening
from soundergate.scenario.spread_fields import SpreadField
from soundergate.scenario.units import DIMENSIONS, read_quantity


def specs():
    for table in (Opening, *GATE_CLASSES, *LATCH_CLASSES):
        for name, field in table.model_fields.items():
            for spec in field.metadata:
                if isinstance(spec, Quantity | Number | Whole | SpreadField):
                    yield f"{table.__name__}.{name}", spec


SPECS = dict(specs())


def test_there_is_a_greatest_value() -> None:
    endless = {
        name
        for name, spec in SPECS.items()
        if spec.at_most is None and getattr(spec, "below", None) is None
    }
    assert endless == {"Opening.bearing"}


def test_the_walk_finds_them() -> None:
    assert len(SPECS) > 100
    assert {"Opening.width", "PinAirCylinder.bore"} <= set(SPECS)


@pytest.mark.parametrize(
    ("key", "value", "limit"),
    [
        ("opening.latch.bore", "50 in", "it must be at most 12 in"),
        ("opening.latch.bore", "285 in", "it must be at most 12 in"),
        ("opening.latch.pressure", "9000 psi", "it must be at most 500 psi"),
        ("opening.latch.stroke", "58 ft", "it must be at most 10 ft"),
        ("opening.latch.moving_mass", "1e-9 kg", "it must be at least 1 g"),
        ("opening.width", "0.001 in", "it must be at least 1 in"),
        ("opening.gate.mass", "1e-6 kg", "it must be at least 1 oz"),
    ],
)
def test_the_message_names_the_limit(night_text: str, key: str, value: str, limit: str) -> None:
    air = {"kind": "pin", "puller": "air cylinder"}
    night = with_values(loads(night_text), {"opening.1.latch": air})
    with pytest.raises(ScenarioError) as caught:
        with_values(night, {key.replace("opening", "opening.1"): value})
    assert caught.value.hint == limit
    assert "out of range" in caught.value.problem
    assert "atmosphere" not in caught.value.problem


@pytest.mark.parametrize("name", sorted(DIMENSIONS))
def test_what_is_too_small_to_be_reckoned_with_is_refused(name: str) -> None:
    """Its square would be 0, by which something is divided somewhere; 0 itself may be said."""
    si = DIMENSIONS[name].si
    assert read_quantity(f"0 {si}", name) == 0.0
    for tiny in ("1e-300", "-1e-200", "9e-16"):
        if name == "time":
            assert read_quantity(f"{tiny} {si}", name) == float(tiny)
            continue
        with pytest.raises(Problem, match="not believable") as caught:
            read_quantity(f"{tiny} {si}", name)
        assert caught.value.hint == f"it is 0, or at least 1e-15 {si}"


def test_a_pin_of_no_thickness_is_refused_where_it_stands(night_text: str) -> None:
    with pytest.raises(ScenarioError, match="not believable") as caught:
        with_values(loads(night_text), {"opening.1.latch.diameter": "1e-300 in"})
    assert caught.value.key == "opening.1.latch.diameter"
