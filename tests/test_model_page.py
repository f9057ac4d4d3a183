"""sim/MODEL.md tells the whole model: every key, default, draw, event, outcome and constant.

Run as a script with --write to bring the list of defaults up to date.
"""

from __future__ import annotations

import ast
import importlib
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from shared.tables import every_table
from soundergate.engine import codes
from soundergate.engine.outcomes import COLUMNS
from soundergate.engine.trace import trace
from soundergate.scenario.gates.choice import GATE_CLASSES
from soundergate.scenario.latches.choice import LATCH_CLASSES
from soundergate.scenario.measured import Measured
from soundergate.scenario.planning import Costs
from soundergate.scenario.register import Entry, register, registered_id
from soundergate.scenario.schema import Opening, Scenario
from soundergate.scenario.site import Patch
from soundergate.scenario.sounder import VaryingSize
from soundergate.scenario.toml_table import Table
from soundergate.scenario.triggers.choice import TRIGGER_CLASSES
from soundergate.scenario.triggers.person import RuleStep

REPO = Path(__file__).parents[1]
PACKAGE = REPO / "sim" / "soundergate"
PAGE = REPO / "sim" / "MODEL.md"
BEGIN, END = "<!-- defaults: begin -->", "<!-- defaults: end -->"
TEXT = PAGE.read_text(encoding="utf-8")
WORDS = " ".join(TEXT.split())
NAMED = set(re.findall(r"`([^`\n]+)`", re.sub(r"^```.*?^```", "", TEXT, flags=re.M | re.S)))
MODEL_ROOMS = ("behavior", "triggers", "engine", "mechanics")


# ---- keys and defaults ---------------------------------------------------------------------


def keys() -> Iterator[tuple[str, str | None]]:
    """(dotted key, register id or None) of everything a scenario file may say."""
    yield from _of(Scenario, "")
    yield from _of(Opening, "opening.")
    for known in ("sounder", "training", "movement", "bait"):
        yield from _of(Scenario.model_fields[known].annotation, f"{known}.")
    yield from _of(Patch, "bait.patch.")
    yield from _of(VaryingSize, "sounder.varies.")
    yield from _of(Costs, "costs.")
    yield from _of(RuleStep, "trigger.rule.")
    yield from _of(Measured, "opening.measured.")
    for start, classes in (
        ("opening.gate.", GATE_CLASSES),
        ("opening.latch.", LATCH_CLASSES),
        ("trigger.", TRIGGER_CLASSES),
    ):
        for cls in classes:
            yield from _of(cls, start)


def _of(cls: Any, start: str) -> Iterator[tuple[str, str | None]]:
    for name, field in cls.model_fields.items():
        yield start + name, registered_id(field)


ORDINARY = {
    name
    for name, field in Scenario.model_fields.items()
    if isinstance(field.annotation, type) and issubclass(field.annotation, Table)
} - {"sounder"}
"""Tables all of whose keys have defaults; their keys are named by the defaults themselves."""


def test_every_key_is_on_the_page():
    missing = sorted(
        {key for key, known in keys() if known is None and key not in NAMED and key not in ORDINARY}
    )
    assert missing == [], "add them to the table of keys without a default in sim/MODEL.md"


def test_no_table_class_is_forgotten():
    """Every field of every table is either a key looked at above or has a register id."""
    named = {key.rsplit(".", 1)[-1] for key, _ in keys()}
    forgotten = {
        f"{cls.__name__}.{name}"
        for cls in every_table()
        if cls.__module__.startswith("soundergate.")
        for name, field in cls.model_fields.items()
        if registered_id(field) is None and name not in named
    }
    assert forgotten <= {"Gate.kind"}


def line_of(entry: Entry) -> str:
    unit = f" x {entry.of}" if entry.of else f" {entry.unit}" if entry.unit else ""
    span = "" if entry.low is None else f" ({_plain(entry.low)} to {_plain(entry.high)})"
    kind = f", {entry.dist}" if entry.dist else ""
    role = f", unknown ({entry.distribution}" if entry.role == "unknown" else f", {entry.role}"
    none = f", 0 with {entry.none:g}" if entry.none else ""
    role += f"{none})" if entry.role == "unknown" else ""
    return f"- `{entry.id}` = {_plain(entry.value)}{unit}{span}{kind}{role}, {entry.origin}"


def _plain(value: Any) -> str:
    if isinstance(value, list):
        return "[" + ", ".join(_plain(one) for one in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return f'"{value}"' if isinstance(value, str) else f"{value:g}"


def defaults_text() -> str:
    return "\n".join(line_of(entry) for entry in register().values())


def test_defaults_are_those_of_the_register():
    listed = TEXT.split(BEGIN)[1].split(END)[0].strip().splitlines()
    wanted = defaults_text().splitlines()
    missing = [line for line in wanted if line not in listed]
    stale = [line for line in listed if line not in wanted]
    assert (missing, stale) == ([], []), "run: python tests/test_model_page.py --write"


def test_a_changed_default_would_be_seen():
    entry = register()["entry.clock"]
    line = line_of(entry)
    assert line == "- `entry.clock` = 45 s (10 to 300), lognormal, unknown (log-normal), assumption"
    assert line in TEXT
    assert line.replace("45", "46") not in TEXT


# ---- draws, events, outcomes ---------------------------------------------------------------


def coded(start: str) -> dict[str, int]:
    return {name: value for name, value in vars(codes).items() if name.startswith(start)}


def test_every_draw_is_on_the_page_with_its_number():
    draws = coded("D_")
    assert len(draws) > 40
    rows = dict(re.findall(r"^\| (\d+) \| `(D_\w+)`", TEXT, re.M))
    assert {name: int(number) for number, name in rows.items()} == draws


def test_every_event_is_on_the_page_with_its_rank():
    rows = re.findall(r"^\| (\d+) \| `([A-Z_]+)` \|", TEXT, re.M)
    listed = {name: int(rank) for rank, name in rows if not name.startswith("D_")}
    assert len(listed) == len(set(listed.values())) == codes.CHECKED + 1
    assert {name: getattr(codes, name) for name in listed} == listed


def test_the_ranks_on_the_page_are_all_there_are():
    """The source of `codes` names the ranks in four assignments that run from 0 to CHECKED."""
    source = (PACKAGE / "engine" / "codes.py").read_text(encoding="utf-8")
    block = source.split("# Event ranks")[1].split("RANK_BITS")[0]
    names = re.findall(r"\b[A-Z][A-Z_]+\b", block)
    assert len(set(names)) == codes.CHECKED + 1
    assert all(f"`{name}`" in TEXT for name in names)


def test_every_word_of_a_told_night_is_on_the_page():
    missing = [kind for kind in trace.KINDS if kind not in WORDS]
    assert missing == []


def test_every_state_is_on_the_page():
    assert all(name in WORDS for name in codes.STATE_NAMES)
    diagram = TEXT.split("### An animal's night")[1].split("### A gate's night")[0]
    states = ("OUTSIDE", "WAIT_IN", "CROSS_IN", "WALK_IN", "AT_BAIT", "FEEDING", "WALK_OUT",
              "WAIT_OUT", "CROSS_OUT", "STILL", "BOLTING", "GONE", "FLED", "AWAY")  # fmt: skip
    assert {getattr(codes, name) for name in states} == set(range(len(codes.STATE_NAMES)))
    assert all(name in diagram for name in states)
    gates = TEXT.split("### A gate's night")[1].split("### Scheduling")[0]
    for name in ("OPEN", "CLOSING", "PROPPED", "CLOSED", "HUNG", "ONE_WAY"):
        assert name in gates


def test_outcome_columns_stand_in_order():
    table = TEXT.split("## Outcome columns")[1].split("## Draws")[0]
    assert re.findall(r"^\| `(\w+)` \|", table, re.M) == [name for name, _ in COLUMNS]


# ---- code ----------------------------------------------------------------------------------


def code_names() -> list[str]:
    rooms = "|".join((*MODEL_ROOMS, "studies"))
    return sorted(
        n for n in NAMED if re.fullmatch(rf"(?:{rooms})(?:\.\w+)+", n) and not n.endswith(".py")
    )


def test_what_the_page_names_exists():
    names = [*code_names()]
    assert len(names) > 100
    assert [name for name in names if found(name) is None] == []


def found(name: str) -> Any:
    parts = name.split(".")
    thing = None
    for cut in range(len(parts), 0, -1):
        try:
            thing = importlib.import_module("soundergate." + ".".join(parts[:cut]))
        except ModuleNotFoundError:
            continue
        for part in parts[cut:]:
            thing = getattr(thing, part, None)
        break
    return thing


def test_a_name_that_is_not_there_would_be_seen():
    assert found("behavior.speeds.hesitation") is None
    assert len(code_names()) > 100


def constants() -> set[str]:
    """Every number assigned to an upper-case name at the top of a module of the model."""
    names = set()
    for room in MODEL_ROOMS:
        for path in sorted((PACKAGE / room).rglob("*.py")):
            if path.name == "codes.py":
                continue
            for node in ast.parse(path.read_text(encoding="utf-8")).body:
                target, value = _assigned(node)
                if target.isupper() and value is not None and _numeric(value):
                    module = path.relative_to(PACKAGE).with_suffix("").parts
                    names.add(".".join((*module, target)))
    return names


def _assigned(node: ast.stmt) -> tuple[str, ast.expr | None]:
    if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
        return node.targets[0].id, node.value
    if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
        return node.target.id, node.value
    return "", None


def _numeric(value: ast.expr) -> bool:
    if isinstance(value, ast.Constant):
        return isinstance(value.value, int | float) and not isinstance(value.value, bool)
    if isinstance(value, ast.UnaryOp):
        return _numeric(value.operand)
    if isinstance(value, ast.BinOp):
        return any(_numeric(side) for side in (value.left, value.right)) or (
            isinstance(value.op, ast.Mult | ast.Div)
        )
    if isinstance(value, ast.Tuple):
        return bool(value.elts) and all(_numeric(one) for one in value.elts)
    if isinstance(value, ast.Call):
        return bool(value.args) and all(_numeric(one) for one in value.args)
    return False


def test_every_constant_of_the_model_is_accounted_for():
    missing = sorted(constants() - NAMED)
    assert missing == [], (
        "a modelling default belongs in register.toml; any other number is accounted for in the "
        "table of numbers that stand in the code, in sim/MODEL.md"
    )


def test_the_search_for_constants_finds_them():
    assert {
        "behavior.speeds.DEPARTURES",
        "mechanics.gates.plate.CD_LONG",
        "triggers.bait.LEFT",
    } <= constants()


def test_all_items_of_the_checklists_are_there():
    for item in ("Purpose and patterns", "Entities, state variables, scales",
                 "Process overview and scheduling", "Design concepts", "Initialisation",
                 "Input data", "Submodels"):  # fmt: skip
        assert re.search(rf"^## \d\. {item}$", TEXT, re.M), item
    for concept in ("Basic principles", "Emergence", "Adaptation", "Objectives", "Learning",
                    "Prediction", "Sensing", "Interaction", "Stochasticity", "Collectives",
                    "Observation"):  # fmt: skip
        assert f"**{concept}.**" in TEXT, concept
    items = re.findall(r"^\| (\d(?:\.\d)+) ", TEXT, re.M)
    assert items == ["1.1", "1.2", "1.3", "2.1", "2.2", "2.3", "2.4", "2.5.1", "2.5.2", "2.5.3",
                     "2.5.4", "2.5.5", "3.1", "3.2", "3.3", "3.4", "4.1", "4.2", "4.3", "5.1",
                     "5.2", "5.3", "5.4", "6.1"]  # fmt: skip


def test_equations_are_numbered_through():
    numbers = [int(n) for n in re.findall(r"^\| E(\d+) \|", TEXT, re.M)]
    assert numbers == list(range(1, len(numbers) + 1))


if __name__ == "__main__":
    if sys.argv[1:] != ["--write"]:
        raise SystemExit("usage: python tests/test_model_page.py --write")
    head, _, rest = TEXT.partition(BEGIN)
    _, _, tail = rest.partition(END)
    PAGE.write_text(f"{head}{BEGIN}\n{defaults_text()}\n{END}{tail}", encoding="utf-8")
