"""`python -m soundergate` is the `soundergate` command."""

import os
import sys

# Python puts the working folder first, where a user's numpy.py would stand for the library.
if not sys.flags.safe_path and sys.path and sys.path[0] in ("", os.getcwd()):
    del sys.path[0]

from soundergate.cli import main

main()
