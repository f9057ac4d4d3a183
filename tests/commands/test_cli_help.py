"""Help answers at once, names every command, and loads nothing heavy."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

COMMANDS = (
    "example", "check", "night", "run", "compare", "rule", "season", "study", "sources", "schema",
)  # fmt: skip
HEAVY = {"numpy", "scipy", "numba", "pandas", "matplotlib", "pint", "simpy", "jinja2"}
MAY_LOAD = {
    "soundergate",
    "soundergate.cli",
    "soundergate.commands",
    "soundergate.commands.guard",
    "soundergate.commands.interrupts",
    "soundergate.files",
    "soundergate.commands.options",
    "soundergate.commands.streams",
    "soundergate.commands.surroundings",
}
"""All of this package that help may load: names and options, no model."""

LIST_MODULES = """
import sys
from soundergate.cli import app
try:
    app(sys.argv[1:])
except SystemExit:
    print("\\n".join(sys.modules), file=sys.stderr)
"""


def python(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, *arguments], capture_output=True, text=True, check=True)


@pytest.mark.parametrize("arguments", [["--help"], ["run", "--help"], ["example", "--help"]])
def test_help_loads_only_names_and_options(arguments):
    loaded = set(python("-c", LIST_MODULES, *arguments).stderr.split())
    assert {name for name in loaded if name.split(".")[0] == "soundergate"} == MAY_LOAD
    assert not HEAVY & {name.split(".")[0] for name in loaded}


def test_help_takes_less_than_four_tenths_of_a_second():
    """In time of the processor, since other tests run beside this one on the same machine; and
    where that is slow, in terms of what the option parser takes to load there."""
    helped = min(spent("-m", "soundergate", "--help") for _ in range(5))
    parser = min(spent("-c", "import typer, rich.panel, rich.table") for _ in range(5))
    assert 0.0 < helped < max(0.4, 4 * parser)


def spent(*arguments: str) -> float:
    """Seconds of the processor."""
    before = os.times()
    python(*arguments)
    after = os.times()
    return sum(after[2:4]) - sum(before[2:4])


def test_help_names_every_command_and_the_caution(invoke):
    said = invoke("--help")
    assert said.code == 0
    assert all(f" {name} " in said.out for name in COMMANDS)
    assert "never a" in said.out
    assert "licensed practice" in said.out


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_a_sentence(invoke, name):
    said = invoke(name, "--help")
    assert said.code == 0
    assert f"soundergate {name}" in said.out or f" {name} " in said.out


def test_help_of_study_names_every_key_of_its_file(invoke):
    from soundergate.studies.crossed import ArmEntry
    from soundergate.studies.study_schema import RobustEntry, StudyFile

    said = invoke("study", "--help").out
    for model in (StudyFile, ArmEntry, RobustEntry):
        for key in set(model.model_fields) - {"path"}:
            assert key in said
    assert all(table in said for table in ("[[arm]]", "[[across]]", "[factors]", "[robust]"))


@pytest.mark.parametrize("asked", [("--nights", "10"), ("--nights=10",)])
def test_a_season_asked_for_nights_says_campaigns(invoke, asked):
    said = invoke("season", "trap.toml", *asked)
    assert said.code == 2
    assert "No such option: --nights" in said.err
    assert "--campaigns" in said.err


def test_version_is_that_of_the_package(invoke):
    import soundergate

    assert invoke("--version").out.strip() == soundergate.__version__
