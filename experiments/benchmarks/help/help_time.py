"""How soon `soundergate --help` answers, beside what Python and the option parser take to load.

    python experiments/benchmarks/help/help_time.py [TIMES]

Seconds of the processor, the least of TIMES (10); it fails at 0.4 s or more.
"""

from __future__ import annotations

import os
import subprocess
import sys

LIMIT = 0.4
TRIED = {
    "Python alone": ("-c", ""),
    "the option parser": ("-c", "import typer, rich.panel, rich.table"),
    "soundergate --help": ("-m", "soundergate", "--help"),
    "soundergate run --help": ("-m", "soundergate", "run", "--help"),
}


def spent(*arguments: str) -> float:
    """Seconds of the processor in a new Python."""
    before = os.times()
    subprocess.run([sys.executable, *arguments], capture_output=True, check=True)
    after = os.times()
    return sum(after[2:4]) - sum(before[2:4])


def main(times: int) -> int:
    """Print what was measured; 1 if help takes too long."""
    found = {
        name: min(spent(*arguments) for _ in range(times)) for name, arguments in TRIED.items()
    }
    for name, seconds in found.items():
        print(f"{name:24}{seconds:6.2f} s")
    slow = [name for name in found if name.endswith("--help") and found[name] >= LIMIT]
    print(f"NOT below {LIMIT} s: {', '.join(slow)}" if slow else f"Help is below {LIMIT} s.")
    return 1 if slow else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 10))
