"""Writes ``nights.csv``: a few nights of each scenario in this folder, as the engine plays them.

    python tests/engine/golden/make.py

Run it, look at the difference, and commit it together with the change that made it necessary:
a change of the model, of a default or of what a draw means. Work on speed, order or structure
must leave the file as it is.
"""

from __future__ import annotations

import math
from pathlib import Path

import pandas as pd

from soundergate.engine import play
from soundergate.engine.build import build
from soundergate.engine.outcomes import COLUMNS
from soundergate.mechanics.setup import solve
from soundergate.scenario.loading import load

FOLDER = Path(__file__).parent
TABLE = FOLDER / "nights.csv"
SEED = 20260104
NIGHTS = 8


def nights(engine: str = "batch") -> pd.DataFrame:
    """The first nights of every scenario, in order of name: its name and an outcome row each."""
    tables = []
    for file in sorted(FOLDER.glob("*.toml")):
        scenario = load(file)
        played = play(build(scenario, solve(scenario)), SEED, 0, NIGHTS, engine)
        tables.append(played.frame().assign(scenario=file.stem))
    whole = pd.concat(tables, ignore_index=True)
    return whole[["scenario", *whole.columns.drop("scenario")]]


def read() -> pd.DataFrame:
    """The committed nights, floats as they were written."""
    exact = {name: _number for name, kind in COLUMNS if kind == "f8"}
    return pd.read_csv(TABLE, converters=exact)


def _number(text: str) -> float:
    """The inverse of repr, to the last bit; pandas' own reader may be off by one."""
    return float(text) if text else math.nan


def main() -> None:
    """Write the table anew."""
    flat = nights()
    flat = flat.astype({name: "int64" for name, kind in COLUMNS if kind == "?"})
    flat.to_csv(TABLE, index=False, lineterminator="\n")
    print(f"{TABLE.name} written: {len(flat)} nights of {flat['scenario'].nunique()} scenarios")


if __name__ == "__main__":
    main()
