"""`night`: the very night of that number in a run with that seed, told and drawn."""

from __future__ import annotations


def test_it_is_the_night_of_that_number_in_a_run(invoke, trap, tmp_path):
    import soundergate

    nights = soundergate.run(trap, nights=44, seed=9).outcomes
    assert nights is not None
    for number in (0, 7, 43):
        told = invoke("night", trap, "--seed", 9, "--number", number, "--json").data
        assert (told["night"], told["seed"]) == (number, 9)
        for column in nights:
            value = nights[column][number].item()
            assert told["outcome"][column] == (None if value != value else value), column


def test_told_in_order_with_the_outcome_first(invoke, trap):
    said = invoke("night", trap, "--number", 3)
    data = invoke("night", trap, "--number", 3, "--json").data
    assert said.code == 0
    assert said.err.startswith("Night 3 of seed 1: ")
    assert f"{data['outcome']['caught']} of 5 caught" in said.err
    times = [event["time"] for event in data["events"]]
    assert times == sorted(times)
    assert "arrives" in said.out
    assert len(data["fates"]) == 5
    assert list(data["fates"].values()).count("caught") == data["outcome"]["caught"]


def test_the_drawing_stands_beside_the_file_and_is_named(invoke, trap):
    said = invoke("night", trap, "--number", 2, "--seed", 4)
    drawing = trap.parent / "trap_night_2_seed_4.png"
    assert drawing.read_bytes().startswith(b"\x89PNG")
    assert str(drawing) in said.err
    assert sorted(path.name for path in trap.parent.iterdir()) == ["trap.toml", drawing.name]


def test_json_draws_nothing_unasked(invoke, trap):
    invoke("night", trap, "--json", "--quiet")
    assert [path.name for path in trap.parent.iterdir()] == ["trap.toml"]


def test_out_holds_drawing_events_and_page(invoke, trap, tmp_path):
    out = tmp_path / "out"
    said = invoke("night", trap, "--number", 2, "--out", out)
    assert {path.name for path in out.iterdir()} == {
        "night.png",
        "night.svg",
        "plan.png",
        "plan.svg",
        "gate_1.png",
        "gate_1.svg",
        "events.csv",
        "night.html",
    }
    assert [path.name for path in trap.parent.iterdir()] == ["trap.toml"]
    assert (out / "events.csv").read_text().startswith("time,animal,what happened")
    assert "Local codes" in (out / "night.html").read_text()
    assert str(out) in said.err
