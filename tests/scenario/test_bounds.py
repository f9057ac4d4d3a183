"""Every quantity of gates, latches and pullers has the limits of what can be built."""

import pytest

from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.fields import Number, Quantity, Whole
from soundergate.scenario.gates import GATE_CLASSES
from soundergate.scenario.latches import LATCH_CLASSES
from soundergate.scenario.loading import loads, with_values
from soundergate.scenario.schema import Opening
from soundergate.scenario.spread_fields import SpreadField


def specs():
    for table in (Opening, *GATE_CLASSES, *LATCH_CLASSES):
        for name, field in table.model_fields.items():
            for spec in field.metadata:
                if isinstance(spec, Quantity | Number | Whole | SpreadField):
                    yield f"{table.__name__}.{name}", spec


SPECS = dict(specs())


@pytest.mark.parametrize("name", [n for n in SPECS if n != "Opening.bearing"])
def test_there_is_a_greatest_value(name: str) -> None:
    spec = SPECS[name]
    assert spec.at_most is not None or getattr(spec, "below", None) is not None


def test_the_walk_finds_them() -> None:
    assert len(SPECS) > 100
    assert {"Opening.width", "PinAirCylinder.bore", "SpringGate.spring_rate"} <= set(SPECS)


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
