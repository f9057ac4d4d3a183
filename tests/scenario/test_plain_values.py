"""What a plain value means: the register's own middle replaced, its distribution and scatter kept.

So a default that is written down changes no night, which is held for every default of the
register, one by one and all together.
"""

from __future__ import annotations

from typing import get_args

import pytest

from shared.plans import plan_of
from soundergate.engine import play
from soundergate.scenario import ScenarioError, loads, with_values
from soundergate.scenario.assumptions import defaults_used
from soundergate.scenario.distributions import Duration, LogNormal
from soundergate.scenario.examples import names, text
from soundergate.scenario.latches.choice import LATCH_CLASSES
from soundergate.scenario.loading import from_table
from soundergate.scenario.pullers.animal import Animal
from soundergate.scenario.register import form, register, registered_id, scatter_id
from soundergate.scenario.spread_fields import DurationField, SpreadField
from soundergate.scenario.toml_table import Table


@pytest.fixture
def pin_trap(traps):
    """A drop gate on a pin, a solenoid and a line, all else left to the register."""
    return traps["latch pin"]


def same_plan(a, b):
    plans = [plan_of(one) for one in (a, b)]
    return all(x.tobytes() == y.tobytes() for x, y in zip(*plans, strict=True))


def test_the_traps_rest_on_every_default(traps):
    used = {entry.id for trap in traps.values() for _, entry in defaults_used(trap)}
    chosen = {e.id for e in register().values() if e.distribution == "choice"}
    assert set(register()) - used - chosen == set()


def test_a_default_written_down_changes_nothing(traps, written):
    """Each once, in a trap that rests on it."""
    tried = set()
    for trap in traps.values():
        defaults = written(trap)
        for path, entry in defaults_used(trap):
            if entry.id not in tried:
                assert with_values(trap, {path: defaults[path]}) == trap, path
                tried.add(entry.id)
    assert len(tried) > 200


def test_all_defaults_written_down_change_nothing(trap_text, written):
    """All at once: the same scenario and the same plan, to the bit."""
    trap = loads(trap_text)
    defaults = written(trap)
    assert len(defaults) > 60
    said = with_values(trap, defaults)
    assert said == trap
    assert same_plan(said, trap)


@pytest.mark.parametrize("name", names())
def test_nights_of_the_examples_with_every_default_written_down(name, written):
    trap = loads(text(name))
    said = with_values(trap, written(trap))
    nights = [play(plan_of(one), 7, 0, 40) for one in (trap, said)]
    assert nights[0].frame().equals(nights[1].frame())


def test_what_is_written_reads_back_the_same(trap_text):
    """As it is, and with every quantity that varies made fixed, or given a scatter of its own."""
    trap = loads(trap_text)
    varied = {path: form(e.id) for path, e in defaults_used(trap) if e.dist}
    fixed = with_values(trap, {path: {"fixed": how.value} for path, how in varied.items()})
    other = with_values(
        trap, {f"{path}.{key}": 0.123 for path, how in varied.items() for key, _ in how.shapes}
    )
    for one in (trap, fixed, other):
        assert from_table(one.resolved()) == one
        assert from_table(from_table(one.resolved()).resolved()) == one
    assert fixed != trap
    assert other != trap


def test_fixed_has_no_scatter_and_keeps_the_value(pin_trap):
    fixed = with_values(
        pin_trap,
        {
            "entry.clock": {"fixed": "45 s"},
            "opening.latch.friction": {"fixed": 0.4},
            "sounder.mass.sow": {"fixed": "70 kg"},
        },
    )
    assert fixed.entry.clock == Duration.fixed(45.0)
    assert fixed.opening[0].latch.friction == LogNormal.of(0.4)
    assert fixed.sounder.mass.sow == LogNormal.of(70.0)


@pytest.mark.parametrize(
    ("path", "value", "wanted"),
    [
        ("entry.clock", "60 s", Duration("lognormal", LogNormal.of(60).ln_median, 0.8)),
        ("entry.clock", {"median": "60 s"}, Duration("lognormal", LogNormal.of(60).ln_median, 0.8)),
        ("entry.clock", {"sigma": 0.5}, Duration("lognormal", LogNormal.of(45).ln_median, 0.5)),
        ("entry.clock", {"dist": "lognormal", "sigma": 0.5},
         Duration("lognormal", LogNormal.of(45).ln_median, 0.5)),
        ("entry.clock", {"dist": "exponential", "mean": "9 s"}, Duration("exponential", 9.0)),
        ("entry.clock", "never", Duration.fixed(float("inf"))),
        ("entry.clock", {"fixed": "never"}, Duration.fixed(float("inf"))),
        ("entry.clock", "0 s", Duration.fixed(0.0)),
        ("arrival.spread", "30 s", Duration("exponential", 30.0)),
        ("arrival.spread", {"median": "30 s", "sigma": 1},
         Duration("lognormal", LogNormal.of(30).ln_median, 1.0)),
        ("movement.dwell", "3 s", Duration.fixed(3.0)),
        ("movement.dwell", {"median": "3 s", "sigma": 0.1},
         Duration("lognormal", LogNormal.of(3).ln_median, 0.1)),
        ("sounder.mass.sow", {"sigma": 0.5}, LogNormal.of(70, 0.5)),
        ("opening.gate.drag_share", 0.2, LogNormal.of(0.2, 0.9)),
        ("opening.gate.drag", "2 N", LogNormal.of(2.0, 0.9)),
        ("opening.gate.drag", {"fixed": "2 N"}, LogNormal.of(2.0)),
    ],
)  # fmt: skip
def test_what_a_written_value_means(path, value, wanted, pin_trap):
    night = with_values(pin_trap, {path: value})
    found = night
    for part in path.split("."):
        found = getattr(found, part)
        found = found[0] if part == "opening" else found
    assert found == wanted


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("entry.clock", {"fixed": "9 s", "sigma": 1}, "entry.clock.sigma = 1: fixed says that"),
        ("entry.clock", {"dist": "fixed", "value": "9 s"}, 'write {fixed = "20 s"}'),
        ("entry.clock", {}, "says nothing"),
        ("entry.clock", {"fixed": 9}, "entry.clock.fixed = 9: a bare number"),
        ("entry.clock", {"mean": "9 s"}, "it takes median and sigma"),
        ("arrival.spread", {"median": "9 s"}, "an exponential distribution has no such key"),
        ("startle.delay", {"fixed": "never"}, "startle.delay.fixed"),
        ("movement.dwell", {"sigma": 1}, "needs the key dist"),
        ("opening.gate.drag", {"sigma": 1}, "takes a plain value"),
        ("opening.latch.friction", {"fixed": 0.4, "median": 0.4}, "fixed says that nothing"),
        ("opening.latch.friction", {"fixed": "0.4"}, "opening.1.latch.friction.fixed"),
        ("opening.latch.friction", {}, "takes a plain value"),
    ],
)
def test_what_cannot_be_meant(path, value, words, pin_trap):
    with pytest.raises(ScenarioError) as caught:
        with_values(pin_trap, {path: value})
    assert words in str(caught.value)


FREE = {
    ("Movement", "crossing"),
    ("Movement", "travel"),
    ("Solenoid", "delay"),
    ("AirCylinder", "delay"),
    ("OneWayGate", "push_force"),  # its kinds say
    ("PersonTrigger", "command_delay"),  # its links say
}
"""Quantities that may vary and of which the register says nothing: a plain value is fixed."""


def tables_below(cls=Table):
    return {cls}.union(*(tables_below(sub) for sub in cls.__subclasses__()))


def test_every_field_that_may_vary_knows_the_register():
    free = set()
    for cls in tables_below():
        for name, field in cls.model_fields.items():
            if not any(isinstance(spec, DurationField | SpreadField) for spec in specs(field)):
                assert scatter_id(field) is None, (cls, name)
            elif registered_id(field) is None and scatter_id(field) is None:
                free.add((cls.__name__, name))
    pairs = {(cls.__name__, "delay") for cls in LATCH_CLASSES if not issubclass(cls, Animal)}
    assert free == FREE | pairs


def specs(field):
    """What reads a field: also inside "or None"."""
    parts = [field.annotation, *get_args(field.annotation)]
    return [*field.metadata, *(spec for part in parts for spec in get_args(part)[1:])]


def test_a_file_that_states_the_middle_rests_on_the_scatter_still(pin_trap, traps):
    trap = pin_trap
    stated = dict(defaults_used(with_values(trap, {"entry.clock": "45 s"})))
    assert "entry.clock" not in stated
    assert stated["entry.clock.sigma"].id == "entry.clock.sigma"
    wide = dict(defaults_used(with_values(trap, {"entry.clock": {"sigma": 1.0}})))
    assert "entry.clock" in wide
    assert "entry.clock.sigma" not in wide
    for known in ({"fixed": "45 s"}, "never", "0 s", {"dist": "exponential", "mean": "45 s"}):
        paths = dict(defaults_used(with_values(trap, {"entry.clock": known})))
        assert not any(path.startswith("entry.clock") for path in paths)
    drag = dict(defaults_used(traps["drag"]))
    assert drag["opening.1.gate.drag.sigma"].id == "opening.gate.drop.drag.sigma"
    assert not any("drag_share" in path for path in drag)


def test_every_scatter_of_the_register_is_read(traps):
    """Moved to the end of its range, it moves the plan of some trap: none is dropped on the way."""
    scatters = {name for name in register() if name.endswith((".sigma", ".cv", ".shape"))}
    read = set()
    for trap in traps.values():
        left = [(p, e) for p, e in defaults_used(trap) if e.id in scatters - read]
        read |= {e.id for p, e in left if not same_plan(with_values(trap, {p: e.high}), trap)}
    assert scatters == read
