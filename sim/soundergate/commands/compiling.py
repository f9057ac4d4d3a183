"""A word before the first run, which compiles the batch engine once for all later ones."""

from __future__ import annotations

from soundergate.commands import console
from soundergate.commands.options import Options

_STEPS = 4
"""Lines that say how far it is, the last one aside."""


def announce(options: Options) -> None:
    """Say that compiling takes a while, if it is about to happen, and then how far it is."""
    if options.engine != "batch" or options.quiet:
        return
    from soundergate.engine.compiled import decorators

    if decorators.cache_is_warm():
        return
    what = "for this computer, once" if decorators.CACHE is not None else "for this run"
    console.tell(f"Compiling the batch engine {what}: about half a minute.")
    decorators.on_progress(_Steps())


class _Steps:
    """A line for every quarter that is done."""

    def __init__(self) -> None:
        self.said = 0

    def __call__(self, share: float) -> None:
        step = int(share * _STEPS)
        if self.said < step < _STEPS:
            self.said = step
            console.tell(f"Compiling: {100 * step // _STEPS} % done.")
