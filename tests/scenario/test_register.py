"""Every default has an honest entry, and the schema holds no default number of its own."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import soundergate.scenario as room
from shared.tables import every_table
from soundergate.scenario import load, loads, with_values
from soundergate.scenario.assumptions import defaults_used, tables, value_at
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.register import (
    CHOICE,
    ORIGINS,
    SPREADS,
    UNKNOWN,
    Entry,
    default,
    entry,
    register,
    registered_id,
    scatter_id,
    shape_entries,
)

ENTRIES = list(register().values())
PACKAGE = Path(room.__file__).parent


def registered_fields() -> dict[str, set[str]]:
    """Register ids by the fields that use them."""
    uses: dict[str, set[str]] = {}
    for cls in every_table():
        for name, field in cls.model_fields.items():
            known, scatters = registered_id(field), scatter_id(field)
            for one in [known] * bool(known) + [f"{scatters}.sigma"] * bool(scatters and not known):
                uses.setdefault(str(one), set()).add(f"{cls.__name__}.{name}")
    return uses


def test_every_default_has_an_entry():
    missing = {
        known: users for known, users in registered_fields().items() if known not in register()
    }
    assert missing == {}


def test_every_entry_is_used():
    used = set(registered_fields())
    text = "".join(path.read_text(encoding="utf-8") for path in PACKAGE.glob("*.py"))
    for known in ENTRIES:
        used |= {f"{known.id}.{key}" for key, _ in shape_entries(known.id)}
        if f'"{known.id}"' in text:
            used.add(known.id)
    assert set(register()) - used == set()


def test_a_default_without_an_entry_would_be_seen():
    with pytest.raises(KeyError, match=r"register.toml has no entry 'opening.gate.colour'"):
        entry("opening.gate.colour")


@pytest.mark.parametrize("known", ENTRIES, ids=lambda e: e.id)
def test_entry_is_whole_and_honest(known: Entry):
    assert known.origin in ORIGINS
    assert known.origin != "invented", "defaults are no demo data"
    assert known.distribution in (CHOICE, "decision", *SPREADS)
    assert len(known.note) > 5
    if known.origin in ("standard", "published", "handbook"):
        assert len(known.citation) > 15, "a cited origin needs its citation"
    if known.distribution == "choice":
        assert known.low is None
        assert known.high is None
        return
    values = known.value if isinstance(known.value, list) else [known.value]
    lows = known.low if isinstance(known.low, list) else [known.low]
    highs = known.high if isinstance(known.high, list) else [known.high]
    assert len(values) == len(lows) == len(highs)
    for low, value, high in zip(lows, values, highs, strict=True):
        assert low <= value <= high or (value == 0 and known.none >= 0.5)
    assert sum(lows) < sum(highs)
    if known.role != UNKNOWN:
        assert (known.none, known.support) == (0.0, None)
        return
    least, most = known.support or ((0, 1) if known.distribution == "logit-normal" else (0, 1e9))
    if known.distribution != "normal":
        assert least <= min(lows)
        assert max(highs) <= most
        assert min(lows) > 0.0
    assert (0.5 <= known.none < 0.9) == (known.value == 0 and known.distribution != "normal")


def test_a_numeric_default_without_a_range_is_a_plain_absence():
    bare = {e.id for e in ENTRIES if e.numeric and e.distribution == "choice"}
    assert bare == {
        "opening.latch.solenoid.stroke",
        "opening.latch.solenoid.rated_volts",
        "sounder.sows",
        "sounder.boars",
        "sounder.juveniles",
        "sounder.piglets",
        "sounder.varies.low",
        "sounder.varies.high",
        "bait.patch.opening",
        "bait.patch.share",
        "opening.bearing",
        "opening.gate.drop.counterweight",
        "opening.measured.reading_error",
        "opening.gate.uprights",
        "opening.gate.rails",
        "opening.gate.side-hinged.leaves",
        "opening.gate.push panel.side.leaves",
        "opening.latch.lever",
        "opening.latch.solenoid.volts",
    }


def test_the_check_of_ranges_can_fail():
    bad = Entry("x", 5, "m", 6, 7, "normal", "assumption", "", "a wrong range")
    with pytest.raises(AssertionError):
        test_entry_is_whole_and_honest(bad)
    uncited = Entry("x", 5, "m", 4, 7, "normal", "published", "", "no citation")
    with pytest.raises(AssertionError, match="needs its citation"):
        test_entry_is_whole_and_honest(uncited)


def test_table_classes_hold_no_default_numbers():
    """A field's default is the register's, None (not said) or an empty list; never a number."""
    for cls in every_table():
        for name, field in cls.model_fields.items():
            plain = field.get_default(call_default_factory=False)
            nothing = plain is None or plain == () or repr(plain) == "PydanticUndefined"
            assert nothing, f"{cls.__name__}.{name} has the default {plain!r}"


def test_entries_are_said_as_a_file_would():
    assert default("corral.diameter") == "26 ft"
    assert default("training.nights") == 7
    assert default("arrival.spread") == {"dist": "exponential", "mean": "20 s"}
    assert default("entry.clock") == {"dist": "lognormal", "median": "45 s", "sigma": 0.8}
    assert entry("entry.clock").at(60) == {"dist": "lognormal", "median": "60 s", "sigma": 0.8}
    assert default("opening.gate.drop.channel_length") == 2.0


def test_entries_as_sources_prints_them():
    told = [known.as_dict() for known in ENTRIES]
    assert json.loads(json.dumps(told, allow_nan=False)) == told
    keys = "id value unit low high distribution origin citation note role none write"
    assert {tuple(t) for t in told} == {tuple(keys.split())}
    by_id = {t["id"]: t for t in told}
    assert by_id["opening.gate.drop.channel_length"]["unit"] == "times opening.height"


def test_what_is_relative_has_an_example_to_write():
    """A share that is itself typed as a number needs none."""
    for known in ENTRIES:
        bare = known.of and known.id != "opening.gate.drop.drag_share"
        assert (known.example is not None) == bool(bare), known.id
    assert entry("corral.bait_distance").write == "18 ft"
    assert entry("entry.clock").write == "45 s"
    assert entry("opening.gate.lock").write == "true"
    assert entry("title").write == '""'


def test_defaults_used_leaves_out_what_the_file_says(night_text):
    used = dict(defaults_used(loads(night_text)))
    assert "corral.diameter" not in used
    assert "opening.1.latch.lever" not in used
    assert used["corral.panel_height"].id == "corral.panel_height"
    assert used["opening.1.latch.friction.sigma"].id == "opening.latch.friction.sigma"
    assert used["opening.1.gate.channel_length"].of == "opening.height"


def test_defaults_used_sees_a_whole_latch_left_out(night_text):
    text = "\n".join(line for line in night_text.splitlines() if not line.startswith("latch"))
    used = dict(defaults_used(loads(text)))
    assert used["opening.1.latch.pull"].id == "opening.latch.solenoid.pull"
    assert used["opening.1.latch.kind"].id == "opening.latch.kind"


def test_every_uncertain_default_can_be_moved_to_both_ends(night_text):
    night = loads(night_text)
    moved = [(p, e) for p, e in defaults_used(night) if e.numeric and e.low is not None]
    assert len(moved) > 80
    for path, known in moved:
        for x in (known.low, known.high):
            changed = with_values(night, {path: value_at(night, path, known, x)})
            assert changed != night or x == known.value


def test_a_relative_default_is_scaled(night_text):
    night = loads(night_text)
    known = entry("opening.gate.drop.channel_length")
    path = "opening.1.gate.channel_length"
    longer = with_values(night, {path: value_at(night, path, known, 2.5)})
    assert longer.opening[0].gate.channel_length == pytest.approx(2.5 * 3 * 0.3048)
    counter = with_values(night, {"trigger": {"kind": "counter"}})
    known = entry("trigger.counter.count")
    assert value_at(counter, "trigger.count", known, 0.5) == 6
    with pytest.raises(ScenarioError, match=r"trigger.count: this scenario has no such value"):
        value_at(night, "trigger.count", known, 0.5)


def test_a_share_of_the_weight_is_moved_as_a_share(night_text):
    night = loads(night_text)
    known = entry("opening.gate.drop.drag_share")
    path = "opening.1.gate.drag_share"
    wide = with_values(night, {f"{path}.sigma": 0.5})
    moved = with_values(wide, {path: value_at(wide, path, known, 0.2)}).opening[0].gate.drag_share
    assert moved.median == pytest.approx(0.2)
    assert moved.sigma == 0.5
    assert known.as_dict()["unit"] == "times the gate's weight"


def test_tables_lists_each_table_once(night_text):
    paths = [path for path, _ in tables(loads(night_text))]
    assert len(paths) == len(set(paths))
    assert {"", "sounder.mass", "opening.1.gate", "opening.1.latch", "trigger"} <= set(paths)


def test_published_late_entry_shares_are_the_counts_of_the_paper():
    """9 of 55 and 1 of 115 pigs, with Wilson 95 % intervals (Smith et al. 2014; Wilson 1927)."""
    from scipy.stats import binomtest

    for name, k, n in (("push panel.top", 9, 55), ("push panel.side", 1, 115)):
        known = entry(f"opening.gate.{name}.late_entry")
        interval = binomtest(k, n).proportion_ci(method="wilson")
        assert known.value == pytest.approx(k / n, abs=5e-4)
        assert known.low == pytest.approx(interval.low, abs=5e-4)
        assert known.high == pytest.approx(interval.high, abs=5e-4)


def test_load_is_exported():
    assert load is room.load


def test_whole_numbers_stay_whole(night_text):
    night = loads(night_text)
    whole = {known.id for known in ENTRIES if known.whole}
    assert whole >= {
        "sounder.subgroups",
        "training.nights",
        "opening.latch.solenoid.wire_gauge",
        "trigger.line.bends",
        "campaign.set_nights",
        "campaign.quiet_nights",
        "population.sounders",
    }
    assert not whole & {"entry.habituation_nights", "opening.gate.side-hinged.leaves"}
    assert value_at(night, "trigger.bends", entry("trigger.line.bends"), 3.4) == 3
