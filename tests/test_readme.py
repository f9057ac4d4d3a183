"""The README: two set-up commands, a twelve-line trap, and the output its commands print."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import pytest

from shared.processes import module_at, python
from soundergate.scenario import examples

REPO = Path(__file__).parents[1]
SCRIPT = REPO / ".ci" / "readme.py"
TEXT = (REPO / "README.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def readme() -> ModuleType:
    return module_at(SCRIPT)


@pytest.mark.slow
def test_it_prints_what_its_commands_print() -> None:
    done = python(SCRIPT, "check")
    assert done.returncode == 0, done.stdout + done.stderr


def test_output_that_no_command_prints_would_be_seen(
    readme: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    false = "```console\n$ echo printed\nnever printed\n```\n"
    monkeypatch.setattr(readme, "README", tmp_path / "README.md")
    (tmp_path / "README.md").write_text(false, encoding="utf-8")
    assert readme.main(["check"]) == 1
    readme.main(["update"])
    assert "never printed" not in (tmp_path / "README.md").read_text(encoding="utf-8")
    assert readme.main(["check"]) == 0


def test_how_far_a_command_has_come_is_no_output_of_its_own(readme: ModuleType) -> None:
    """Whatever is said by the clock, of anything that is counted, and nothing else."""
    from soundergate.commands.progress import Lines

    told: list[str] = []
    for what in ("nights", "what it leans on", "campaigns"):
        for rate in (0.5, 40, 123_456):
            clock = iter(range(0, 10_000, 20))
            lines = Lines(what, told.append, lambda clock=clock: next(clock))
            for step in range(1, 30):
                lines(int(rate * step * 40), 10**9)
    assert len(told) > 100
    assert all(readme.passing(line) for line in told)
    shown = [line for body in readme.blocks(TEXT, "console") for line in body.splitlines()]
    assert not any(readme.passing(line) for line in shown)


def test_exactly_two_setup_commands(readme: ModuleType) -> None:
    first, second = readme.setup_commands(TEXT)
    assert "venv" in first
    assert "soundergate run" in first
    assert "[test]" in second
    assert "pytest" in second


def test_the_job_in_the_first_paragraph() -> None:
    heading, first, rest = TEXT.split("\n\n", 2)
    assert heading == "# soundergate"
    assert "thousands of times" in first.replace("\n", " ")
    assert rest.startswith("## ")


def test_a_trap_in_twelve_lines(readme: ModuleType) -> None:
    trap = readme.blocks(TEXT, "toml")[0]
    assert len(trap.splitlines()) == 12


def test_its_study_file_is_one(readme: ModuleType, tmp_path: Path) -> None:
    from soundergate.scenario import load, with_values
    from soundergate.studies import study_file
    from soundergate.studies.crossed import plans

    trap = readme.blocks(TEXT, "toml")[0]
    (question,) = (body for body in readme.blocks(TEXT, "toml") if "base = " in body)
    (tmp_path / "creek.toml").write_text(trap, encoding="utf-8")
    (tmp_path / "question.toml").write_text(question, encoding="utf-8")
    arms = plans(study_file.load(tmp_path / "question.toml"))
    assert len(arms) == 4
    setups = [with_values(load(arm.file), arm.set) for arm in arms]
    assert all(one != other for i, one in enumerate(setups) for other in setups[:i])


def test_its_python_runs(
    readme: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    trap = readme.blocks(TEXT, "toml")[0]
    code, rule = readme.blocks(TEXT, "python")
    (tmp_path / "creek.toml").write_text(trap, encoding="utf-8")
    (tmp_path / "watch.toml").write_text(examples.text("watch"), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    exec(code, names)
    with pytest.warns(UserWarning, match="one night at a time"):
        exec(rule.replace("nights=200", "nights=20"), names)
    assert names["result"].nights == 20  # type: ignore[attr-defined]
    assert names["trace"].night == 4711  # type: ignore[attr-defined]


def test_every_command_is_listed() -> None:
    from soundergate.cli import app

    for command in app.registered_commands:
        assert command.callback is not None
        assert f"| `{command.callback.__name__}" in TEXT


@pytest.mark.parametrize(
    "words",
    [
        "Local codes and licensed practice come first",
        "suspended load",
        "Compressed air",
        "carry disease",
        "never a clearance",
        "no promise",
        "at least daily",
        "not meant to be caught",
    ],
)
def test_cautions_stand(words: str) -> None:
    assert words in TEXT
