"""Files that are no files, tables in tables, and values without end: one message of a screen."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable

import pytest

from shared.processes import python
from soundergate.scenario import loading
from soundergate.scenario.errors import ScenarioError, shortened, show
from soundergate.scenario.loading import DEEPEST, from_table, loads, with_values
from soundergate.studies import study_file
from soundergate.studies.errors import StudyError

SCREEN = 1900
"""Characters of 24 lines of 80, less the line that was typed."""

NESTED: dict[str, Callable[[int], str]] = {
    "lists": lambda n: "x = " + "[" * n + "1" + "]" * n,
    "tables": lambda n: "x = " + "{a = " * n + "1" + "}" * n,
    "both": lambda n: "x = " + "[{a = " * (n // 2) + "1" + "}]" * (n // 2),
    "a dotted key": lambda n: ".".join("x" * (n + 1)) + " = 1",
    "a heading": lambda n: "[" + ".".join("x" * (n + 1)) + "]",
}
DEPTHS = (DEEPEST + 2, 100, 330, 400, 1000, 1600)
READ = {"scenario": (loads, ScenarioError), "study": (study_file.loads, StudyError)}


@pytest.mark.parametrize("kind", READ)
@pytest.mark.parametrize("form", NESTED)
@pytest.mark.parametrize("depth", DEPTHS)
def test_tables_in_tables(night_text, kind, form, depth):
    read, error = READ[kind]
    for text in (NESTED[form](depth), f"{night_text}\n[entry]\n{NESTED[form](depth)}"):
        with pytest.raises(error, match="nested too deeply") as told:
            read(text, "file.toml")
        assert str(told.value).startswith("file.toml: ")
        assert len(str(told.value)) < 200


def test_what_a_scenario_needs_is_not_too_deep(night_text):
    raw = loads(night_text).resolved()
    assert depth(raw) <= DEEPEST // 2


def depth(value) -> int:
    items = value.values() if isinstance(value, dict) else value
    return 1 + max(map(depth, items), default=0) if isinstance(value, dict | list) else 0


@pytest.mark.parametrize("deep", DEPTHS)
def test_tables_and_paths_from_python(night_text, deep):
    value: object = 1
    for _ in range(deep):
        value = [value]
    scenario = loads(night_text)
    for call in (
        lambda: from_table({"x": value}),
        lambda: with_values(scenario, {"sounder.sows": value}),
        lambda: with_values(scenario, {".".join("x" * deep): 1}),
    ):
        with pytest.raises(ScenarioError) as told:
            call()
        assert len(str(told.value)) < SCREEN
    assert len(show(value)) <= 60


LONG = {
    "a key": lambda n: f"[sounder]\n{'k' * n} = 1",
    "a text": lambda n: f'[sounder]\nsows = "{"v" * n}"',
    "a unit": lambda n: f'[corral]\ndiameter = "4 {"f" * n}"',
    "a list": lambda n: f"[sounder]\nsows = [{'1, ' * n}]",
    "a table": lambda n: "[sounder]\nsows = {" + ", ".join(f"k{i} = 1" for i in range(n)) + "}",
    "a number": lambda n: f"[sounder]\nsows = {'9' * n}",
    "a choice": lambda n: f'[trigger]\nkind = "{"k" * n}"',
    "a title": lambda n: f'title = "{"t" * n}"',
    "many faults": lambda n: "[sounder]\n" + "\n".join(f"k{i} = 1" for i in range(n)),
    "not TOML": lambda n: "=" * n,
    "an arm": lambda n: f'base = "b"\n[[arm]]\nname = "{"a" * n}"\nset = {{}}\nx = 1',
    "against": lambda n: f'base = "b"\nagainst = "{"a" * n}"\n[[arm]]\nname = "a"',
}


@pytest.mark.parametrize("kind", READ)
@pytest.mark.parametrize("what", LONG)
@pytest.mark.parametrize("length", [90, 4_000, 40_000])
def test_a_message_is_never_longer_than_a_screen(kind, what, length):
    read, _ = READ[kind]
    with pytest.raises(ScenarioError) as told:
        read(LONG[what](length), "file.toml")
    assert len(str(told.value)) < SCREEN
    assert str(told.value).count("\n") == 0


def test_a_line_without_end_is_not_parsed():
    """A key of a hundred thousand parts would keep the parser busy for hours."""
    with pytest.raises(ScenarioError, match=r"f: line 2 has more than 10000 characters"):
        loads("a = 1\n" + ".".join("x" * 400_000) + " = 1", "f")


def test_what_is_left_out_of_a_long_text_is_its_middle():
    assert shortened("short") == "short"
    text = shortened("a" * 500 + "z" * 500)
    assert len(text) <= 100
    assert (text[0], text[-1]) == ("a", "z")
    assert " ... " in text


SPECIAL = """
import os, resource, sys
resource.setrlimit(resource.RLIMIT_AS, (8 << 30,) * 2)
from soundergate.cli import main
sys.argv = ["soundergate", *sys.argv[1:]]
main()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="there are no such files")
@pytest.mark.parametrize(
    ("command", "what"),
    [
        ("check", "a link to a pipe"),
        *(
            pytest.param("check", what, marks=pytest.mark.slow)
            for what in ("a pipe", "/dev/zero", "/dev/stdin")
        ),
        pytest.param("run", "a pipe", marks=pytest.mark.slow),
        ("study", "/dev/zero"),
    ],
)
def test_what_is_no_ordinary_file_is_not_opened(tmp_path, command, what):
    """A pipe would wait for ever for somebody to write, and a device may have no end."""
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "link").symlink_to("pipe")
    path = {"a pipe": "pipe", "a link to a pipe": "link"}.get(what, what)
    done = python("-c", SPECIAL, command, path, stdin=subprocess.PIPE, cwd=tmp_path)
    assert done.returncode == 2
    assert done.stderr.splitlines() == [f"Error: {path}: is not an ordinary file"]


@pytest.mark.parametrize("read", [loading.load, study_file.load])
def test_a_file_too_large_to_be_one_is_not_read(tmp_path, read):
    path = tmp_path / "large.toml"
    with open(path, "wb") as file:
        file.truncate(1 << 40)
    with pytest.raises(ScenarioError, match=r"large\.toml: larger than 1000000 bytes: not a s"):
        read(path)


@pytest.mark.parametrize("read", [loading.load, study_file.load])
def test_a_file_in_another_code_says_where(tmp_path, read):
    path = tmp_path / "latin.toml"
    path.write_bytes("title = 1\n# é\n".encode("latin-1"))
    with pytest.raises(ScenarioError, match=r"latin.toml: not UTF-8 text \(line 2\); save"):
        read(path)
