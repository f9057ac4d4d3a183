"""A case that never comes to an end is named, with its text, before the process is ended.

A safety only: what may take long is bounded by number, in the package. The watch is a thread, since
compiled code lets no signal through, and lets threads run.
"""

from __future__ import annotations

import faulthandler
import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from fuzz_cases import Case

PATIENCE = 300.0
"""Seconds by the clock: many times what the longest case takes on a slow, busy machine."""


@contextmanager
def watched(case: Case, patience: float = PATIENCE) -> Iterator[None]:
    """End the process with the seed and text of a case that hangs."""
    timer = threading.Timer(patience, _give_up, (case,))
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


def _give_up(case: Case) -> None:
    told = sys.__stderr__ or sys.stderr
    print(f"\nThis case does not come to an end:\n{case}", file=told, flush=True)
    faulthandler.dump_traceback(told, all_threads=True)
    os._exit(70)
