"""What a plain value means: the register's own middle replaced, its distribution and scatter kept.

So a default that is written down changes no night, which is held for every default of the
register, one by one and all together.
"""

from __future__ import annotations

import pytest

from soundergate.engine import play
from soundergate.engine.build import build
from soundergate.mechanics.setup import solve
from soundergate.scenario import ScenarioError, loads, with_values
from soundergate.scenario.assumptions import defaults_used
from soundergate.scenario.distributions import Duration, Spread
from soundergate.scenario.examples import names, text
from soundergate.scenario.loading import from_table
from soundergate.scenario.messages import look_up
from soundergate.scenario.register import form, form_of, register
from soundergate.scenario.spread_fields import DISTS, DurationField, SpreadField

GATES = {
    "drop": "",
    "top-hinged": "",
    "side-hinged": "",
    "side-hinged ": ', closer = "rising hinge"',
    "side-hinged  ": ', closer = "weight"',
    "push panel": "",
    "push panel ": ', hinge = "side"',
    "curled panel": "",
    "net skirt": "",
}
LATCHES = {
    "pin": 'puller = "solenoid"',
    "knee": 'puller = "air cylinder"',
    "finger": 'puller = "animal"',
    "rotary": 'puller = "solenoid", turns = 900, plunger_area = "1 in^2"',
}
TRIGGERS = (
    'kind = "line"',
    'kind = "bait"',
    'kind = "counter"',
    *(f'kind = "person"\nlink = "{link}"' for link in ("radio", "modem", "relay")),
    'kind = "none"',
    'any = [{kind = "line"}, {kind = "bait"}, {kind = "person"}]',
)


def scenario_text(gate: str, latch: str, trigger: str, drag: str = "") -> str:
    more = GATES[gate] + drag
    one_way = gate.strip() in ("push panel", "curled panel", "net skirt")
    hung = "" if one_way else f'latch = {{kind = "{latch}", {LATCHES[latch]}}}'
    return f"""
[sounder]
sows = 1
boars = 1
juveniles = 2
piglets = 1
varies = {{low = 1}}

[[opening]]
width = "4 ft"
height = "3 ft"
gate = {{kind = "{gate.strip()}"{more}}}
{hung}

[trigger]
{trigger}
"""


def every_trap() -> dict[str, str]:
    """Scenarios that between them rest on every default of the register, by name."""
    found = {}
    for gate in GATES:
        found[f"gate {gate}"] = scenario_text(gate, "pin", 'kind = "counter"')
    for latch in LATCHES:
        found[f"latch {latch}"] = scenario_text("drop", latch, TRIGGERS[0])
    for trigger in TRIGGERS:
        found[f"trigger {trigger}"] = scenario_text("drop", "pin", trigger)
    found["drag"] = scenario_text("drop", "pin", TRIGGERS[0], ', drag = "2 lbf"')
    found["left out"] = scenario_text("drop", "pin", TRIGGERS[0]).replace(
        'latch = {kind = "pin", puller = "solenoid"}', ""
    )
    return found


TRAPS = every_trap()
NO_SCENARIO = {
    "costs.currency",  # only with costs
    "opening.bearing",  # an even share of the circle: 0 of one opening
}


def plainly(scenario, path, entry):
    """A default as a person would write it down: its own figure and nothing else."""
    how = form(entry.id)
    if how is not None:
        return how.value
    value = look_up(scenario.resolved(), path.split("."))
    if isinstance(value, dict):  # a duration that does not vary by the register
        return value["fixed"]
    return value


def written(scenario):
    """The defaults of a scenario as plain values, by path."""
    return {path: plainly(scenario, path, entry) for path, entry in defaults_used(scenario)}


def same_plan(a, b):
    plans = [build(one, solve(one)) for one in (a, b)]
    return all(x.tobytes() == y.tobytes() for x, y in zip(*plans, strict=True))


def test_the_traps_rest_on_every_default():
    used = {entry.id for trap in TRAPS.values() for _, entry in defaults_used(loads(trap))}
    chosen = {e.id for e in register().values() if e.distribution == "choice"}
    assert set(register()) - used - chosen == set()


@pytest.mark.parametrize("name", TRAPS)
def test_a_default_written_down_changes_nothing(name):
    """One by one and all at once: the same scenario, setup, plan and nights, to the bit."""
    trap = loads(TRAPS[name])
    defaults = written(trap)
    assert len(defaults) > 60
    for path, value in defaults.items():
        assert with_values(trap, {path: value}) == trap, path
    said = with_values(trap, defaults)
    assert said == trap
    assert solve(said) == solve(trap) or same_plan(said, trap)
    assert same_plan(said, trap)


@pytest.mark.parametrize("name", names())
def test_nights_of_the_examples_with_every_default_written_down(name):
    trap = loads(text(name))
    said = with_values(trap, written(trap))
    nights = [play(build(one, solve(one)), 7, 0, 40) for one in (trap, said)]
    assert nights[0].frame().equals(nights[1].frame())


@pytest.mark.parametrize("name", TRAPS)
def test_what_is_written_reads_back_the_same(name):
    """As it is, and with every quantity that varies made fixed, or given a scatter of its own."""
    trap = loads(TRAPS[name])
    varied = {path: form(e.id) for path, e in defaults_used(trap) if form_exists(e.id)}
    fixed = with_values(trap, {path: {"fixed": how.value} for path, how in varied.items()})
    other = with_values(
        trap, {f"{path}.{key}": 0.123 for path, how in varied.items() for key, _ in how.shapes}
    )
    for one in (trap, fixed, other):
        assert from_table(one.resolved()) == one
        assert from_table(from_table(one.resolved()).resolved()) == one
    assert fixed != trap
    assert other != trap


def form_exists(name):
    return name in register() and form(name) is not None


def test_fixed_has_no_scatter_and_keeps_the_value():
    trap = loads(TRAPS["latch pin"])
    fixed = with_values(
        trap,
        {
            "entry.clock": {"fixed": "45 s"},
            "opening.latch.friction": {"fixed": 0.4},
            "sounder.mass.sow": {"fixed": "70 kg"},
        },
    )
    assert fixed.entry.clock == Duration.fixed(45.0)
    assert fixed.opening[0].latch.friction == Spread.of(0.4)
    assert fixed.sounder.mass.sow == Spread.of(70.0)


@pytest.mark.parametrize(
    ("path", "value", "wanted"),
    [
        ("entry.clock", "60 s", Duration("lognormal", Spread.of(60).ln_median, 0.8)),
        ("entry.clock", {"median": "60 s"}, Duration("lognormal", Spread.of(60).ln_median, 0.8)),
        ("entry.clock", {"sigma": 0.5}, Duration("lognormal", Spread.of(45).ln_median, 0.5)),
        ("entry.clock", {"dist": "lognormal", "sigma": 0.5},
         Duration("lognormal", Spread.of(45).ln_median, 0.5)),
        ("entry.clock", {"dist": "exponential", "mean": "9 s"}, Duration("exponential", 9.0)),
        ("entry.clock", "never", Duration.fixed(float("inf"))),
        ("entry.clock", {"fixed": "never"}, Duration.fixed(float("inf"))),
        ("entry.clock", "0 s", Duration.fixed(0.0)),
        ("arrival.spread", "30 s", Duration("exponential", 30.0)),
        ("arrival.spread", {"median": "30 s", "sigma": 1},
         Duration("lognormal", Spread.of(30).ln_median, 1.0)),
        ("movement.dwell", "3 s", Duration.fixed(3.0)),
        ("movement.dwell", {"median": "3 s", "sigma": 0.1},
         Duration("lognormal", Spread.of(3).ln_median, 0.1)),
        ("sounder.mass.sow", {"sigma": 0.5}, Spread.of(70, 0.5)),
        ("opening.gate.drag_share", 0.2, Spread.of(0.2, 0.9)),
        ("opening.gate.drag", "2 N", Spread.of(2.0, 0.9)),
        ("opening.gate.drag", {"fixed": "2 N"}, Spread.of(2.0)),
    ],
)  # fmt: skip
def test_what_a_written_value_means(path, value, wanted):
    night = with_values(loads(TRAPS["latch pin"]), {path: value})
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
def test_what_cannot_be_meant(path, value, words):
    with pytest.raises(ScenarioError) as caught:
        with_values(loads(TRAPS["latch pin"]), {path: value})
    assert words in str(caught.value)


def test_every_field_that_varies_knows_the_register():
    """No field of a duration or a spread has a default that varies and reads plain values alone."""
    for name, entry in register().items():
        if not entry.dist:
            continue
        how = form_of(name)
        own = how.whole
        field = DurationField() if entry.unit in ("s", "min", "h") else None
        assert how.dist in DISTS
        assert own[how.key] == entry.at(entry.value)[how.key]
        assert (field or SpreadField(None)) is not None


def test_a_file_that_states_the_middle_rests_on_the_scatter_still():
    trap = loads(TRAPS["latch pin"])
    stated = dict(defaults_used(with_values(trap, {"entry.clock": "45 s"})))
    assert "entry.clock" not in stated
    assert stated["entry.clock.sigma"].id == "entry.clock.sigma"
    wide = dict(defaults_used(with_values(trap, {"entry.clock": {"sigma": 1.0}})))
    assert "entry.clock" in wide
    assert "entry.clock.sigma" not in wide
    for known in ({"fixed": "45 s"}, "never", "0 s", {"dist": "exponential", "mean": "45 s"}):
        paths = dict(defaults_used(with_values(trap, {"entry.clock": known})))
        assert not any(path.startswith("entry.clock") for path in paths)
    drag = dict(defaults_used(loads(TRAPS["drag"])))
    assert drag["opening.1.gate.drag.sigma"].id == "opening.gate.drop.drag.sigma"
    assert not any("drag_share" in path for path in drag)
