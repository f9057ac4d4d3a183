"""What goes to standard error is no longer than a screen, whatever was typed or is in a file."""

from __future__ import annotations

import re

import pytest
import typer

from soundergate.cli import app
from soundergate.commands.study import _FAILED_TOLD
from soundergate.scenario.errors import SCREEN_COLUMNS, SCREEN_LINES, on_a_screen

COMMANDS = typer.main.get_command(app).commands  # type: ignore[attr-defined]
HOSTILE = {
    "letters": "x" * 100_000,
    "lines": "\n\t\r\x1b[2J" * 20_000,
    "digits": "9" * 100_000,
    "commas": "=," * 50_000,
    "key": "opening." * 12_000 + "width=" + "4 ft," * 20_000,
    "markup": "[bold]" * 15_000,
}


def rows(text: str) -> int:
    """Lines of a screen that a text fills."""
    return sum(max(1, -(-len(line) // SCREEN_COLUMNS)) for line in text.rstrip("\n").split("\n"))


def assert_on_a_screen(said) -> None:
    """A message within a screen; an answer, to what was no bad input after all, within two."""
    most = SCREEN_LINES if said.code else 2 * SCREEN_LINES
    assert rows(said.err) <= most, said.err[:3000]
    assert "Traceback" not in said.err
    assert "\x1b" not in said.err


def files_for(command: str, trap) -> list[object]:
    """What a command needs to come as far as its options."""
    study = trap.parent / "study.toml"
    study.write_text(f'base = "{trap.name}"\nnights = 5\n[factors]\ntrigger.distance = ["20 ft"]\n')
    given: dict[str, list[object]] = {
        "example": [],
        "schema": [],
        "study": [study],
        "compare": [trap, "--vary", "sounder.sows=1,2"],
    }
    return given.get(command, [trap])


@pytest.mark.parametrize("value", HOSTILE.values(), ids=HOSTILE)
@pytest.mark.parametrize(
    "typed",
    [
        ["run", "{trap}", "--{value}"],
        ["run", "{trap}", "--nights={value}"],
        ["run", "{trap}", "--engine={value}"],
        ["run", "{trap}", "{value}"],
        ["run", "{value}"],
        ["run", "{trap}", "--json={value}"],
        ["{value}"],
        ["--{value}"],
        ["compare", "{trap}", "--vary={value}"],
        ["sources", "{trap}", "--origin={value}"],
    ],
    ids=" ".join,
)
def test_what_is_refused_is_told_on_a_screen(invoke, trap, typed, value) -> None:
    said = invoke(*(part.format(trap=trap, value=value) for part in typed))
    assert said.code == 2
    assert len(said.err) > 20
    assert_on_a_screen(said)


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("value", HOSTILE.values(), ids=HOSTILE)
def test_of_every_option_of_every_command(invoke, trap, command, value) -> None:
    """As its value, whether it takes one or not; and as an argument too many."""
    given = files_for(command, trap)
    options = [p.opts[-1] for p in COMMANDS[command].params if p.param_type_name == "option"]
    assert options or command == "schema"
    for option in options:
        assert_on_a_screen(invoke(command, *given, f"{option}={value}"))
    assert_on_a_screen(invoke(command, *given, value))
    assert_on_a_screen(invoke(command, value))


@pytest.mark.slow
@pytest.mark.parametrize("value", HOSTILE.values(), ids=HOSTILE)
def test_of_texts_in_a_file(invoke, trap, value) -> None:
    """Every text of a scenario file in turn, as a value and as a key."""
    text = trap.read_text()
    quoted = '"' + "".join(f"\\u{ord(sign):04x}" for sign in value[:20_000]) + '"'
    for found in re.finditer(r'"[^"]*"', text):
        trap.write_text(text[: found.start()] + quoted + text[found.end() :])
        assert_on_a_screen(invoke("check", trap))
    trap.write_text(text + quoted + " = 1\n")
    assert_on_a_screen(invoke("check", trap))


@pytest.mark.parametrize("failing", [1, _FAILED_TOLD, 40])
def test_arms_that_are_not_played(invoke, trap, failing) -> None:
    """The first few are named, the rest are counted."""
    arms = "".join(
        f'[[arm]]\nname = "{"n" * 190}{number}"\nset = {{opening.width = "1{"0" * number} km"}}\n'
        for number in range(failing)
    )
    good = '[[arm]]\nname = "good"\nset = {sounder.sows = 2}\n'
    study = trap.parent / "study.toml"
    study.write_text(f'base = "{trap.name}"\nnights = 5\n{arms}{good}')
    said = invoke("study", study, "--quiet")
    told = [line for line in said.err.splitlines() if line.startswith("Not played: ")]
    assert said.code == 0, said.err
    assert len(told) == min(failing, _FAILED_TOLD + 1)
    if failing > _FAILED_TOLD:
        assert told[-1] == f"Not played: {failing - _FAILED_TOLD} more, which --json names."
    assert rows("\n".join(told)) <= SCREEN_LINES


def test_a_text_that_fits_is_left_as_it_is() -> None:
    fits = "\n".join(["x" * SCREEN_COLUMNS] * SCREEN_LINES)
    assert on_a_screen(fits) == fits
    assert on_a_screen("") == ""
    for longer in (fits + "x", fits + "\n", "x\n" * 5000, "x" * 5000):
        cut = on_a_screen(longer)
        assert rows(cut) <= SCREEN_LINES
        assert " ... " in cut or len(cut) < len(longer)
