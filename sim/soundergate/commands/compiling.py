"""A word before the first run, which compiles the batch engine once for all later ones."""

from __future__ import annotations

from soundergate.commands import console
from soundergate.commands.options import Options


def announce(options: Options) -> None:
    """Say that compiling takes a while, if it is about to happen."""
    if options.engine != "batch" or options.quiet:
        return
    from soundergate.engine.compiled import decorators as compiled

    if not compiled.cache_is_warm():
        what = "for this computer, once" if compiled.CACHE is not None else "for this run"
        console.tell(f"Compiling the batch engine {what}: up to half a minute.")
