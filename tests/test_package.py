"""The package as it is installed: public names, version, data files."""

from __future__ import annotations

import ast
import inspect
import sys
import tomllib
from importlib import metadata, resources
from pathlib import Path

import pytest

import soundergate
from shared.processes import python
from shared.sources import MODULES, nodes

REPO = Path(__file__).parents[1]


def test_a_screen_of_public_names_and_all_are_there() -> None:
    assert len(soundergate.__all__) <= 24
    assert set(soundergate.__all__) <= set(dir(soundergate))
    assert all(hasattr(soundergate, name) for name in soundergate.__all__)


def test_import_loads_nothing_else() -> None:
    code = "import sys, soundergate; print([m for m in sys.modules if m.startswith('soundergate')])"
    run = python("-c", code, check=True)
    assert run.stdout.strip() == "['soundergate']"


@pytest.mark.parametrize("name", [n for n in soundergate.__all__ if not n.startswith("__")])
def test_every_public_name_is_documented(name: str) -> None:
    thing = getattr(soundergate, name)
    assert (inspect.getdoc(thing) or "").strip()
    assert f"{name}" in (soundergate.__doc__ or "")


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        soundergate.nothing  # noqa: B018


def test_the_version_stands_once() -> None:
    project = tomllib.loads((REPO / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert soundergate.__version__ == project["version"] == metadata.version("soundergate")


def test_data_files_come_along() -> None:
    root = resources.files("soundergate")
    for name in (
        "py.typed",
        "scenario/register.toml",
        "scenario/examples/line.toml",
        "report/templates/page.html.j2",
    ):
        assert root.joinpath(name).is_file(), name


def test_every_dependency_is_used_and_no_other() -> None:
    """What pyproject.toml asks for is what the package imports, and the other way round."""
    project = tomllib.loads((REPO / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    declared = {entry.split(">")[0].split("=")[0].strip() for entry in project["dependencies"]}
    optional = {
        entry.split(">")[0].strip() for entry in project["optional-dependencies"]["cluster"]
    }
    imported = set()
    for path in MODULES:
        for node in nodes(path):
            if isinstance(node, ast.Import):
                imported |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
                imported.add(node.module.split(".")[0])
    outside = (
        imported - set(sys.stdlib_module_names) - {"soundergate", "markupsafe", "pydantic_core"}
    )
    assert outside - optional == declared


class TestFromPython:
    def test_load_check_night_run_compare(self, tmp_path: Path) -> None:
        from soundergate.scenario import examples

        path = tmp_path / "trap.toml"
        path.write_text(examples.text("bucket"), encoding="utf-8")
        scenario = soundergate.load(path)
        assert isinstance(scenario, soundergate.Scenario)
        wider = soundergate.with_values(scenario, {"opening.width": "1 m"})
        assert wider.opening[0].width == 1.0
        assert soundergate.check(path).ok == soundergate.check(scenario, "SI").ok
        result = soundergate.run(path, nights=40, seed=3)
        trace = soundergate.night(path, 17, seed=3)
        assert result.outcomes is not None
        assert trace.row["caught"] == result.outcomes["caught"][17]
        both = soundergate.compare([scenario, wider], nights=40, names=["a", "b"])
        assert [arm.name for arm in both.arms] == ["a", "b"]

    def test_one_error_for_bad_input(self, tmp_path: Path) -> None:
        with pytest.raises(soundergate.ScenarioError, match="no such file"):
            soundergate.load(tmp_path / "nowhere.toml")
        with pytest.raises(soundergate.ScenarioError, match="number is -1"):
            soundergate.night(tmp_path / "nowhere.toml", -1)
        with pytest.raises(soundergate.ScenarioError, match="number is True"):
            soundergate.night(tmp_path / "nowhere.toml", True)

    def test_functions_and_packages_have_names_of_their_own(self) -> None:
        """Whatever is imported first, a name stays what it was; nothing is loaded before a call."""
        code = (
            "import sys, types, soundergate\n"
            "import soundergate.studies.estimates.moments, soundergate.seasons.campaigns.calendar\n"
            "assert 'numba' not in sys.modules and 'scipy' not in sys.modules\n"
            "for name in soundergate.__all__:\n"
            "    assert not isinstance(getattr(soundergate, name), types.ModuleType), name\n"
        )
        run = python("-c", code)
        assert run.returncode == 0, run.stderr

    def test_the_six_are_imported_by_name(self) -> None:
        from soundergate import check, compare, load, night, rule, run, season, study

        assert all(callable(one) for one in (load, check, night, run, compare, rule, season, study))
        assert not hasattr(soundergate, "run_study")


# ---- versions -------------------------------------------------------------------------------


def lowest() -> list[str]:
    """What .ci/lowest.py prints."""
    script = REPO / ".ci" / "lowest.py"
    done = python(script, check=True)
    return done.stdout.split()


def test_every_dependency_declares_the_lowest_version_that_is_tried() -> None:
    project = tomllib.loads((REPO / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    declared = [*project["dependencies"], *extras["test"], *extras["cluster"]]
    wanted = {text.replace(">=", "==") for text in declared if not text.startswith("soundergate")}
    assert set(lowest()) == wanted
    assert len(wanted) == len(declared) - 1


def test_what_is_installed_here_is_no_older_than_declared() -> None:
    for constraint in lowest():
        name, version = constraint.split("==")
        here = [int(part) for part in metadata.version(name).split(".")[:2]]
        assert here >= [int(part) for part in version.split(".")[:2]], constraint


def test_every_python_that_is_named_is_tried() -> None:
    project = tomllib.loads((REPO / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    named = [text.rsplit(" ", 1)[1] for text in project["classifiers"] if ":: Python :: 3." in text]
    assert project["requires-python"] == f">={named[0]}"
    assert f"for version in {' '.join(named)}; do" in (REPO / ".ci" / "run").read_text()
