"""Help answers at once, names every command, and loads nothing heavy."""

from __future__ import annotations

import dataclasses
import inspect

import pytest

from shared.processes import python

COMMANDS = (
    "example", "check", "night", "run", "compare", "rule", "season", "study", "keys", "sources",
    "schema",
)  # fmt: skip
HEAVY = {
    "numpy",
    "scipy",
    "numba",
    "pandas",
    "matplotlib",
    "pint",
    "simpy",
    "jinja2",
    "distributed",
}
MAY_LOAD = {
    "soundergate",
    "soundergate.cli",
    "soundergate.commands",
    "soundergate.commands.guard",
    "soundergate.commands.interrupts",
    "soundergate.files",
    "soundergate.commands.options",
    "soundergate.commands.parsing",
    "soundergate.commands.surroundings",
    "soundergate.studies",
    "soundergate.studies.worlds",
    "soundergate.studies.worlds.negligible",
}
"""All of this package that help may load: names, options and a number they name; no model."""

LIST_MODULES = """
import sys
from soundergate.cli import app
for command in sys.argv[1:]:
    try:
        app([*command.split(), "--help"])
    except SystemExit:
        pass
print("\\n".join(sys.modules), file=sys.stderr)
"""


@pytest.mark.parametrize("asked", [("",), COMMANDS], ids=["alone", "of every command"])
def test_help_loads_only_names_and_options(asked):
    """So it answers at once; how soon is measured by experiments/benchmarks/help."""
    listed = python("-c", LIST_MODULES, *asked, check=True)
    loaded = set(listed.stderr.split())
    assert {name for name in loaded if name.split(".")[0] == "soundergate"} == MAY_LOAD
    assert not HEAVY & {name.split(".")[0] for name in loaded}


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


@pytest.mark.parametrize("name", sorted(set(COMMANDS) - {"example", "keys", "sources", "schema"}))
def test_every_option_of_a_command_is_a_field_of_its_options(name: str) -> None:
    """And no field is left over that only some default could fill."""
    from soundergate import cli
    from soundergate.commands import options

    kinds = {
        "check": options.CheckOptions,
        "night": options.NightOptions,
        "run": options.RunOptions,
        "compare": options.CompareOptions,
        "rule": options.RuleOptions,
        "season": options.SeasonOptions,
    }
    kind = kinds.get(name, options.FileOptions)
    fields = {field.name: field for field in dataclasses.fields(kind)}
    parameters = inspect.signature(getattr(cli, name)).parameters
    assert set(parameters) - {"ctx"} <= set(fields)
    own = set(fields) - {field.name for field in dataclasses.fields(options.Options)}
    assert own <= set(parameters)
