"""`check`: verdict first, margins, cautions that nothing silences, and an exit code to rely on."""

from __future__ import annotations


def test_a_sound_trap_passes(invoke, trap):
    said = invoke("check", trap)
    assert said.code == 0
    assert "holds and releases in" in said.err.splitlines()[0]
    assert "load on the latch" in said.out
    assert "holds and releases" not in said.out


def test_a_weak_puller_fails_with_1_and_says_why(invoke, trap):
    weak = 'latch = {kind = "pin", puller = "solenoid", pull = "3 lbf"}'
    trap.write_text(
        trap.read_text().replace('latch = {kind = "pin", puller = "animal", lever = 4}', weak)
    )
    said = invoke("check", trap)
    assert said.code == 1
    assert "does NOT release surely" in said.err.splitlines()[0]
    assert "Weak link: the pull" in said.err


def test_a_gate_that_jams_fails_with_1(invoke, trap):
    trap.write_text(
        trap.read_text().replace('"14 gauge"}', '"14 gauge", drag = {fixed = "80 lbf"}}')
    )
    said = invoke("check", trap)
    assert said.code == 1
    assert "does NOT shut" in said.err.splitlines()[0]
    assert invoke("run", trap, "--nights", 20).code == 0  # 1 comes from check alone


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


def test_out_draws_each_different_gate_once_and_the_triggers(invoke, trap, tmp_path):
    second = '[[opening]]\nwidth = "6 ft"\nheight = "3 ft"\ngate = {kind = "drop"}\n'
    second += 'latch = {kind = "pin", puller = "animal", lever = 4}\n[trigger]'
    trap.write_text(trap.read_text().replace("[trigger]", second))
    out = tmp_path / "out"
    said = invoke("check", trap, "--out", out)
    names = {path.name for path in out.iterdir()}
    stems = ("gate_1", "gate_2", "trigger_line", "bait_place", "bait_place_2")
    assert names == {f"{stem}.{kind}" for stem in stems for kind in ("png", "svg")}
    assert all(name in said.err for name in names)
