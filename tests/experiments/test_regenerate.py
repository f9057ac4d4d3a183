"""Whatever results_demo holds is written by a command that a README names; one study is played
whole by that very command, and every file that it leaves is the committed one.

Text is compared sign by sign except for its numbers, which agree to nine digits: room for the last
bit of another processor, none for a key or a word that is missing. Pictures depend on the
Matplotlib that drew them, whose version stands in run.json; with another they are only counted.
"""

from __future__ import annotations

import json
import math
import re
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from shared.processes import module_at
from soundergate.studies.store.versions import drawn_with

REPO = Path(__file__).parents[2]
RESULTS = REPO / "results_demo"
WHOLE = "gate_width_free"
"""The cheapest: 20,000 nights of few arms, no worlds."""
NUMBER = re.compile(r"(?<![\w.#])-?\d+(?:\.\d+)?(?:e[+-]?\d+)?(?![\w.])")
DIGITS = 1e-9


@pytest.fixture(scope="module")
def regenerate() -> ModuleType:
    return module_at(REPO / "experiments" / "regenerate.py")


def differences(ours: str, theirs: str) -> list[str]:
    """Where two texts differ in anything but the last digits of a number."""
    if NUMBER.sub("0", ours) != NUMBER.sub("0", theirs):
        a, b = NUMBER.sub("0", ours).splitlines(), NUMBER.sub("0", theirs).splitlines()
        lines = [f"{x[:120]} / {y[:120]}" for x, y in zip(a, b, strict=False) if x != y]
        return lines[:3] or [f"{len(a)} and {len(b)} lines"]
    numbers = zip(NUMBER.findall(ours), NUMBER.findall(theirs), strict=True)
    return [
        f"{one} and {other}"
        for one, other in numbers
        if one != other
        and not math.isclose(float(one), float(other), rel_tol=DIGITS, abs_tol=1e-15)
    ]


def comparable(path: Path, same_pictures: bool) -> str:
    """A text file without what depends on the computer: versions, and vectors of another drawer."""
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".json":
        told = json.loads(text)
        for key in ("versions", "drawn_with"):
            assert told.pop(key), key
        return json.dumps(told, indent=1)  # in the order written
    if not same_pictures:
        text = re.sub(r"<svg\b.*?</svg>", "", text, flags=re.DOTALL)
    return text


def pixels(path: Path):
    from matplotlib.image import imread

    return imread(path)


def test_a_difference_is_seen() -> None:
    assert differences('"a": 0.25, "b"', '"a": 0.25000000000001, "b"') == []
    assert differences('"a": 0.25', '"a": 0.2501') == ["0.25 and 0.2501"]
    assert differences('"a": 3', '"a": 4') == ["3 and 4"]
    assert differences('{"a": 3}', '{"b": 3}') != []
    assert differences("a\nb", "a") != []
    assert differences("#1f5a93", "#1f5a94") != []


def test_every_folder_of_results_has_its_command(regenerate: ModuleType) -> None:
    folders = {path.name for path in RESULTS.iterdir() if path.is_dir()}
    assert set(regenerate.commands()) == folders
    for name, words in regenerate.commands().items():
        for word in words:
            if word.endswith((".toml", ".py")):
                assert (REPO / word).is_file(), (name, word)


def test_a_command_that_fails_leaves_the_results_as_they_were(
    regenerate: ModuleType, tmp_path: Path
) -> None:
    (tmp_path / "some").mkdir()
    (tmp_path / "some" / "kept.csv").write_text("a\n")
    words = ["soundergate", "study", "no such file", "--out", "results_demo/some", "--force"]
    with pytest.raises(subprocess.CalledProcessError):
        regenerate.replace("some", words, tmp_path)
    assert [path.name for path in tmp_path.rglob("*.csv")] == ["kept.csv"]
    assert [path.name for path in tmp_path.iterdir()] == ["some"]


KILLED = """
import sys
from pathlib import Path
sys.path.insert(0, {experiments!r})
import regenerate
def play(words, out):
    out.mkdir()
    (out / "half").write_text("written")
    print("playing", flush=True)
    sys.stdin.read()
regenerate.play = play
regenerate.replace("some", [], Path({into!r}))
"""


def test_what_a_killed_regeneration_left_goes_at_the_next_start_and_what_another_plays_stays(
    regenerate: ModuleType, tmp_path: Path, monkeypatch
) -> None:
    def begin() -> subprocess.Popen:
        code = KILLED.format(experiments=str(REPO / "experiments"), into=str(tmp_path))
        begun = subprocess.Popen(
            [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        assert begun.stdout is not None
        assert begun.stdout.readline() == "playing\n"
        return begun

    def halves() -> int:
        return len([*tmp_path.rglob("half")])

    killed = begin()
    killed.kill()
    killed.communicate()
    assert halves() == 1
    other = begin()
    assert halves() == 1  # the one that it writes itself
    monkeypatch.setattr(regenerate, "play", lambda words, out: out.mkdir())
    regenerate.replace("more", [], tmp_path)
    assert halves() == 1  # it plays on
    other.communicate("")
    assert other.returncode == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == ["more", "some"]


def test_an_unknown_name_is_told_the_known_ones(regenerate: ModuleType, capsys) -> None:
    with pytest.raises(SystemExit):
        regenerate.main(["everything"])
    assert "gate_width_free" in capsys.readouterr().err


def ignored(folder: Path) -> set[str]:
    """Files of a folder that git is told to leave out."""
    names = [f"results_demo/{WHOLE}/{path.name}" for path in folder.iterdir()]
    done = subprocess.run(
        ["git", "check-ignore", "--no-index", *names],
        cwd=REPO, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if done.returncode not in (0, 1):
        pytest.skip("not a git checkout: what is left out is unknown")
    return {Path(line).name for line in done.stdout.splitlines()}


@pytest.mark.slow
def test_one_study_played_whole_is_the_committed_one(tmp_path: Path) -> None:
    command = [sys.executable, str(REPO / "experiments" / "regenerate.py"), WHOLE]
    subprocess.run([*command, "--into", str(tmp_path)], check=True, capture_output=True)
    written, committed = tmp_path / WHOLE, RESULTS / WHOLE
    left_out = ignored(written)
    names = {path.name for path in written.iterdir()} - left_out
    assert names == {path.name for path in committed.iterdir()} - left_out
    record = json.loads((committed / "run.json").read_text(encoding="utf-8"))
    same_pictures = record["drawn_with"] == drawn_with()
    compared = 0
    for name in sorted(names):
        ours, theirs = written / name, committed / name
        if ours.suffix == ".png":
            assert theirs.read_bytes().startswith(b"\x89PNG")
            if same_pictures:
                assert (pixels(ours) == pixels(theirs)).all(), name
            continue
        texts = (comparable(path, same_pictures) for path in (ours, theirs))
        assert differences(*texts) == [], name
        compared += 1
    assert compared >= 4
