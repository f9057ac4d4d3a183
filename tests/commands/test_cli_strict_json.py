"""What --json prints is JSON by the standard, which has neither NaN nor Infinity (RFC 8259, 6).

Nights so few that nothing has a spread, and setups in which nothing ever happens, are where a
number that is none would slip in.
"""

import json

import pytest

from shared.tiers import few_first
from soundergate.scenario.examples import text

ALONE = '[[arm]]\nname = "alone"\n'
STUDY = """
base = "watch.toml"
nights = {nights}
{arms}
[robust]
worlds = 20
nights = 10
only = ["entry.clock"]
"""
NOBODY_COMES = """
[sounder]
boars = 1
[[opening]]
width = "4 ft"
height = "3 ft"
gate = {kind = "drop", sheet = "14 gauge"}
[trigger]
kind = "person"
count = 9
"""


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name in ("watch", "line"):
        (tmp_path / f"{name}.toml").write_text(text(name), encoding="utf-8")
    (tmp_path / "nobody.toml").write_text(NOBODY_COMES, encoding="utf-8")
    for nights in (1, 2):
        for name, arms in (("one", ALONE), ("two", ALONE + '[[arm]]\nname = "b"\n')):
            (tmp_path / f"{name}{nights}.toml").write_text(STUDY.format(nights=nights, arms=arms))
    return tmp_path


def strict(text):
    def refuse(constant):
        raise AssertionError(f"{constant} is not JSON")

    return json.loads(text, parse_constant=refuse)


RULES = [
    ("watch.toml", "--nights", 1),
    ("watch.toml", "--nights", 2),
    ("nobody.toml", "--nights", 2),
]
COMMANDS = [
    *(("run", name, "--nights", n) for name in ("watch.toml", "nobody.toml") for n in (1, 2)),
    *few_first(("compare", "watch.toml", "line.toml", "--nights", n) for n in (1, 2)),
    ("compare", "watch.toml", "--vary", "training.nights=3,4", "--nights", 2),
    ("compare", "watch.toml", "nobody.toml", "--nights", 2, "--trial-power", "0.8"),
    *few_first(("study", f"{name}{n}.toml") for name in ("one", "two") for n in (1, 2)),
    *(pytest.param(("rule", *rest), marks=pytest.mark.slow) for rest in RULES),
    ("season", "line.toml", "--campaigns", 2, "--worlds", 20),
    ("night", "nobody.toml", "--seed", 1, "--number", 0),
    ("check", "line.toml"),
    ("check", "nobody.toml"),
    ("sources",),
    ("schema",),
    ("example",),
]


@pytest.mark.parametrize("command", COMMANDS, ids=lambda c: " ".join(map(str, c)))
def test_every_command_prints_strict_json(invoke, folder, command):
    rest = [] if command[0] == "schema" else ["--json"]
    said = invoke(*command, *rest)
    assert said.code in (0, 1), said.err
    assert strict(said.out) is not None


@pytest.mark.slow
@pytest.mark.parametrize("command", [("run", "watch.toml"), ("study", "one2.toml")])
def test_what_lies_in_the_folder_is_strict_too(invoke, folder, command):
    rest = ["--nights", 2] if command[0] == "run" else []
    assert invoke(*command, *rest, "--out", folder / "out").code == 0
    for path in (folder / "out").glob("*.json"):
        strict(path.read_text(encoding="utf-8"))
