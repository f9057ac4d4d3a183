"""`python -m soundergate` is the `soundergate` command."""

from soundergate.cli import main

main()
