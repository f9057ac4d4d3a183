"""Every public function says what it takes, gives and raises, with an example that is run."""

from __future__ import annotations

import doctest
import inspect
import re
from pathlib import Path

import pytest

import soundergate
from soundergate.scenario import examples

FUNCTIONS = [
    name
    for name in soundergate.__all__
    if callable(getattr(soundergate, name))
    and not inspect.isclass(getattr(soundergate, name))
    and name != "register"  # takes nothing, cannot fail, and is a table to be looked at
]
SECTIONS = ("Parameters", "Returns", "Raises", "Example")


def sections(name: str) -> dict[str, str]:
    text = inspect.getdoc(getattr(soundergate, name)) or ""
    found = re.split(r"^(\w+)\n-{3,}\n", text, flags=re.MULTILINE)
    return dict(zip(found[1::2], found[2::2], strict=True))


def test_there_are_functions_to_read() -> None:
    assert {"load", "check", "night", "run", "compare", "rule", "season", "study"} < set(FUNCTIONS)


@pytest.mark.parametrize("name", FUNCTIONS)
def test_no_section_is_missing(name: str) -> None:
    found = sections(name)
    for section in SECTIONS:
        assert found.get(section, "").strip(), f"{name} has no {section}"
    told = found.get("Parameters", "")
    for parameter in inspect.signature(getattr(soundergate, name)).parameters:
        assert re.search(rf"^(\w+, )*{parameter}(, \w+)* :", told, re.MULTILINE), parameter


@pytest.mark.parametrize("name", FUNCTIONS)
def test_its_example_does_what_it_shows(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for file, example in (("trap.toml", "line"), ("watch.toml", "watch")):
        (tmp_path / file).write_text(examples.text(example), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    found = doctest.DocTestFinder(recurse=False).find(
        getattr(soundergate, name), name, globs={"with_values": soundergate.with_values}
    )
    assert sum(len(test.examples) for test in found) >= 2
    told: list[str] = []
    runner = doctest.DocTestRunner(verbose=False)
    for test in found:
        runner.run(test, out=told.append)
    assert not runner.failures, "".join(told)
