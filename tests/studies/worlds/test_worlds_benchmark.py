"""The benchmark of worlds times what it says, on setups that can be played."""

from __future__ import annotations

from pathlib import Path

import pytest

from shared.processes import python

BENCH = Path(__file__).parents[3] / "experiments" / "benchmarks" / "worlds"


@pytest.mark.slow
def test_a_case_is_timed_and_held_against_its_limit(monkeypatch) -> None:
    monkeypatch.syspath_prepend(str(BENCH))
    import worlds

    slow = worlds.timed("a sum", 1e-9, lambda: sum(range(100_000)))
    assert not slow.met
    assert slow._replace(limit=1e9).met
    assert 0.0 < slow.wall < 60.0


@pytest.mark.slow
def test_its_commands_play(tmp_path, monkeypatch) -> None:
    """The files that it writes are setups and a study that can be played; no limit is held."""
    monkeypatch.syspath_prepend(str(BENCH))
    import worlds

    worlds.write_files(tmp_path, 20)
    names = [f"{name}.toml" for name in worlds.SETUPS]
    for name in names:
        wall, processor = worlds.command(tmp_path, "check", name)
        assert wall > 0.0
        assert processor > 0.0
    wall, _ = worlds.command(tmp_path, "season", *names[:2], "--worlds", 20, "--campaigns", 20)
    assert wall > 0.0
    assert python(str(BENCH / "worlds.py"), "--help").returncode == 0
