"""For tests anywhere: a scenario from a text or a table, and the plan of its nights."""

from __future__ import annotations

import gc
import os
import signal
import sys
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import settings

from shared import plans
from soundergate.engine.plan import NightPlan
from soundergate.scenario.schema import Scenario

# Whoever starts the tests in the background may have had Ctrl-C ignored, which every command that a
# test starts would inherit.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

# Where Python is told to keep no bytecode, each process would read every test, and each of hundreds
# of commands the whole package, from its text again: half a minute of the first tier's five.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

# A compiled function compiles on its first call, which no deadline of an example can allow for.
# Forty examples instead of a hundred: what they miss, the drawn cases of the second tier look for.
settings.register_profile("soundergate", deadline=None, max_examples=40)
settings.load_profile("soundergate")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """The tests of a file stay together, so that what they share is made once."""
    from xdist.scheduler import LoadFileScheduling

    return LoadFileScheduling(config, log)


def pytest_collection_finish() -> None:
    """Thousands of collected tests are no garbage: let the collector not look at them each time."""
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session")
def scenario_of() -> Callable[..., Scenario]:
    """``scenario_of(text or table or Scenario, entry={...}, ...)``, with tables laid over it."""
    return plans.scenario_of


@pytest.fixture(scope="session")
def plan_of() -> Callable[..., NightPlan]:
    """The same, solved and laid out as the plan that the engines read."""
    return plans.plan_of
