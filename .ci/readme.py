#!/usr/bin/env python3
"""Keep README.md honest: what it prints below a command is what the command prints.

    python .ci/readme.py update     run the commands of the README and write what they print
    python .ci/readme.py check      exit 1 and show the difference if README.md says otherwise
    python .ci/readme.py commands   print the set-up commands, one a line

A block marked `toml` whose text above names a file in backquotes is written to that file; in a
block marked `console` lines that start with "$ " are run there, in order. Only the standard library
is needed; `soundergate` is taken from the folder of the Python that runs this.
"""

from __future__ import annotations

import difflib
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

README = Path(__file__).parents[1] / "README.md"
BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
ONCE = "Compiling the batch engine"
"""A line that a command prints only the first time on a computer."""
BY_THE_CLOCK = re.compile(r"[\d,]+ of [\d,]+ .+ a second, .+ left")
"""A line that says how far a command has come, on a computer where it takes longer."""
FILE = re.compile(r"`([\w-]+\.toml)`")


def blocks(text: str, kind: str) -> list[str]:
    """Bodies of all fenced blocks of a kind, in order."""
    return [match[2] for match in BLOCK.finditer(text) if match[1] == kind]


def setup_commands(text: str) -> list[str]:
    """The set-up commands: all lines of `sh` blocks."""
    return [line for body in blocks(text, "sh") for line in body.splitlines() if line.strip()]


def run(command: str, folder: Path) -> str:
    """What a command prints on both outputs, in the order in which it comes."""
    path = os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]])
    environment = {k: v for k, v in os.environ.items() if k != "COLUMNS"} | {"PATH": path}
    done = subprocess.run(
        command,
        shell=True,
        cwd=folder,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    if done.returncode not in (0, 1):  # 1 is an answer of `check`
        raise SystemExit(f"$ {command}\n{done.stdout}exit code {done.returncode}")
    lines = (line.rstrip() for line in done.stdout.splitlines() if not passing(line))
    return "".join(f"{line}\n" for line in lines).strip("\n") + "\n"


def passing(line: str) -> bool:
    """Whether a line depends on when and where a command is run."""
    return line.startswith(ONCE) or BY_THE_CLOCK.fullmatch(line) is not None


def replayed(text: str, folder: Path) -> str:
    """The README with every `console` block as its commands print it now."""

    def block(match: re.Match[str]) -> str:
        kind, body = match[1], match[2]
        if kind == "toml":
            names = FILE.findall(text[: match.start()])
            (folder / names[-1]).write_text(body, encoding="utf-8")
        if kind != "console":
            return match[0]
        commands = [line[2:] for line in body.splitlines() if line.startswith("$ ")]
        told = "\n".join(f"$ {command}\n{run(command, folder)}" for command in commands)
        return f"```console\n{told}```"

    return BLOCK.sub(block, text)


def main(arguments: list[str]) -> int:
    text = README.read_text(encoding="utf-8")
    if arguments == ["commands"]:
        print("\n".join(setup_commands(text)))
        return 0
    if arguments not in (["update"], ["check"]):
        print(__doc__)
        return 2
    with tempfile.TemporaryDirectory() as folder:
        now = replayed(text, Path(folder))
    if arguments == ["update"]:
        README.write_text(now, encoding="utf-8")
        return 0
    difference = difflib.unified_diff(
        text.splitlines(), now.splitlines(), "README.md", "what its commands print", lineterm=""
    )
    shown = "\n".join(difference)
    print(shown)
    return 1 if shown else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
