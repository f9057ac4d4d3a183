"""Versions of Python and of the packages that a result could depend on."""

from __future__ import annotations

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
