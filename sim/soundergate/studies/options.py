"""What Python may hand over as an option: each by its name, of the type that it says, or one error.

`checked` stands before a public function and looks at types alone, before anything is done. What a
number may be, and which names there are, the function itself says.
"""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Iterable, Mapping
from numbers import Integral, Real
from typing import Any, ParamSpec, TypeVar

from soundergate.studies.errors import StudyError

P = ParamSpec("P")
R = TypeVar("R")

_MOST = 2**63 - 1
_LONGEST = 60
"""Characters of a value in a message."""


def checked(function: Callable[P, R]) -> Callable[P, R]:
    """The function, with every option that `KINDS` names looked at first.

    None is let through where it is the default. Raises StudyError naming option and value.
    """
    signature = inspect.signature(function)
    looked_at = {
        name: (KINDS[name], one.default is None)
        for name, one in signature.parameters.items()
        if name in KINDS
    }

    @functools.wraps(function)
    def with_checks(*given: P.args, **named: P.kwargs) -> R:
        bound = signature.bind(*given, **named)  # the very error of a call with wrong names
        for name, (kind, none) in looked_at.items():
            if name in bound.arguments and not (none and bound.arguments[name] is None):
                bound.arguments[name] = kind(name, bound.arguments[name])
        return function(*bound.args, **bound.kwargs)

    return with_checks


def _whole(name: str, value: Any) -> Any:
    """A whole number that an int64 can hold."""
    if isinstance(value, bool) or not isinstance(value, Integral):
        raise _wrong(name, value, "a whole number")
    if not -_MOST <= int(value) <= _MOST:
        raise _wrong(name, value, f"one of at most {_MOST}")
    return int(value)


def _number(name: str, value: Any) -> Any:
    """A number that a float can hold."""
    if isinstance(value, bool) or not isinstance(value, Real):
        raise _wrong(name, value, "a number")
    if isinstance(value, Integral) and not -_MOST <= int(value) <= _MOST:
        raise _wrong(name, value, f"one of at most {_MOST}")
    return value


def _text(name: str, value: Any) -> Any:
    if not isinstance(value, str):
        raise _wrong(name, value, "text")
    return value


def _flag(name: str, value: Any) -> Any:
    """True or False, of Python or of NumPy."""
    if isinstance(value, bool) or type(value).__name__ in ("bool", "bool_"):
        return bool(value)
    raise _wrong(name, value, "True or False")


def _texts(name: str, value: Any) -> Any:
    """A list of texts, from anything that gives them one by one."""
    if isinstance(value, str | bytes | Mapping | type) or not isinstance(value, Iterable):
        raise _wrong(name, value, "a list of texts")
    texts = list(value)
    for one in texts:
        _text(name, one)
    return texts


def _ids(name: str, value: Any) -> Any:
    """Ids, or the beginning of ids: one, or a list."""
    known = isinstance(value, list | tuple) and all(isinstance(one, str) for one in value)
    if not known and not isinstance(value, str):
        raise StudyError("is no list of ids", key=name, value=value, hint='such as ["entry"]')
    return value


def _precision(name: str, value: Any) -> Any:
    """A number, a text, or numbers by measure."""
    if isinstance(value, str):
        return value
    for one in value.values() if isinstance(value, Mapping) else (value,):
        _number(name, one)
    return value


def _progress(name: str, value: Any) -> Any:
    """A function of how much is done and how much is planned."""
    if isinstance(value, type) or not callable(value) or not _takes(value, 2):
        raise _wrong(name, value, "a function of nights done and nights planned")
    return value


def _executor(name: str, value: Any) -> Any:
    """What maps a work over chunks (`engine.work.chunks.Executor`)."""
    known = not isinstance(value, type) and callable(getattr(value, "map", None))
    if not known or not _takes(value.map, 2):
        raise _wrong(name, value, "what has map(work, chunks)")
    return value


def _store(name: str, value: Any) -> Any:
    """A `store.store.Store`, told by what is asked of it: that room stands on this one."""
    if isinstance(value, type) or not callable(getattr(value, "begin", None)):
        raise _wrong(name, value, "a Store")
    return value


def _record(name: str, value: Any) -> Any:
    """A `repeat.Record`, told likewise."""
    if not isinstance(getattr(value, "setups", None), Mapping):
        raise _wrong(name, value, "a Record")
    return value


def _wrong(name: str, value: Any, wanted: str) -> StudyError:
    return StudyError(f"{name.replace('_', ' ')} is {_shown(value)}; wanted {wanted}")


def _shown(value: Any) -> str:
    """As Python would show it, on one line; by its type alone where it will not be shown."""
    try:
        text = " ".join(repr(value).split())
    except Exception:  # whatever an object does when it is to be shown
        return f"a value of type {type(value).__name__}"
    text = "".join(sign for sign in text if sign.isprintable())
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}..."


def _takes(function: Callable[..., Any], count: int) -> bool:
    """Whether a function can be called with so many values, as far as can be told."""
    try:
        inspect.signature(function).bind(*range(count))
    except TypeError:
        return False
    except ValueError:  # of a function that says nothing of itself
        return True
    return True


KINDS: dict[str, Callable[[str, Any], Any]] = {
    **dict.fromkeys(
        ("nights", "seed", "workers", "worlds", "searched", "campaigns", "number", "screen", "top",
         "samples"),
        _whole,
    ),
    **dict.fromkeys(("level", "taught_costs", "negligible", "campaigns_a_year", "power"), _number),
    **dict.fromkeys(("engine", "against", "wanted", "method", "measure", "units"), _text),
    **dict.fromkeys(("keep_outcomes", "decisions"), _flag),
    "measures": _texts,
    "only": _ids,
    "precision": _precision,
    "progress": _progress,
    "executor": _executor,
    "store": _store,
    "record": _record,
}  # fmt: skip
"""By the name of an option, what looks at it and gives it back as it is to be used."""
