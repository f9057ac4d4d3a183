"""Whole processes: how long a command takes and how much memory it holds at its peak."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

# A process takes over the peak memory of the one that starts it (Linux notes the larger of both
# when the new program is loaded). So commands are started from a small interpreter, not from here.
_LAUNCHER = """
import json, os, sys, time
spec = json.loads(sys.argv[1])
out = os.open(os.devnull, os.O_WRONLY)
began = time.perf_counter()
pid = os.posix_spawn(spec["command"][0], spec["command"], spec["environment"],
    file_actions=[(os.POSIX_SPAWN_DUP2, out, 1), (os.POSIX_SPAWN_OPEN, 2, spec["errors"],
                   os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)])
_, status, use = os.wait4(pid, 0)
print(json.dumps({"wall": time.perf_counter() - began, "cpu": use.ru_utime + use.ru_stime,
                  "peak": use.ru_maxrss, "code": os.waitstatus_to_exitcode(status)}))
"""

_UNIT = 1 if sys.platform == "darwin" else 1024
"""Bytes in a unit of ru_maxrss."""


class CommandFailed(RuntimeError):
    """A timed command did not end well; a time of it would mean nothing."""


@dataclass(frozen=True)
class Use:
    """What a process used: wall and processor seconds, and peak resident memory in MB."""

    wall: float
    cpu: float
    peak: float


def timed(command: list[str], cache: Path | None = None) -> Use:
    """Run a command to its end; ``cache`` stands in for the user's cache folder.

    Raises
    ------
    CommandFailed
        If it does not exit with 0, with what it wrote to standard error.
    """
    environment = dict(os.environ)
    if cache is not None:
        environment["XDG_CACHE_HOME"] = str(cache)
    with tempfile.TemporaryDirectory() as folder:
        errors = os.path.join(folder, "errors")
        spec = {"command": command, "environment": environment, "errors": errors}
        launched = subprocess.run(
            [sys.executable, "-I", "-S", "-c", _LAUNCHER, json.dumps(spec)],
            capture_output=True,
            text=True,
            check=True,
        )
        found = json.loads(launched.stdout)
        if found["code"] != 0:
            said = Path(errors).read_text(encoding="utf-8", errors="replace")
            raise CommandFailed(f"{' '.join(command)} ended with {found['code']}: {said}")
    return Use(found["wall"], found["cpu"], found["peak"] * _UNIT / 1e6)


def best_of(times: int, command: list[str], cache: Path | None = None) -> Use:
    """The run with the least wall time of several."""
    return min((timed(command, cache) for _ in range(times)), key=lambda use: use.wall)


def soundergate(*arguments: str) -> list[str]:
    """The command line of this very installation."""
    return [sys.executable, "-m", "soundergate", *arguments]
