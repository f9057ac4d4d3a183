"""`check`: verdict first, margins, cautions that nothing silences, and an exit code to rely on."""

from __future__ import annotations

import pytest

from soundergate.commands import check_json


def test_a_sound_trap_passes(invoke, trap):
    said = invoke("check", trap)
    assert said.code == 0
    assert "holds, releases and shuts in" in said.err.splitlines()[0]
    assert "load on the latch" in said.out
    assert "holds, releases" not in said.out


def test_a_weak_puller_fails_with_1_and_says_why(invoke, trap):
    weak = 'latch = {kind = "pin", puller = "solenoid", pull = "3 lbf"}'
    trap.write_text(
        trap.read_text().replace('latch = {kind = "pin", puller = "animal", lever = 4}', weak)
    )
    said = invoke("check", trap)
    assert said.code == 1
    assert "does NOT shut: it stays set" in said.err.splitlines()[0]
    assert "Weak link: the pull" in said.err


def test_a_gate_that_jams_fails_with_1(invoke, trap):
    trap.write_text(
        trap.read_text().replace('"14 gauge"}', '"14 gauge", drag = {fixed = "80 lbf"}}')
    )
    said = invoke("check", trap)
    assert said.code == 1
    assert "does NOT shut" in said.err.splitlines()[0]
    assert invoke("run", trap, "--nights", 20).code == 0  # 1 comes from check alone


@pytest.mark.parametrize("json", [[], ["--json"]])
def test_quiet_still_says_in_one_line_what_failed(invoke, trap, json):
    sound = trap.read_text()
    weak = sound.replace('puller = "animal", lever = 4}', 'puller = "solenoid", pull = "3 lbf"}')
    jams = sound.replace('"14 gauge"}', '"14 gauge", drag = {fixed = "80 lbf"}}')
    opening = jams[jams.index("[[opening]]") : jams.index("[trigger]")]
    sides = [opening.rstrip() + f'\nbearing = "{at} deg"\n\n' for at in (70, -70)]
    second = sound.replace("[trigger]", f"{sides[0]}{sides[1]}[trigger]")
    for text, lead in (
        (weak, "The opening: does NOT shut: it stays set in "),
        (jams, "The opening: the gate does NOT shut when it is let go."),
        (second, "Openings 2, 3: the gate does NOT shut when it is let go."),
    ):
        trap.write_text(text)
        said = invoke("check", trap, "--quiet", *json)
        assert said.code == 1
        assert said.err.splitlines()[0].startswith(lead)
        assert said.err.splitlines()[1] == "Cautions"


def test_cautions_come_last_and_are_never_silenced(invoke, trap):
    for arguments in ([], ["--quiet"], ["--json"], ["--quiet", "--json"]):
        said = invoke("check", trap, *arguments)
        lines = said.err.splitlines()
        assert "Cautions" in lines
        assert "suspended load" in said.err
        assert "ever a clearance" in said.err
        assert "licensed" in lines[-2] + lines[-1]
    assert invoke("check", trap, "--quiet").err.startswith("Cautions")


def test_json_holds_verdict_margins_and_cautions_in_si(invoke, trap):
    data = invoke("check", trap, "--json").data
    assert data["ok"] is True
    (opening,) = data["openings"]
    assert abs(opening["width"] - 4 * 0.3048) < 1e-12
    assert 0.9 < opening["release_probability"] <= 1
    assert opening["margin"] is None  # an animal pulls: its pull is the night's affair
    assert data["verdict"]
    assert data["cautions"]


@pytest.mark.slow
def test_out_draws_each_different_gate_once_and_the_triggers(invoke, trap, tmp_path):
    second = '[[opening]]\nwidth = "6 ft"\nheight = "3 ft"\ngate = {kind = "drop"}\n'
    second += 'latch = {kind = "pin", puller = "animal", lever = 4}\n[trigger]'
    trap.write_text(trap.read_text().replace("[trigger]", second))
    out = tmp_path / "out"
    said = invoke("check", trap, "--out", out)
    names = {path.name for path in out.iterdir()}
    stems = ("plan", "gate_1", "gate_2", "trigger_line", "bait_place", "bait_place_2")
    pictures = {f"{stem}.{kind}" for stem in stems for kind in ("png", "svg")}
    assert names == {*pictures, "report.html"}
    assert all(name in said.err for name in names)


PARTS = ("--pairs", "--widths", "--trade-off", "--claims")


@pytest.mark.parametrize(
    ("latch", "parts"),
    [
        ("jams", ()),
        ("sound", ()),
        ("powered", ("--widths=4 ft,5 ft", "--trade-off")),
        pytest.param("powered", PARTS, marks=pytest.mark.slow),
    ],
)
def test_every_number_of_the_json_has_a_unit_and_none_is_infinite(invoke, trap, latch, parts):
    """A key with its unit in brackets, or one that the table of units names; never a text that
    stands for infinity, but null."""
    text = trap.read_text()
    if latch == "jams":
        text = text.replace('"14 gauge"}', '"14 gauge", drag = "80 lbf"}')
    if latch == "powered":
        text = text.replace('puller = "animal", lever = 4', 'puller = "air cylinder"')
    trap.write_text(text)
    said = invoke("check", trap, *parts, "--json")
    assert '"inf"' not in said.out
    assert "Infinity" not in said.out
    data = said.data
    units = data.pop("units")
    seen = set()
    for path in check_json.numbers(data):
        key = check_json.key_of_unit(path)
        assert key is None or key in units, path
        seen.add(key)
    assert seen - {None} <= set(units)
    assert set(units.values()) <= KNOWN
    claimed = {key for claim in data.get("claims", []) for key in claim["figures"]}
    assert set(units) <= set(check_json.UNITS) | claimed  # what is listed nowhere is a ratio
    if latch == "jams":
        assert data["openings"][0]["shut_time"] is None
        assert data["openings"][0]["shut_probability"] == 0.0


KNOWN = {"1", "m", "kg", "N", "s", "m/s", "J", "rad", "animals/s", "number of the opening, from 1"}


def test_json_says_how_surely_it_shuts_and_by_whom(invoke, trap):
    (opening,) = invoke("check", trap, "--json").data["openings"]
    product = opening["hold_probability"] * opening["release_probability"]
    assert opening["shut_probability"] == pytest.approx(product * (1 - opening["hang_probability"]))
    assert set(opening["release_by_class"]) == {"sow", "juvenile"}
    assert opening["pull_available"] is None  # an animal's, which is drawn in a night


@pytest.mark.slow
def test_a_gate_that_sticks_open_fails_with_1(invoke, trap):
    gate = '{kind = "top-hinged", plywood = "1/2 in", set_angle = "170 deg", wind = "10 mph"}'
    trap.write_text(trap.read_text().replace('{kind = "drop", sheet = "14 gauge"}', gate))
    said = invoke("check", trap)
    assert said.code == 1
    assert "sticks open" in said.err.splitlines()[0]
