"""Where compiled code is kept between runs, and whether what lies there may be run.

Machine code that is loaded from a file runs with all that its user may do. So the folder is this
user's alone, and so is every folder on the way to it: else somebody could put another in its place.
"""

from __future__ import annotations

import hashlib
import os
import platform
import re
import stat
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path

_PACKAGE = Path(__file__).parents[2]
_IMPORT = re.compile(
    rf"^[ \t]*(?:from {_PACKAGE.name}(?P<where>[.\w]*) import (?P<names>\([^)]*\)|[^\n]*)"
    rf"|import {_PACKAGE.name}(?P<whole>[.\w]+))",
    re.MULTILINE,
)
_OTHERS_WRITE, _GROUP_WRITES = stat.S_IWOTH, stat.S_IWGRP


class NotPrivate(Exception):
    """Somebody else may have a hand in the folder, or in the way to it."""


def sources(first: Path) -> list[Path]:
    """The files of this package that a module is compiled from: itself and whatever it imports."""
    met: dict[Path, None] = {}
    ahead = [first]
    while ahead:
        path = ahead.pop()
        if path not in met:
            met[path] = None
            ahead.extend(_imported(path.read_text(encoding="utf-8")))
    return sorted(met)


def _imported(text: str) -> Iterable[Path]:
    for found in _IMPORT.finditer(text):
        where = _PACKAGE.joinpath(*(found["whole"] or found["where"]).split(".")[1:])
        if where.with_suffix(".py").exists():
            yield where.with_suffix(".py")
            continue
        names = re.sub(r"#[^\n]*", "", found["names"] or "").strip("()")
        for name in (part.split()[0] for part in names.split(",") if part.strip()):
            module = where / f"{name}.py"
            yield module if module.exists() else where / "__init__.py"


def fingerprint(files: Iterable[Path], *versions: str) -> str:
    """A name for code compiled from these files by these versions on this kind of machine."""
    digest = hashlib.sha256()
    for version in (*versions, sys.version, platform.machine()):
        digest.update(version.encode() + b"\n")
    for file in files:
        digest.update(file.name.encode() + b"\n")
        digest.update(file.read_bytes())
    return digest.hexdigest()[:16]


def folder(name: str) -> Path | None:
    """A writable folder of this user's alone; None if there can be none: then nothing is kept.

    Raises NotPrivate if others have a hand in it.
    """
    try:
        ours = _root() / "soundergate"
        ours.mkdir(parents=True, exist_ok=True, mode=0o700)
        ours = ours.resolve(strict=True)
        _check_way(ours)
        here = ours / name
        here.mkdir(exist_ok=True, mode=0o700)
        for made in (ours, here):
            _check(made)
            made.chmod(0o700)
        _check_all_in(here)
        with tempfile.TemporaryFile(dir=here):
            return here
    except (OSError, RuntimeError):
        return None


def _root() -> Path:
    if base := os.environ.get("XDG_CACHE_HOME"):
        return Path(base)
    if sys.platform == "win32" and (base := os.environ.get("LOCALAPPDATA")):
        return Path(base)
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches"
    return Path.home() / ".cache"


def _check_way(path: Path) -> None:
    """No folder above may let others put another in the place of ours."""
    for above in path.parents:
        known = above.stat()
        if not (known.st_mode & stat.S_ISVTX and known.st_uid == 0):  # such as /tmp
            _check(above, or_the_system=True)


def _check_all_in(here: Path) -> None:
    for where, folders, files in os.walk(here):
        for name in (*folders, *files):
            _check(Path(where) / name, group=True)  # behind a folder that is closed to the group


def _check(path: Path, or_the_system: bool = False, group: bool = False) -> None:
    """Raises NotPrivate unless it is this user's (or the system's) and nobody else may write it."""
    if not hasattr(os, "getuid"):
        return
    known = path.lstat()
    if stat.S_ISLNK(known.st_mode):
        raise NotPrivate(f"{path} is a link")
    if known.st_uid != os.getuid() and not (or_the_system and known.st_uid == 0):
        raise NotPrivate(f"{path} is another user's")
    written_by_others = known.st_mode & _OTHERS_WRITE
    if not group and known.st_mode & _GROUP_WRITES and not _is_own_group(known.st_gid):
        written_by_others = True
    if written_by_others:
        raise NotPrivate(f"others may write to {path}")


def _is_own_group(number: int) -> bool:
    """Whether the group is the one that many systems make for each user alone."""
    import grp
    import pwd

    try:
        user, group = pwd.getpwuid(os.getuid()).pw_name, grp.getgrgid(number)
    except KeyError:
        return False
    return group.gr_name == user and set(group.gr_mem) <= {user}
