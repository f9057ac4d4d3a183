"""A word before the first run, which compiles the batch engine once for all later ones."""

from __future__ import annotations

from soundergate.commands import console
from soundergate.commands.options import Options

_STEPS = 4


def announce(options: Options) -> None:
    """Have it said, when it comes to compiling, that this takes a while, and how far it is."""
    if options.engine != "batch" or options.quiet:
        return
    from soundergate.engine.compiled import decorators

    kept = decorators.CACHE is not None
    decorators.on_progress(Quarters("for this computer, once" if kept else "for this run"))


class Quarters:
    """A line at the start of compiling, and one for every quarter that is done."""

    def __init__(self, what: str) -> None:
        self.what = what
        self.next = 0

    def __call__(self, share: float) -> None:
        """``share`` of the functions is compiled, 0 to 1."""
        step = int(share * _STEPS)
        if share == 0.0 and self.next == 0:
            self.next = 1
            console.tell(f"Compiling the batch engine {self.what}: about half a minute.")
        elif 0 < self.next <= step < _STEPS:
            self.next = step + 1
            console.tell(f"Compiling: {100 * step // _STEPS} % done.")
