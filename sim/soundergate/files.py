"""How anything is written to disk: beside where it belongs, and moved there when it is whole.

Whoever looks sees the old file or the new one. Nothing is written through a link: a file that is
moved into place takes the place of the link itself. Files that belong `together` appear all at once
or, if they are interrupted, not at all.

What must not be cut in two is `undivided`: whoever handles a signal asks `may_stop`, and whoever
ends the process from another thread calls `give_up` first.
"""

from __future__ import annotations

import contextlib
import errno
import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import BinaryIO

AnyPath = str | os.PathLike[str]
_BESIDE = ".tmp"
_NO_LINK = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
_TRIES = 3
_LONGEST_MOVE = 5.0
"""Seconds after which `give_up` no longer waits for a disk that does not answer."""

_lock = threading.RLock()
_inside = 0
"""How many undivided steps the thread that holds the lock is in."""
_late = False
_unfinished: set[Path] = set()
"""Files of ours that wait to be moved into place."""
_made_folders: dict[Path, None] = {}
"""Folders of ours, innermost first."""
_held: ContextVar[list[_Whole] | None] = ContextVar("_held", default=None)
"""Whole files that wait for others; None where none need to."""


@contextmanager
def undivided() -> Iterator[None]:
    """A short step that is done or not done; what interrupts it is raised when it is over."""
    global _inside, _late
    late = False
    try:
        with _lock:
            _inside += 1
            try:
                yield
            finally:
                _inside -= 1
                if not _inside:
                    late, _late = _late, False
    finally:
        if late:
            raise KeyboardInterrupt


def may_stop() -> bool:
    """Whether an interrupt may be raised here and now; if not, `undivided` raises it."""
    global _late
    if _inside:
        _late = True
        return False
    return True


def make_folder(path: AnyPath) -> None:
    """Make a folder, and those above it that are missing; `tidy` removes what stays empty of them.

    Raises OSError.
    """
    folder = Path(path)
    missing = [one for one in (folder, *folder.parents) if not one.exists()]
    with undivided():
        _made_folders.update(dict.fromkeys(missing))
        folder.mkdir(parents=True, exist_ok=True)


def give_up() -> None:
    """For a process that ends at once: no file can be begun any more, and `tidy`."""
    _lock.acquire(timeout=_LONGEST_MOVE)
    tidy()


def tidy() -> None:
    """Remove what was begun and will not be finished, and folders of ours that hold nothing."""
    for beside in tuple(_unfinished):
        with contextlib.suppress(OSError):
            beside.unlink()
    for folder in tuple(_made_folders):  # each before the one that it is in
        with contextlib.suppress(OSError):
            folder.rmdir()
    _made_folders.clear()


@contextmanager
def together() -> Iterator[None]:
    """Files written in the block stand in their places once it has ended well, all at once.

    After an error, those that were whole by then do; after an interrupt none of them.
    """
    if _held.get() is not None:  # part of more
        yield
        return
    held: list[_Whole] = []
    before = _held.set(held)
    try:
        yield
    except Exception:
        _move_all(held)
        raise
    else:
        _move_all(held)
    finally:
        _held.reset(before)
        for whole in held:
            whole.drop()


def _move_all(held: list[_Whole]) -> None:
    with undivided():
        for whole in held:
            with _named(whole.target):
                whole.move()


class _Whole:
    """A file that is whole and waits; until it is moved or dropped, no other run may take it."""

    def __init__(self, beside: Path, target: Path, file: int) -> None:
        self.beside, self.target = beside, target
        self.file = os.dup(file)

    def move(self) -> None:
        os.replace(self.beside, self.target)
        _unfinished.discard(self.beside)
        _sync_folder(self.target.parent)

    def drop(self) -> None:
        """If it was not moved, remove it."""
        if self.beside in _unfinished:
            _drop(self.beside)
        os.close(self.file)


@contextmanager
def writing(path: AnyPath) -> Iterator[BinaryIO]:
    """A file to write bytes to, which stands at ``path`` once the block has ended well.

    Raises
    ------
    OSError
        That names ``path``, whatever failed. Nothing is left beside it, and what stood there
        before still stands.
    """
    target = Path(path)
    beside = target.with_name(target.name + _BESIDE)
    held = _held.get()
    with _named(target), _new(beside) as file:
        try:
            yield file
            file.flush()
            os.fsync(file.fileno())
            if held is not None:
                held.append(_Whole(beside, target, file.fileno()))
                return
            with undivided():
                os.replace(beside, target)
                _unfinished.discard(beside)
        except BaseException:
            if beside in _unfinished:
                _drop(beside)
            raise
        _sync_folder(target.parent)


def write_bytes(path: AnyPath, data: bytes) -> Path:
    """Write a whole file as `writing` does, and return its path."""
    with writing(path) as file:
        file.write(data)
    return Path(path)


def write_text(path: AnyPath, text: str) -> Path:
    """The same in UTF-8, line ends as they are."""
    return write_bytes(path, text.encode())


def _drop(beside: Path) -> None:
    with contextlib.suppress(OSError):
        beside.unlink()
    _unfinished.discard(beside)


@contextmanager
def _new(beside: Path) -> Iterator[BinaryIO]:
    """A new file of ours; what a run that was killed has left in its place is removed."""
    for _ in range(_TRIES):
        try:
            made = _made(beside)
            break
        except FileExistsError:
            _remove_left(beside)
    else:
        raise _another_is_writing()
    with open(made, "wb") as file:
        _hold(made)
        yield file


def _made(beside: Path) -> int:
    try:
        with undivided():
            made = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _NO_LINK, 0o666)
            _unfinished.add(beside)
    except KeyboardInterrupt:
        if beside in _unfinished:
            _drop(beside)
        raise
    return made


def _remove_left(beside: Path) -> None:
    """Remove what lies there, unless another run holds it."""
    with contextlib.suppress(FileNotFoundError):
        if not beside.is_symlink() and beside.is_file():
            with open(beside, "rb") as left:
                try:
                    _hold(left.fileno())
                except BlockingIOError:
                    raise _another_is_writing() from None
        beside.unlink()


def _hold(file: int) -> None:
    """Until it is closed. Raises BlockingIOError if another process holds it."""
    try:
        import fcntl
    except ImportError:  # no such locks on this system
        return
    fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)


def _another_is_writing() -> OSError:
    return OSError(errno.EBUSY, "another run is writing it; wait for it or give another folder")


@contextmanager
def _named(target: Path) -> Iterator[None]:
    """Errors of the system as errors that say what could not be written."""
    try:
        yield
    except OSError as error:
        reason = error.strerror or str(error) or type(error).__name__
        number = error.errno or errno.EIO
        raise OSError(number, f"cannot be written: {reason}", str(target)) from None


def _sync_folder(folder: Path) -> None:
    """That the new name lasts, where the system can promise that."""
    with contextlib.suppress(OSError):
        fd = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)
