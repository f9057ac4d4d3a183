"""Bad input: exit code 2, one message that says what would do, no traceback, nothing half done."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import Annotated

import pytest
from pydantic import AfterValidator, ValidationError, create_model

from soundergate.engine.work.cluster_address import check_address
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.messages import said, translate


def assert_refused(said, *words):
    assert said.code == 2
    assert said.out == ""
    assert "Traceback" not in said.err
    # boxes of the option parser break lines: words are looked for without their line breaks
    text = " ".join(said.err.replace("│", " ").split())
    for word in words:
        assert word in text


@pytest.mark.parametrize(
    "command", ["check", "night", "run", "compare", "rule", "season", "study", "sources"]
)
def test_a_file_that_is_not_there_is_named(invoke, command):
    assert_refused(invoke(command, "nowhere.toml"), "nowhere.toml")


@pytest.mark.parametrize("command", ["check", "night", "run", "sources"])
def test_a_folder_is_not_a_scenario(invoke, tmp_path, command):
    assert_refused(invoke(command, tmp_path), str(tmp_path)[:20], "directory")


def test_malformed_toml_says_where(invoke, tmp_path):
    file = tmp_path / "bad.toml"
    file.write_text("[sounder]\nsows = = 2\n")
    assert_refused(invoke("run", file), "bad.toml", "line 2", "column")


def test_a_bare_number_says_which_units_would_do(invoke, trap):
    trap.write_text(trap.read_text().replace('"4 ft"', "4"))
    assert_refused(invoke("check", trap), "trap.toml", "opening.1.width", "= 4", "unit", "ft")


def test_a_misspelt_key_is_answered_with_the_nearest(invoke, trap):
    trap.write_text(trap.read_text().replace("juveniles", "juvenils"))
    assert_refused(invoke("run", trap), "trap.toml", "juvenils", "juveniles")


@pytest.mark.parametrize(
    ("option", "value", "words"),
    [
        ("--nights", "0", ["nights is 0", "1 or more"]),
        ("--nights", "many", ["--nights"]),
        ("--seed", "-1", ["seed is -1", "between 0 and"]),
        ("--seed", "99999999999999999999", ["seed is 99999999999999999999"]),
        ("--precision", "narrow", ["precision is 'narrow'", "such as 0.01"]),
        ("--precision", "caugt=0.1", ["'caugt'", "caught"]),
        ("--precision", "0", ["precision of fraction_caught is 0.0", "above 0"]),
        ("--workers", "0", ["workers is 0", "1 or more"]),
        ("--engine", "steam", ["--engine", "batch", "reference"]),
        ("--level", "95", ["level is 95.0", "between 0 and 1"]),
        ("--speed", "3", ["--speed"]),
    ],
)
def test_a_bad_option_says_what_would_do(invoke, trap, option, value, words):
    assert_refused(invoke("run", trap, option, value), *words)


@pytest.mark.parametrize("number", ["-1", "99999999999999999999", "x"])
def test_a_night_has_a_whole_number_from_0(invoke, trap, number):
    assert_refused(invoke("night", trap, "--number", number), "number")


def test_an_unknown_example_is_answered_with_the_names(invoke):
    assert_refused(invoke("example", "nothing"), "'nothing'", "line")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], ["two arms"]),
        (["--vary", "opening.width"], ["opening.width", "key=choice"]),
        (["--vary", "opening.wdth=4 ft,8 ft"], ["wdth", "'width'"]),
        (["--vary", "opening.width=4,8"], ["opening.1.width", "unit"]),
        (["--vary", "opening.width=3 ft,4 ft", "--against", "me"], ["'me'", "opening.width=3 ft"]),
    ],
)
def test_a_comparison_that_compares_nothing(invoke, trap, arguments, words):
    assert_refused(invoke("compare", trap, *arguments), *words)


def test_a_study_with_an_unknown_key(invoke, tmp_path):
    file = tmp_path / "study.toml"
    file.write_text('base = "trap.toml"\nnigths = 3\n')
    assert_refused(invoke("study", file), "study.toml", "nigths", "nights")


WRONG_BY_ITSELF = [
    ["run", "trap.toml", "--nights", "0"],
    ["compare", "trap.toml", "--nights", "-3"],
    ["rule", "trap.toml", "--nights", "0"],
    ["season", "trap.toml", "--seed", "-1"],
    *(
        [command, "trap.toml", "--cluster", address]
        for command in ("run", "compare", "study")
        for address in ("barn", "tcp://barn", "tcp://barn:pig", "barn:70000", "tcp://:8786", "")
    ),
]
ALL_AT_ONCE = """
import sys
from soundergate.cli import app

for arguments in {asked}:
    try:
        app(arguments)
    except SystemExit as ended:
        print(ended.code, *{{"numba", "distributed"}} & sys.modules.keys())
"""


def test_what_is_wrong_by_itself_is_refused_before_the_engine_is_loaded(trap):
    script = ALL_AT_ONCE.format(asked=WRONG_BY_ITSELF)
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, cwd=trap.parent
    )
    assert done.stdout.splitlines() == ["2"] * len(WRONG_BY_ITSELF)
    told = done.stderr.splitlines()
    assert len(told) == len(WRONG_BY_ITSELF), done.stderr
    for arguments, line in zip(WRONG_BY_ITSELF, told, strict=True):
        option, value = arguments[-2].removeprefix("--"), arguments[-1]
        assert line.startswith("Error: ")
        assert option in line
        assert (f"'{value}'" if option == "cluster" else f" is {value}; ") in line


@pytest.mark.parametrize(
    "address",
    [
        "tcp://10.0.0.5:8786",
        "10.0.0.5:8786",
        "tls://barn.example:1",
        "tcp://[fe80::1%eth0]:65535",
        "inproc://10.0.0.5/1/1",
    ],
)
def test_an_address_that_may_be_one_is_tried(address):
    check_address(address)


class TestOut:
    def test_a_folder_that_holds_something_is_left_alone(self, invoke, trap, tmp_path):
        out = tmp_path / "out"
        out.mkdir()
        (out / "mine.txt").write_text("keep")
        said = invoke("run", trap, "--nights", 20, "--out", out)
        assert_refused(said, "not empty", "--force")
        assert [path.name for path in out.iterdir()] == ["mine.txt"]

    def test_force_writes_beside_what_is_there_also_by_a_link_further_up(
        self, invoke, trap, tmp_path
    ):
        """Such a link is how its user has set up the machine."""
        (tmp_path / "disk" / "out").mkdir(parents=True)
        (tmp_path / "link").symlink_to(tmp_path / "disk")
        (tmp_path / "disk" / "out" / "mine.txt").write_text("keep")
        assert invoke("check", trap, "--out", tmp_path / "link" / "out", "--force").code == 0
        assert (tmp_path / "disk" / "out" / "mine.txt").read_text() == "keep"
        assert (tmp_path / "disk" / "out" / "gate_1.png").stat().st_size > 1000

    @pytest.mark.parametrize("stopped", [KeyboardInterrupt, ScenarioError("no such pig")])
    @pytest.mark.parametrize("command", ["run", "season", "night"])
    def test_one_that_was_made_and_stays_empty_is_removed(
        self, invoke, trap, tmp_path, monkeypatch, command, stopped
    ):
        """With those above it that were made for it; one that was there stays."""

        def stops(*_, **__):
            raise stopped

        for place in ("commands.workplace._store", "seasons.season.season", "api.night"):
            monkeypatch.setattr(f"soundergate.{place}", stops)
        there = tmp_path / "there"
        there.mkdir()
        assert invoke(command, trap, "--out", tmp_path / "new" / "below").code != 0
        assert not (tmp_path / "new").exists()
        assert invoke(command, trap, "--out", there / "below").code != 0
        assert invoke(command, trap, "--out", there).code != 0
        assert there.is_dir()
        assert list(there.iterdir()) == []

    def test_a_file_is_no_folder(self, invoke, trap, tmp_path):
        (tmp_path / "taken").write_text("")
        said = invoke("run", trap, "--nights", 20, "--out", tmp_path / "taken")
        assert_refused(said, "not a folder")

    def test_a_folder_that_cannot_be_made(self, invoke, trap, tmp_path):
        (tmp_path / "taken").write_text("")
        said = invoke("run", trap, "--nights", 20, "--out", tmp_path / "taken" / "below")
        assert_refused(said, "cannot be written to")

    @pytest.mark.skipif(
        os.name != "posix" or os.geteuid() == 0, reason="needs a user whom permissions bind"
    )
    def test_a_folder_without_permission(self, invoke, trap, tmp_path):
        out = tmp_path / "locked"
        out.mkdir(mode=0o500)
        assert_refused(invoke("run", trap, "--nights", 20, "--out", out), "cannot be written to")

    @pytest.mark.parametrize("more", [[], ["--force"]])
    @pytest.mark.parametrize("ending", ["", "/", "/."])
    @pytest.mark.parametrize("holds", [None, "nothing", "something"])
    def test_a_link_is_not_written_through(self, invoke, trap, tmp_path, more, ending, holds):
        """To a folder that holds something or nothing, or to none at all."""
        link, other = tmp_path / "link", tmp_path / "other"
        link.symlink_to(other)
        if holds is not None:
            other.mkdir()
        if holds == "something":
            (other / "gate_1.png").write_text("keep")
        said = invoke("check", trap, "--out", f"{link}{ending}", *more)
        leads = "nowhere" if holds is None else f"to {other}"
        assert_refused(said, str(link), f"is a link that leads {leads}", "the folder itself")
        assert link.is_symlink()
        assert other.exists() == (holds is not None)
        if holds == "something":
            assert (other / "gate_1.png").read_text() == "keep"

    @pytest.mark.parametrize("command", ["run", "compare", "study", "night", "rule", "season"])
    def test_no_command_writes_through_a_link(self, invoke, trap, tmp_path, command):
        (tmp_path / "link").symlink_to(tmp_path / "nowhere")
        study = trap.parent / "study.toml"
        study.write_text(
            f'base = "{trap.name}"\n[factors]\ntrigger.distance = ["12 ft", "20 ft"]\n'
        )
        given = [study] if command == "study" else [trap]
        given += ["--vary", "sounder.sows=1,2"] if command == "compare" else []
        said = invoke(command, *given, "--out", tmp_path / "link", "--force")
        assert_refused(said, "is a link that leads nowhere")
        assert not (tmp_path / "nowhere").exists()

    def test_bad_input_leaves_no_folder(self, invoke, trap, tmp_path):
        trap.write_text("nothing = 1")
        assert_refused(invoke("run", trap, "--out", tmp_path / "out"))
        assert not (tmp_path / "out").exists()


def test_a_drawing_that_cannot_be_written_says_so(invoke, trap, monkeypatch):
    from soundergate.report import style

    def refuse(*_args, **_options):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(style, "save", refuse)
    said = invoke("night", trap)
    assert said.code == 2
    assert "Permission denied" in said.err
    assert "--out" in said.err


def test_a_fault_of_the_program_is_not_dressed_up_as_bad_input(invoke, trap, monkeypatch, capsys):
    """The guard may not swallow real faults: they must end in a traceback, not in a sentence."""
    from soundergate.cli import app
    from soundergate.mechanics.advice import check

    def broken(*_args, **_options):
        raise ZeroDivisionError("a fault")

    monkeypatch.setattr(check, "check", broken)
    with pytest.raises(ZeroDivisionError):
        app(["check", str(trap)])


@pytest.mark.parametrize("name", ["[bold]x[/bold]", "[/]", ":smile:", "[link=http://x]y"])
def test_what_a_user_writes_is_printed_as_it_is(invoke, name):
    assert f"'{name}'" in invoke("example", name).err


def test_control_codes_reach_no_terminal(invoke, tmp_path):
    said = invoke("run", tmp_path / "a\x1b[31mb.toml")
    assert said.code == 2
    assert "\x1b" not in said.err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["run", "--engine", "steam"], "'steam' is not one of 'batch', 'reference'"),
        (["run", "--nights", "many"], "'many' is not a whole number"),
        (["run", "--seed", "1.5"], "'1.5' is not a whole number"),
        (["season", "--seed", "x"], "'x' is not a whole number"),
        (["run", "--level", "high"], "'high' is not a number"),
        (["rule", "--measure", ""], "'' is not one of"),
    ],
)
def test_a_value_that_an_option_does_not_take_is_refused_in_plain_words(
    invoke, trap, arguments, words
):
    command, option, value = arguments
    told = invoke(command, trap, option, value)
    assert_refused(told, option, words)
    for foreign in ("Value error", "Input should", "parse", "integer"):
        assert foreign not in told.err


def test_no_error_of_a_validator_begins_with_the_words_of_its_library():
    def odd(value: int) -> int:
        raise ValueError("must be even")

    model = create_model("model", x=(Annotated[int, AfterValidator(odd)], ...))
    with pytest.raises(ValidationError) as caught:
        model(x=1)
    assert said(caught.value.errors()[0]) == "must be even"
    assert str(translate(caught.value, {"x": 1}, "a.toml")).count("Value error") == 0
