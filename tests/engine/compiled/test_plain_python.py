"""The kernel's lines run as plain Python too, to be stepped through, and tell the same night."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

from shared.plans import plan_of
from soundergate.engine import play
from soundergate.scenario.loading import from_table

NIGHTS = 2
SEED = 20260130

TABLE: dict[str, Any] = tomllib.loads(
    (Path(__file__).parents[1] / "nights.toml").read_text(encoding="utf-8")
)["base"]
TRIGGERS = [
    {"kind": "line", "height": "20 in", "distance": "22 ft"},
    {"kind": "bait"},
    {"kind": "counter", "count": 5},
    {"kind": "person"},
]

PLAY = """
import json, sys, warnings
warnings.simplefilter("ignore")  # whole numbers of the generator that run over, as they should
import test_plain_python as this
print(json.dumps([this.rows(trigger) for trigger in this.TRIGGERS]))
"""


def rows(trigger: dict[str, Any]) -> str:
    """Outcomes of a few nights, to the last bit."""
    scenario = from_table({**TABLE, "trigger": trigger})
    return play(plan_of(scenario), SEED, 0, NIGHTS).frame().to_csv()


@pytest.mark.slow
def test_the_same_nights_without_a_compiler() -> None:
    tests = str(Path(__file__).parents[2])  # where `shared` stands
    environment = {**os.environ, "NUMBA_DISABLE_JIT": "1", "PYTHONPATH": tests}
    done = subprocess.run(
        [sys.executable, "-c", PLAY],
        capture_output=True,
        text=True,
        check=False,
        env=environment,
        cwd=Path(__file__).parent,
    )
    assert done.returncode == 0, done.stderr
    plain = json.loads(done.stdout)
    assert plain == [rows(trigger) for trigger in TRIGGERS]
    assert len(set(plain)) == len(TRIGGERS)
