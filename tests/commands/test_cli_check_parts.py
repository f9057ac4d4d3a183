"""`check` asked for more: pairs, widths, trade-off, claims, as tables, JSON in SI and pictures."""

from __future__ import annotations

import math
import re

import pytest

from soundergate.commands.check_parts import read_widths
from soundergate.report.tables.table import Table, units_at_heads
from soundergate.scenario.errors import ScenarioError

FOOT = 0.3048
SOLENOID = (
    'latch = {kind = "pin", puller = "solenoid", pull = "40 lbf", lever = 4, engaged = "1/8 in"}'
)


@pytest.fixture
def powered(trap):
    """The test trap let go by a solenoid, so that there is a margin to speak of."""
    text = trap.read_text().replace(
        'latch = {kind = "pin", puller = "animal", lever = 4}', SOLENOID
    )
    trap.write_text(text)
    return trap


def rows(out: str, title: str) -> list[list[str]]:
    """Cells of the table under a title, cut where two blanks stand."""
    lines = out[out.index(title) :].splitlines()
    rule = next(k for k, line in enumerate(lines) if "───" in line)
    body = lines[rule + 1 :]
    end = next((k for k, line in enumerate(body) if not line.strip()), len(body))
    return [[cell for cell in line.split("  ") if cell.strip()] for line in body[:end]]


def test_pairs_say_who_is_soonest_and_why_the_others_will_not_do(invoke, powered):
    powered.write_text(powered.read_text().replace("lever = 4", 'lever = 4, gap = "2 in"'))
    said = invoke("check", powered, "--pairs")
    assert said.code == 0
    assert said.err.splitlines()[0].startswith(
        "The opening (drop gate, 4 ft wide, 3 ft high): holds"
    )
    assert " is the first to stop a juvenile, " in said.err
    assert "of 16 pairs hold, release and shut surely enough with this puller." in said.err
    assert len(rows(said.out, "Gates and latches, times from the trigger")) == 16
    sure = int(re.search(r"(\d+) of 16 pairs hold", said.err)[1])
    reasons = [cells[-1].strip() for cells in rows(said.out, "Why not")]
    assert len(reasons) == 16 - sure > 0
    assert all("travel" in text or "the pull" in text for text in reasons)


def test_pairs_in_json_are_those_of_the_mechanics_room(invoke, powered):
    from soundergate.mechanics.advice.pairs import compare_pairs
    from soundergate.scenario import load

    (told,) = invoke("check", powered, "--pairs", "--json").data["pairs"]
    assert told["opening"] == 1
    found = compare_pairs(load(powered)).pairs
    assert [(p["gate"], p["latch"], p["why"]) for p in told["pairs"]] == [
        (p.gate, p.latch, p.why) for p in found
    ]
    assert told["pairs"][0]["juvenile_time"] == pytest.approx(found[0].juvenile_time)


def test_no_pair_at_all_is_said_and_is_no_failure_of_the_file(invoke, powered):
    """A pull that frees nothing but what the file has: the exit code is that of the file alone."""
    weak = powered.read_text().replace('pull = "40 lbf", lever = 4', 'pull = "0.001 lbf"')
    powered.write_text(weak)
    said = invoke("check", powered, "--pairs")
    assert said.code == 1
    assert "None of 16 pairs of gate and latch can be relied on with this puller." in said.err


def test_parts_do_not_change_the_exit_code(invoke, powered):
    """At 10 ft this latch does not release, and most pairs do not: the file's own opening does."""
    said = invoke("check", powered, "--pairs", "--widths", "10 ft,12 ft", "--trade-off")
    assert said.code == 0
    assert "Not even 10 ft wide does it shut surely enough." in said.err


def test_widths_stand_alone_or_with_a_list(invoke, powered):
    usual = rows(invoke("check", powered, "--widths").out, "Widths: load")
    assert [cells[0].strip() for cells in usual] == [str(n) for n in range(3, 11)]
    for arguments in (["--widths", "3ft,5 ft"], ["--widths=5 ft,3 ft,3ft"]):
        said = invoke("check", powered, *arguments)
        assert [cells[0].strip() for cells in rows(said.out, "Widths: load")] == ["3", "5"]
    one = invoke("check", powered, "--widths", "3 ft").err
    assert "At every width tried, up to 3 ft, it shuts" in one
    assert "grows from" not in one
    before = invoke("check", "--widths", "3 ft", powered, "--json").data["widths"][0]["widths"]
    assert [row["width"] for row in before] == [pytest.approx(3 * FOOT)]


def test_widths_say_how_far_the_latch_will_do(invoke, powered):
    said = invoke("check", powered, "--widths", "3 ft,4 ft,10 ft")
    assert (
        "Of the widths tried it shuts in 9 of 10 tries or more up to 4 ft, not beyond." in said.err
    )
    assert "From 3 ft to 10 ft the gate grows from 28.1 lb to 93.8 lb" in said.err
    data = invoke("check", powered, "--widths", "3 ft,4 ft,10 ft", "--json").data
    (told,) = data["widths"]
    releases = [row["release_probability"] for row in told["widths"]]
    assert releases[1] >= 0.9 > releases[2]
    hangs = [row["hang_probability"] for row in told["widths"]]
    assert hangs == sorted(hangs)
    assert hangs[0] < hangs[2]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("3,4", ["--widths", "no unit", "length", 'such as "3 ft,4 ft,6 ft"']),
        ("3 lb", ["--widths", "'lb' is not a length"]),
        ("3 ft,,4 ft", ["--widths"]),
        ("3 ft,50 ft", ["opening.1.width", "perimeter"]),
        ("0 ft", ["opening.1.width", "out of range"]),
    ],
)
def test_bad_widths_are_refused_before_anything_is_said(invoke, powered, text, words):
    said = invoke("check", powered, f"--widths={text}", "--claims")
    assert said.code == 2
    assert said.out == ""
    for word in words:
        assert word in said.err
    assert len(said.err.splitlines()) == 1


def test_widths_are_sorted_and_each_once():
    assert read_widths("5 ft,3 ft,3ft") == [pytest.approx(3 * FOOT), pytest.approx(5 * FOOT)]
    assert read_widths("usual") is None
    with pytest.raises(ScenarioError) as caught:
        read_widths("3 ft,wide")
    assert caught.value.key == "--widths"
    assert caught.value.value == "wide"


def test_trade_off_tells_both_ways_of_holding_less(invoke, powered):
    said = invoke("check", powered, "--trade-off")
    assert "Top-hinged gate: from 90 deg to 175 deg the load on the latch falls from " in said.err
    assert "Drop gate: from no counterweight to " in said.err
    assert "To be relied on: " in said.err
    assert "Below 90 deg a top-hinged gate leaves less than its whole opening clear." in said.err
    angles = rows(said.out, "As a top-hinged gate, by set angle (90")
    assert [cells[0].strip() for cells in angles][:3] == ["60", "75", "90"]
    weights = rows(said.out, "As a drop gate, by counterweight")
    assert weights[0][0].strip() == "0"
    (told,) = invoke("check", powered, "--trade-off", "--json").data["trade_off"]
    assert told["opening"] == 1
    load = [row["holding_load"] for row in told["drop"]]
    time = [row["shut_time"] for row in told["drop"] if row["shut_time"] is not None]
    assert load == sorted(load, reverse=True)
    assert time == sorted(time)
    assert told["top-hinged"][2]["value"] == pytest.approx(math.pi / 2)


def test_settings_that_can_be_relied_on_are_told_as_ranges(invoke, powered):
    stuck = powered.read_text().replace('"14 gauge"}', '"14 gauge", drag_share = {fixed = 0.3}}')
    powered.write_text(stuck)
    said = invoke("check", powered, "--trade-off")
    assert "To be relied on: all of them." in said.err  # the top-hinged gate has no channels
    assert "To be relied on: no counterweight to " in said.err


def test_claims_are_judged_with_reason_parts_and_numbers(invoke, powered):
    said = invoke("check", powered, "--claims")
    assert "Claims of the trade: agree " in said.err
    assert (
        "Worked out for gates 4.0 ft wide and 3.0 ft high of 14 gauge sheet, the wide" in said.err
    )
    verdicts = [cells[2].strip() for cells in rows(said.out, "Claims of the trade (common")]
    assert len(verdicts) == 7
    assert set(verdicts) <= {"agree", "depends", "disagree"}
    parts = rows(said.out, "Part by part")
    assert {cells[-1].strip() for cells in parts} == {"yes", "no"}
    assert "common practice, no source" in said.out
    assert not any(f" {unit} " in said.out for unit in ("N", "kg", "mm", "m/s"))


def test_claims_in_json_follow_from_their_checks(invoke, powered):
    claims = invoke("check", powered, "--claims", "--json").data["claims"]
    assert len(claims) == 7
    for claim in claims:
        good = list(claim["checks"].values())
        expected = "agree" if all(good) else "depends" if any(good) else "disagree"
        assert claim["verdict"] == expected
        assert claim["reason"]
        assert claim["figures"]
        assert claim["origin"] == "common practice, no source"


@pytest.mark.slow
def test_pictures_of_all_that_was_asked_for(invoke, powered, tmp_path):
    out = tmp_path / "out"
    everything = ["--pairs", "--widths", "--trade-off", "--claims"]
    said = invoke("check", powered, *everything, "--out", out)
    stems = {"plan", "gate_1", "pairs", "widths", "trade_off", "claims", "trigger_line"}
    stems |= {"bait_place"}
    assert {path.name for path in out.iterdir()} == {
        f"{stem}.{kind}" for stem in stems for kind in ("png", "svg")
    } | {"report.html"}
    assert "trade_off.png" in said.err.splitlines()[-1]
    assert set(invoke("check", powered, *everything, "--json").data) == {
        "units",
        "ok",
        "verdict",
        "openings",
        "over_worlds",
        "cautions",
        "pairs",
        "widths",
        "trade_off",
        "claims",
    }


@pytest.mark.slow
def test_several_openings_are_told_apart_and_alike_ones_once(invoke, powered, tmp_path):
    again = f'[[opening]]\nwidth = "4 ft"\nheight = "3 ft"\ngate = {{kind = "drop"}}\n{SOLENOID}\n'
    other = again.replace('"4 ft"', '"6 ft"')
    text = powered.read_text().replace("[trigger]", again + other + "[trigger]")
    before_them_all = 'distance = "4 ft"'  # further on, the line would run through an opening
    powered.write_text(text.replace('distance = "20 ft"', before_them_all))
    out = tmp_path / "out"
    said = invoke("check", powered, "--widths", "4 ft,5 ft", "--out", out)
    assert "Opening 1: at every width" in said.err
    assert "Opening 3: " in said.err
    assert "Opening 2: at" not in said.err
    assert "Widths: load on the latch, pull needed, there, opening 3" in said.out
    assert {"widths_1.png", "widths_3.png"} <= {path.name for path in out.iterdir()}


def test_an_entrance_without_a_latch_has_nothing_to_ask(invoke, trap):
    text = trap.read_text().replace('latch = {kind = "pin", puller = "animal", lever = 4}\n', "")
    text = text.replace('{kind = "drop", sheet = "14 gauge"}', '{kind = "push panel"}')
    trap.write_text(text[: text.index("[trigger]")] + '[trigger]\nkind = "none"\n')
    assert invoke("check", trap).code == 0
    said = invoke("check", trap, "--pairs")
    assert said.code == 2
    assert "all openings are one-way entrances: there is no latch to look into" in said.err


def test_quiet_leaves_the_tables_and_the_cautions(invoke, powered):
    said = invoke("check", powered, "--widths", "--quiet")
    assert said.err.startswith("Cautions")
    assert "Widths: load" in said.out


def test_an_animal_as_puller_has_no_margin(invoke, trap):
    said = invoke("check", trap, "--pairs", "--widths", "3 ft")
    assert all(cells[2].strip() == "—" for cells in rows(said.out, "Gates and latches"))
    assert rows(said.out, "Widths: load")[0][4].strip() == "—"


def test_help_names_every_part_in_plain_words(invoke):
    text = " ".join(invoke("check", "--help").out.replace("│", " ").split())
    for words in ("--pairs", "--widths", "--trade-off", "--claims", "does not change it"):
        assert words in text


def test_a_unit_that_a_column_shares_stands_at_its_head():
    shown = Table(
        "t",
        ("gate", "load", "share", "shut", "mixed", "margin"),
        [
            ("drop", "22.5 lbf", "<0.1 %", "0.5 s", "1 ft", "—"),
            ("top", "4 lbf", ">99.9 %", "never", "2 in", "1.5"),
        ],
    )
    table = units_at_heads(shown)
    assert table.columns == ["gate", "load\n(lbf)", "share\n(%)", "shut\n(s)", "mixed", "margin"]
    assert table.rows == [
        ["drop", "22.5", "<0.1", "0.5", "1 ft", "—"],
        ["top", "4", ">99.9", "never", "2 in", "1.5"],
    ]
    assert table.numeric == {1, 2, 3, 5}


def test_tables_fit_a_window_of_eighty_columns(invoke, powered, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    out = invoke("check", powered, "--pairs", "--widths", "--trade-off").out
    heads = " ".join(out.split())
    for word in ("releases", "juvenile", "sticks", "weight", "margin", "energy"):
        assert word in heads  # not cut into pieces
    assert max(len(line) for line in out.splitlines()) <= 80
    wide = invoke("check", powered, "--pairs", "--widths", "--trade-off", "--json").data
    shown = f"{wide['pairs'][0]['pairs'][0]['shut_time']:.2f}"
    assert shown in [cells[-1].strip() for cells in rows(out, "Gates and latches")]  # none is cut


def test_the_sheet_is_printed_alone_within_a_narrow_page(invoke, trap):
    said = invoke("check", trap, "--sheet")
    assert said.code in (0, 1)
    assert said.out.startswith("What to measure at the trap")
    assert max(map(len, said.out.splitlines())) <= 79
    assert "suspended load" in said.out.split("1. ")[0]
    assert invoke("check", trap, "--sheet", "--json").data["sheet"][0].startswith("What to measure")
