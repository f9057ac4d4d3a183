"""Where one stands does not matter, nor who reads: folders with files that would be followed,
streams that are closed, full, broken or without width."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from soundergate.commands import surroundings
from soundergate.scenario.errors import ScenarioError

REPO = Path(__file__).parents[2]
HOSTILE = """
figure.dpi: 40
figure.facecolor: black
axes.facecolor: red
axes.grid: True
axes.prop_cycle: cycler('color', ['ff0000'])
lines.linewidth: 9
lines.marker: x
patch.linewidth: 7
font.size: 30
font.family: serif
legend.loc: lower left
xtick.direction: in
savefig.transparent: True
savefig.bbox: tight
savefig.dpi: 20
svg.fonttype: none
figure.constrained_layout.h_pad: 2
path.sketch: 1, 100, 2
not.a.key: 3
this is no line
"""


def shell(line: str, folder: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """A command line in a folder, with `soundergate` from the Python of the tests."""
    path = os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]])
    env = {k: v for k, v in os.environ.items() if k != "COLUMNS"} | {"PATH": path} | environment
    return subprocess.run(
        ["bash", "-c", line], cwd=folder, env=env, capture_output=True, text=True, check=False
    )


def quiet(done: subprocess.CompletedProcess[str]) -> bool:
    return "Traceback" not in done.stderr and "Exception ignored" not in done.stderr


@pytest.mark.parametrize(
    ("command", "redirected"),
    [
        *(("example line", streams) for streams in (">&-", "<&- >&- 2>&-")),
        *(
            pytest.param("example line", streams, marks=pytest.mark.slow)
            for streams in ("2>&-", ">&- 2>&-")
        ),
        ("nonsense", "2>&-"),
    ],
)
def test_a_closed_stream_is_no_traceback(tmp_path, command, redirected) -> None:
    done = shell(f"soundergate {command} {redirected}", tmp_path)
    assert done.returncode == (2 if command == "nonsense" else 0)
    assert quiet(done), done.stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_a_full_disk_is_said(tmp_path) -> None:
    done = shell("soundergate example line >/dev/full", tmp_path)
    assert done.returncode == 2
    assert "No space left" in done.stderr
    assert quiet(done), done.stderr
    done = shell("soundergate nonsense 2>/dev/full", tmp_path)
    assert done.returncode != 0


@pytest.mark.slow
@pytest.mark.parametrize("pipe", ["| true", "2>&1 | true", "2> >(true) | true"])
def test_a_reader_that_has_gone_ends_nothing(trap, tmp_path, pipe) -> None:
    """What was to be written is written, though nobody reads what is said."""
    line = f"set -o pipefail; soundergate check {trap} --out out {pipe}"
    done = shell(line, tmp_path)
    assert done.returncode in (0, 1)
    assert quiet(done), done.stderr
    assert list((tmp_path / "out").glob("*.png"))


@pytest.mark.parametrize(
    ("columns", "command"), [("0", "run --help"), ("7", "example"), ("wide", "run --help")]
)
def test_an_absurd_width_hides_nothing(tmp_path, columns, command) -> None:
    done = shell(f"soundergate {command}", tmp_path, COLUMNS=columns)
    assert done.returncode == 0
    told = "".join(done.stdout.split())
    assert "person" in told if command == "example" else "--precision" in told


def test_widths_that_are_kept(monkeypatch) -> None:
    for columns, kept in (
        ("80", "80"),
        ("59", "60"),
        ("1", "60"),
        ("0", None),
        ("-3", None),
        ("", None),
        ("x", None),
    ):
        monkeypatch.setenv("COLUMNS", columns)
        surroundings.ready()
        assert os.environ.get("COLUMNS") == kept


@pytest.mark.slow
def test_modules_of_the_folder_are_not_taken(tmp_path) -> None:
    for name in ("numpy", "scipy", "pandas", "typer", "rich", "matplotlib", "tomllib", "json"):
        (tmp_path / f"{name}.py").write_text("raise SystemExit('taken from the folder')\n")
    done = shell("python -m soundergate example line >a.toml && python -m soundergate check a.toml",
                 tmp_path)  # fmt: skip
    assert done.returncode in (0, 1), done.stderr
    assert "taken from the folder" not in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.slow
def test_settings_of_the_folder_draw_no_other_picture(trap, tmp_path) -> None:
    clean, hostile = tmp_path / "clean", tmp_path / "hostile"
    for folder in (clean, hostile):
        folder.mkdir()
    (hostile / "matplotlibrc").write_text(HOSTILE, encoding="utf-8")
    for folder in (clean, hostile):
        done = shell(f"soundergate run {trap} --nights 30 --out out --quiet", folder)
        assert done.returncode == 0, done.stderr
        assert done.stderr == ""
    ours, theirs = (
        {path.name: path.read_bytes() for path in (folder / "out").iterdir()}
        for folder in (clean, hostile)
    )
    assert any(name.endswith(".svg") for name in ours)
    assert ours.keys() == theirs.keys()
    assert [name for name in ours if ours[name] != theirs[name] and "sqlite" not in name] == []


def test_drawing_asks_for_no_setting_but_its_own(trap) -> None:
    """The same in one process: every default of Matplotlib that can be moved is moved."""
    import matplotlib

    from soundergate.mechanics.setup import solve
    from soundergate.report.figures.gate import gate_figure
    from soundergate.report.figures.trap_plan import trap_plan
    from soundergate.report.figures.triggers.of_trap import trigger_figures
    from soundergate.report.pages.inline_svg import inline_svg
    from soundergate.scenario.loading import load

    scenario = load(trap)
    setup = solve(scenario)

    def drawn() -> dict[str, str]:
        figures = {"gate": gate_figure(setup.openings[0]), "plan": trap_plan(scenario)}
        figures |= {name: one for name, (one, _) in trigger_figures(scenario, setup).items()}
        return {name: str(inline_svg(figure, name, name)) for name, figure in figures.items()}

    usual = drawn()
    moved = {
        key: value * 3 + 1
        for key, value in matplotlib.rcParamsDefault.items()
        if isinstance(value, float) and key.split(".")[0] not in ("animation", "webagg")
    }
    moved |= {"axes.grid": True, "axes.facecolor": "red", "text.usetex": False}
    moved |= {"lines.marker": "x", "path.sketch": (1, 100, 2)}
    refused = set()
    with matplotlib.rc_context():
        for key, value in moved.items():
            try:
                matplotlib.rcParams[key] = value
            except (ValueError, RuntimeError):
                refused.add(key)
        assert len(moved) - len(refused) > 40
        before = dict(matplotlib.rcParams)
        assert drawn() == usual
        assert dict(matplotlib.rcParams) == before


def test_settings_that_cannot_be_passed_over_are_one_clear_error(
    tmp_path, invoke, monkeypatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert invoke("example", "line").code == 0
    for name, data in ((surroundings.NUMBA, b"opt: 0\n"), (surroundings.MATPLOTLIB, b"\xff\xfe")):
        Path(name).write_bytes(data)
        said = invoke("example", "line")
        assert said.code == 2
        assert said.err.startswith(f"Error: {name}: ")
        assert "in another folder" in said.err
        with pytest.raises(ScenarioError, match="move it"):
            surroundings.check()
        Path(name).unlink()
