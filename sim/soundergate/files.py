"""How anything is written to disk: beside where it belongs, and moved there when it is whole.

Whoever looks sees the old file or the new one. Nothing is written through a link: a file that is
moved into place takes the place of the link itself.
"""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

AnyPath = str | os.PathLike[str]
_BESIDE = ".tmp"
_NO_LINK = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
_TRIES = 3


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
    with _named(target), _new(beside) as file:
        try:
            yield file
            file.flush()
            os.fsync(file.fileno())
            os.replace(beside, target)
        except BaseException:
            with contextlib.suppress(OSError):
                beside.unlink()
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


@contextmanager
def _new(beside: Path) -> Iterator[BinaryIO]:
    """A new file of ours; what a run that was killed has left in its place is removed."""
    for _ in range(_TRIES):
        try:
            made = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _NO_LINK, 0o666)
            break
        except FileExistsError:
            _remove_left(beside)
    else:
        raise _another_is_writing()
    with open(made, "wb") as file:
        _hold(made)
        yield file


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
