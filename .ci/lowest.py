#!/usr/bin/env python3
"""Print the lowest versions that pyproject.toml declares, as constraints for pip: name==version.

    python .ci/lowest.py >lowest.txt
    pip install -c lowest.txt '.[test]'

Of what a package needs that is not named there, pip takes what it likes, which is the newest.
"""

from __future__ import annotations

import re
import sys
import tomllib
from pathlib import Path

PROJECT = Path(__file__).parents[1] / "pyproject.toml"
EXTRAS = ("test", "cluster")
DECLARED = re.compile(r"(?P<name>[\w.-]+)>=(?P<lowest>[\w.]+)")


def lowest(project: dict) -> list[str]:
    """Constraints for all dependencies but those on the project's own extras.

    Raises ValueError for a dependency that is declared in another way than "name>=version".
    """
    wanted = list(project["dependencies"])
    for extra in EXTRAS:
        wanted += project["optional-dependencies"][extra]
    found = []
    for text in wanted:
        if text.startswith(f"{project['name']}["):
            continue
        declared = DECLARED.fullmatch(text)
        if declared is None:
            raise ValueError(f"{text!r} does not say which version is the lowest: name>=version")
        found.append(f"{declared['name']}=={declared['lowest']}")
    return found


def main() -> int:
    with open(PROJECT, "rb") as file:
        print("\n".join(lowest(tomllib.load(file)["project"])))
    return 0


if __name__ == "__main__":
    sys.exit(main())
