"""What is said while nights are played: how far it is, how long it takes yet, and who waits."""

from __future__ import annotations

import sys
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from soundergate.commands import console
from soundergate.commands.options import Options

if TYPE_CHECKING:
    from soundergate.studies.estimates.stopping import Progress

_WINDOW = 30.0
"""Seconds over which the rate is taken: long enough to be steady, short enough to be true."""
_FIRST_LINE, _NEXT_LINE = 10.0, 30.0
"""Seconds before the first line where no terminal is watched, and between lines."""
_LEAST_LEFT = 5.0
"""Seconds: nothing is said of a run that is about to end."""
_MINUTE, _HOUR, _DAY = 60, 3600, 86_400


class Pace:
    """The rate over the last half minute.

    It begins at the first count, which may hold nights that an earlier run has played.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self.clock = clock
        self.seen: deque[tuple[float, int]] = deque()

    def at(self, done: int) -> float:
        """Nights a second, now that ``done`` are done; 0 if that is not known yet."""
        now = self.clock()
        self.seen.append((now, done))
        while len(self.seen) > 2 and self.seen[1][0] < now - _WINDOW:
            self.seen.popleft()
        begun, before = self.seen[0]
        return (done - before) / (now - begun) if now > begun else 0.0

    def stands(self, working: bool) -> None:
        """Whether anybody works; the time in which nobody did says nothing of the rate."""
        if working:
            self.seen.clear()


class Lines:
    """A line now and then, for a log that somebody looks into later."""

    def __init__(
        self, what: str, tell: Callable[[str], None], clock: Callable[[], float] = time.monotonic
    ) -> None:
        self.what, self.tell, self.clock = what, tell, clock
        self.pace = Pace(clock)
        self.due: float | None = None

    def __call__(self, done: int, planned: int) -> None:
        now, rate = self.clock(), self.pace.at(done)
        if self.due is None:
            self.due = now + _FIRST_LINE
        if now >= self.due and planned - done > rate * _LEAST_LEFT:
            self.due = now + _NEXT_LINE
            self.tell(f"{done:,} of {planned:,} {self.what}{speed(done, planned, rate)}")


def speed(done: int, planned: int, rate: float) -> str:
    """Rate and time left in words, nothing if not known: ", 190,000 a second, 7 min 40 s left"."""
    if rate <= 0:
        return ""
    return f", {_round(rate):,} a second, {duration((planned - done) / rate)} left"


def duration(seconds: float) -> str:
    """A time in its two largest units."""
    whole = round(seconds)
    if whole < _MINUTE:
        return f"{whole} s"
    if whole < _HOUR:
        return f"{whole // _MINUTE} min {whole % _MINUTE} s"
    if whole < _DAY:
        return f"{whole // _HOUR} h {whole % _HOUR // _MINUTE} min"
    return f"{whole // _DAY} d {whole % _DAY // _HOUR} h"


def _round(rate: float) -> int:
    """To three digits: more would only flicker."""
    digits = max(0, len(str(int(rate))) - 3)
    return int(round(rate, -digits))


class Waiting:
    """Told by the cluster when nobody works any more, and when somebody does again.

    It is said with ``--quiet`` too: the command waits for somebody to do something.
    """

    def __init__(self, address: str, out: Path | None) -> None:
        self.address, self.out = address, out
        self.also: Callable[[bool], None] | None = None
        """Told the same: whatever shows how long it will take yet."""

    def __call__(self, working: bool) -> None:
        from soundergate.engine.work.cluster_workers import nobody, went_on

        if self.also is not None:
            self.also(working)
        kept = f" What is done is kept in {self.out}." if self.out is not None else ""
        console.tell(went_on() if working else nobody(self.address) + kept)


@contextmanager
def progress(words: str, quiet: bool, waiting: Waiting | None = None) -> Iterator[Progress | None]:
    """A bar on standard error while nights are played, with rate and time left.

    Where no terminal is watched, a line now and then; None if nothing is to be said. While a
    cluster is ``waiting`` for workers no time left is shown, and the rate is then taken anew.
    """
    if quiet:
        yield None
        return
    if not sys.stderr.isatty():
        lines = Lines(words, console.tell)
        if waiting is not None:
            waiting.also = lines.pace.stands
        yield lines
        return
    from rich import progress as bars

    columns = (
        bars.TextColumn("{task.description}", markup=False),
        bars.BarColumn(),
        bars.TextColumn("{task.completed:,.0f} of {task.total:,.0f}{task.fields[speed]}"),
    )
    with bars.Progress(*columns, console=console.console(sys.stderr), transient=True) as shown:
        task, pace = shown.add_task(words, total=1, speed=""), Pace()

        def update(done: int, planned: int) -> None:
            rate = speed(done, planned, pace.at(done))
            shown.update(task, completed=done, total=planned, speed=rate)

        def stands(working: bool) -> None:
            pace.stands(working)
            shown.update(task, speed="" if working else ", waiting for workers")

        if waiting is not None:
            waiting.also = stands
        yield update


_STEPS = 4


def announce_compiling(options: Options) -> None:
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
