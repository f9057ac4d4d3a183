"""`python -m soundergate` and `soundergate`: ready for signals before anything is loaded."""

import os
import sys

# Python puts the working folder first, where a user's numpy.py would stand for the library.
if not sys.flags.safe_path and sys.path and sys.path[0] in ("", os.getcwd()):
    del sys.path[0]

from soundergate.commands import interrupts


def main() -> None:
    """Entry point of the `soundergate` command."""
    interrupts.ready()
    from soundergate.cli import main as command

    command()


if __name__ == "__main__":
    main()
