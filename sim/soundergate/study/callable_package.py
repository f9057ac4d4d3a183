"""A package that is also the function of its name, which is loaded when it is first called."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable
from importlib import import_module
from types import ModuleType
from typing import Any


def make_callable(package: str, home: str, name: str) -> None:
    """Let ``package`` be called like function ``name`` of the module ``home``."""

    def function() -> Callable[..., Any]:
        found: Callable[..., Any] = getattr(import_module(home), name)
        return found

    class Package(ModuleType):
        def __call__(self, *args: Any, **options: Any) -> Any:
            return function()(*args, **options)

        @property
        def __signature__(self) -> inspect.Signature:
            return inspect.signature(function())

    sys.modules[package].__class__ = Package
