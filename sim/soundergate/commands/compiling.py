"""A word before the first run, which compiles the batch engine once for all later ones."""

from __future__ import annotations

from soundergate.commands import console
from soundergate.commands.options import Options


def announce(options: Options) -> None:
    """Say that compiling takes a while, if it is about to happen."""
    if options.engine != "batch" or options.quiet:
        return
    from soundergate.engine.compiled import cache_is_warm

    if not cache_is_warm():
        console.tell("Compiling the batch engine for this computer, once: up to half a minute.")
