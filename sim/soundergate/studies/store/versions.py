"""Versions of Python and of the packages that a result could depend on."""

from __future__ import annotations

import hashlib
import platform
from importlib.metadata import PackageNotFoundError, version

_PACKAGES = ("soundergate", "numpy", "scipy", "numba", "simpy", "pydantic", "pint")


def versions() -> dict[str, str]:
    """By name; "not installed" for a package that is not."""
    found = {"python": platform.python_version()}
    for name in _PACKAGES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found


def drawn_with() -> str:
    """Which Matplotlib draws: pictures, not numbers, depend on it."""
    return f"matplotlib {version('matplotlib')}"


def register_digest() -> str:
    """A short text that differs for registers whose values or ranges differ."""
    from soundergate.scenario.register import register

    said = hashlib.sha256()
    for entry in register().values():
        numbers = (
            entry.id,
            entry.value,
            entry.unit,
            entry.low,
            entry.high,
            entry.distribution,
            entry.none,
            entry.support,
        )
        said.update(repr((*numbers, entry.dist, entry.of, entry.beyond)).encode())
    return said.hexdigest()[:16]
