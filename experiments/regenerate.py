#!/usr/bin/env python3
"""Play again what results_demo holds, by the very commands that the READMEs here name.

    python experiments/regenerate.py                  everything, then the tables of the READMEs
    python experiments/regenerate.py NAME...          only these, such as gate_width_free
    python experiments/regenerate.py --list           print the commands and play nothing
    python experiments/regenerate.py NAME --into DIR  leave results_demo alone, write into DIR/NAME

A folder of results is replaced whole, and only once its command has ended well. What a regeneration
that was killed has left beside it is removed by the next one. Commands are the lines of `sh` blocks
that write to results_demo/NAME, and those that run experiments/NAME/run.py.
"""

from __future__ import annotations

import argparse
import contextlib
import fcntl
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

HERE = Path(__file__).resolve().parent
REPO = HERE.parent
RESULTS = REPO / "results_demo"
BLOCK = re.compile(r"^```sh\n(.*?)^```$", re.MULTILINE | re.DOTALL)
NOT_KEPT = "chunks.sqlite"
"""What a run needs to be taken up again, cut by the clock: no result."""
BEGUN = ".regenerate-"
"""How the folder is called that a command writes into, beside the results."""


def commands() -> dict[str, list[str]]:
    """Words of the command by the name of the folder that it fills, in the order of the READMEs."""
    found: dict[str, list[str]] = {}
    for readme in sorted(HERE.glob("*/README.md")):
        for block in BLOCK.findall(readme.read_text(encoding="utf-8")):
            for line in block.splitlines():
                words = shlex.split(line)
                if name := _fills(words):
                    found[name] = words
    return found


def _fills(words: list[str]) -> str:
    """The folder of results_demo that a command fills, "" for one that fills none."""
    if "--out" in words:
        out = Path(words[words.index("--out") + 1])
        return out.name if out.parent.name == RESULTS.name else ""
    script = re.fullmatch(r"experiments/(\w+)/run\.py", words[1] if len(words) == 2 else "")
    return script[1] if script else ""


def play(words: list[str], out: Path) -> None:
    """Run a command with another folder to write to. Raises CalledProcessError if it fails."""
    program = {"soundergate": [sys.executable, "-m", "soundergate"], "python": [sys.executable]}
    rest = list(words[1:])
    if "--out" in rest:
        rest[rest.index("--out") + 1] = str(out)
    else:
        rest += ["--out", str(out)]
    subprocess.run([*program[words[0]], *rest], cwd=REPO, check=True)
    (out / NOT_KEPT).unlink(missing_ok=True)


def replace(name: str, words: list[str], into: Path) -> None:
    """Play a command and put what it wrote in place of the folder ``name`` in ``into``."""
    into.mkdir(parents=True, exist_ok=True)
    with _scratch(into) as scratch:
        play(words, scratch / name)
        shutil.rmtree(into / name, ignore_errors=True)
        shutil.move(scratch / name, into / name)


@contextlib.contextmanager
def _scratch(into: Path) -> Iterator[Path]:
    """A folder in ``into`` for what is not whole yet; those that nobody holds are removed."""
    with contextlib.ExitStack() as held:
        with _held(into):  # nobody sweeps between the making of a folder and the holding of it
            for left in into.glob(BEGUN + "*"):
                with (
                    contextlib.suppress(BlockingIOError, FileNotFoundError),
                    _held(left, fcntl.LOCK_NB),
                ):
                    shutil.rmtree(left)
            scratch = Path(held.enter_context(tempfile.TemporaryDirectory(dir=into, prefix=BEGUN)))
            held.enter_context(_held(scratch))
        yield scratch


@contextlib.contextmanager
def _held(folder: Path, wait: int = 0) -> Iterator[None]:
    """Until the block or the process ends, no other process holds it."""
    file = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(file, fcntl.LOCK_EX | wait)
        yield
    finally:
        os.close(file)


def main(arguments: list[str]) -> int:
    known = commands()
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(known))
    parser.add_argument("--into", type=Path, default=RESULTS, metavar="DIR")
    parser.add_argument("--list", action="store_true")
    asked = parser.parse_args(arguments)
    if wrong := [name for name in asked.names if name not in known]:
        parser.error(f"no results are called {wrong[0]}; there are {', '.join(known)}")
    for name in asked.names or known:
        print(f"{name}: {shlex.join(known[name])}", flush=True)
        if not asked.list:
            replace(name, known[name], asked.into.resolve())
    if not asked.list and asked.into.resolve() == RESULTS:
        subprocess.run([sys.executable, str(HERE / "tables.py"), "update"], check=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
