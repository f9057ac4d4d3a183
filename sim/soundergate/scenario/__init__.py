"""What the user says: scenario files, units, defaults and where each comes from.

`loading.load` turns a TOML file into a `schema.Scenario`, validated and in SI.
"""

from __future__ import annotations

from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import load, loads, with_values
from soundergate.scenario.schema import Scenario

__all__ = ["Scenario", "ScenarioError", "load", "loads", "with_values"]
