"""Ctrl-C and SIGTERM end a command soon, wherever it stands, and leave nothing half written.

A signal raises KeyboardInterrupt, and everything is closed on the way out. Where Python cannot look
at the signal, in a long call of compiled code, a second thread waits for a moment, removes what is
unfinished, and ends the process.
"""

from __future__ import annotations

import atexit
import os
import signal
import socket
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from types import FrameType
from typing import Any

from soundergate import files

GRACE = 1.5
"""Seconds after a signal in which a command may close what it has open."""
_AGAIN = 0.5
"""Seconds after which a signal that comes again means: at once."""
_TELLING = 0.2
"""Seconds for the last sentence, where nobody may be reading."""
_SIGNALS = (signal.SIGINT, signal.SIGTERM)
_BY = {signal.SIGINT: "by hand", signal.SIGTERM: "by another program"}
NOTHING_WRITTEN = "Nothing was written; the same command begins again."
DONE = "All was done by then."


class _State:
    """Of this process: the signal that came, and what there is to say."""

    came: int | None = None
    working = False
    told = False
    answered = False
    words = NOTHING_WRITTEN
    ready = False
    ending = threading.Lock()


def ready() -> None:
    """Listen from now on. A signal that whoever started us has turned off stays so."""
    if _State.ready or threading.current_thread() is not threading.main_thread():
        return
    _State.ready = True
    atexit.register(_last_of_all)  # before any other is registered
    heard = [one for one in _SIGNALS if signal.getsignal(one) is not signal.SIG_IGN]
    mouth, ear = socket.socketpair()
    mouth.setblocking(False)
    threading.Thread(target=_watch, args=(mouth, ear), daemon=True).start()
    signal.set_wakeup_fd(mouth.fileno(), warn_on_full_buffer=False)
    for one in heard:
        signal.signal(one, _hear)
    # Python prints what is raised where nothing can catch it, such as in a callback of C
    shown, sys.unraisablehook = sys.unraisablehook, lambda what: _unless_stopped(shown, what)
    of_threads = threading.excepthook
    threading.excepthook = lambda what: _unless_stopped(of_threads, what)


@contextmanager
def heeded() -> Iterator[None]:
    """In the block a signal raises KeyboardInterrupt; elsewhere it ends the process at once."""
    _State.words, _State.told, _State.answered = NOTHING_WRITTEN, False, False
    _State.working = True
    try:
        yield
    finally:
        _State.working = False


def keeps(words: str) -> None:
    """What there is to say of a command that is stopped from here on: what is kept, and how to go
    on."""
    _State.words = words


def answers(tell: Any, wrote_to: bool) -> int:
    """For a command that reports what was done until it was stopped; the exit code.

    Where files were to be written, they are not, and ``tell`` says what `keeps` was told.
    """
    _State.answered = not wrote_to
    if wrote_to:
        tell(_State.words)
    _State.told = True
    return code()


def came() -> bool:
    """Whether a signal to stop has come."""
    return _State.came is not None


def code() -> int:
    """The exit code of a command that was stopped: 0 if it answers all the same."""
    if _State.answered and _State.came != signal.SIGTERM:
        return 0
    return 128 + (_State.came or signal.SIGINT)


def sentence() -> str:
    """One line: that it was stopped, and what `keeps` was told."""
    return f"Stopped {_BY[signal.Signals(_State.came or signal.SIGINT)]}. {_State.words}"


def stopped(tell: Any = None) -> int:
    """Say so (once, by ``tell``), let go of everything that is unfinished; the exit code."""
    if tell is not None and not _State.told:
        _State.told = True
        tell(sentence())
    if came():
        files.tidy()
        _end_children()
    return code()


def _hear(number: int, frame: FrameType | None) -> None:
    if _State.came is not None:
        return  # the other thread sees to it
    _State.came = number
    if not _State.working:
        _end_now()
    if files.may_stop():
        raise KeyboardInterrupt


def _last_of_all() -> None:
    """After everything else: Python takes itself for killed if an interrupt once passed through
    code made from text, as libraries make it; and what is done needs no stop any more."""
    if came():
        with suppress(OSError, ValueError):
            sys.stdout.flush()
        os._exit(code())
    for one in _SIGNALS:
        signal.signal(one, signal.SIG_IGN)


def _watch(mouth: socket.socket, ear: socket.socket) -> None:
    number = None
    while number not in _SIGNALS:
        number = ear.recv(1)[0]
    ends = time.monotonic() + GRACE
    while (left := ends - time.monotonic()) > 0:
        ear.settimeout(left)
        try:
            again = ear.recv(1)[0]
        except TimeoutError:
            break
        if again in _SIGNALS and ends - time.monotonic() < GRACE - _AGAIN:
            break
    _State.came = _State.came or number
    _end_now()


def _end_now() -> None:
    if not _State.ending.acquire(blocking=False):
        return
    files.give_up()
    _end_children()
    teller = threading.Thread(target=_last_words, daemon=True)
    teller.start()
    teller.join(_TELLING)
    os._exit(code())


def _last_words() -> None:
    if sys.stderr is not None and sys.stderr.isatty():
        os.write(2, b"\r\x1b[2K\x1b[?25h")  # a bar of progress has hidden the cursor
    if not _State.told:
        _State.told = True
        os.write(2, f"{sentence()}\n".encode(errors="replace"))


def _end_children() -> None:
    """Workers have nothing that is not handed over already."""
    processes = sys.modules.get("multiprocessing")
    for child in processes.active_children() if processes is not None else ():
        child.kill()


def _unless_stopped(show: Any, what: Any) -> None:
    if not came():
        show(what)
