"""Running the command line inside the test's own process, and scenario files to run it on."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import typer.main

# One drop gate let go by the animals themselves: quick to solve and to play.
TRAP = """
title = "Invented: a test trap"
[sounder]
sows = 1
juveniles = 4
[[opening]]
width = "4 ft"
height = "3 ft"
gate = {kind = "drop", sheet = "14 gauge"}
latch = {kind = "pin", puller = "animal", lever = 4}
[trigger]
kind = "line"
height = "16 in"
distance = "20 ft"
"""
FEW = ("entry.clock", "entry.shy_share", "leaving.clock", "startle.bolt_share")


@dataclass(frozen=True)
class Said:
    """What a command left behind."""

    code: int
    out: str
    err: str

    @property
    def data(self) -> Any:
        return json.loads(self.out)


Invoke = Callable[..., Said]


@cache
def built() -> Any:
    """All commands with their options, which typer puts together anew for each call otherwise."""
    from soundergate.cli import app

    return typer.main.get_command(app)


@pytest.fixture
def invoke(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Invoke:
    """Run `soundergate ARGS...` and return exit code, standard output and standard error.

    `run`, `compare` and `check` look at no plausible worlds unless asked to: those take seconds,
    and what they add is tested in test_cli_worlds and test_cli_check_worlds.
    """
    command = built()
    monkeypatch.delenv("COLUMNS", raising=False)  # test runners set it; a pipe has no width
    # on a busy machine a command takes longer, and would say how far it has come
    monkeypatch.setattr("soundergate.commands.progress._FIRST_LINE", float("inf"))
    # whichever test comes first may meet an engine that is not compiled yet, and be told so
    monkeypatch.setattr("soundergate.commands.progress.Quarters", lambda _: lambda _: None)

    def run(*arguments: object) -> Said:
        capsys.readouterr()
        said = [str(argument) for argument in arguments]
        asks = {"--worlds", "--help"} & {*said} or any(one.endswith("run.json") for one in said)
        if said[:1] in (["run"], ["compare"], ["check"]) and not asks:
            said += ["--worlds", "0"]
        with pytest.raises(SystemExit) as ended:
            command(said)
        out, err = capsys.readouterr()
        return Said(int(ended.value.code or 0), out, err)

    return run


@pytest.fixture
def few_defaults(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only some defaults are tried for what an answer leans on: all of them take long."""
    from soundergate.studies.worlds import inputs, one_at_a_time

    def some(*given: Any) -> list[inputs.Input]:
        return [one for one in inputs.inputs_of(*given) if one.id in FEW]

    monkeypatch.setattr(one_at_a_time, "inputs_of", some)


@pytest.fixture
def trap(tmp_path: Path) -> Path:
    """A scenario file that is alone in its folder."""
    folder = tmp_path / "files"
    folder.mkdir()
    path = folder / "trap.toml"
    path.write_text(TRAP, encoding="utf-8")
    return path
