"""The one error a user of scenario files can meet, and the note validators pass up to it."""

from __future__ import annotations

import math
import re
from typing import Any

_ABSENT: Any = object()
EMPTY_KEY = '""'
"""How TOML writes the key that has no letters."""
_BARE = re.compile(r"[A-Za-z0-9_-]+")
"""Keys that TOML takes without quotes."""
_DEEPEST_SHOWN = 8
SCREEN_LINES, SCREEN_COLUMNS = 24, 100
"""A screen: no message fills more, whatever was in a file or typed."""
LONGEST, _LEFT_OUT = 700, " ... "
"""Characters of a problem or of what would do; both, with file, key and value, fit on a screen."""


class ScenarioError(Exception):
    """What is wrong with a scenario, in one message a person can act on.

    Fields: `file` (name of the source), `key` (dotted, entries of a list counted
    from 1), `value` (as written; None when there is none) and `hint` (what would do).
    """

    def __init__(
        self,
        problem: str,
        *,
        file: str | None = None,
        key: str | None = None,
        value: Any = _ABSENT,
        hint: str | None = None,
        more: int = 0,
    ) -> None:
        key = EMPTY_KEY if key == "" else key
        self.problem = problem
        self.file = file
        self.key = key
        self.value = None if value is _ABSENT else value
        self.hint = hint
        self.more = more
        where = ": ".join(
            part
            for part in (file and _printable(shortened(file, 300)), key and shortened(key))
            if part
        )
        if value is not _ABSENT and key:
            where += f" = {show(value)}"
        problem = shortened(problem, LONGEST)
        text = f"{where}: {problem}" if where else problem
        if hint:
            text += f"; {shortened(hint, LONGEST)}"
        if more:
            text += f" (and {more} more error{'s' if more > 1 else ''})"
        super().__init__(text)

    def __reduce__(self) -> tuple[Any, ...]:
        # An exception is rebuilt from its positional arguments, which would lose the fields.
        return (_rebuild, (self.args, dict(self.__dict__)))


def _rebuild(args: tuple[Any, ...], fields: dict[str, Any]) -> ScenarioError:
    error = ScenarioError.__new__(ScenarioError)
    error.args = args
    error.__dict__.update(fields)
    return error


class Problem(ValueError):
    """Raised inside validators; `loading` adds file, key and value and makes a ScenarioError.

    `key` names the offending key relative to the table being validated, or, with a leading
    dot, from the top of the file.
    """

    def __init__(
        self, text: str, *, hint: str | None = None, key: str = "", value: Any = _ABSENT
    ) -> None:
        super().__init__(text)
        self.text = text
        self.hint = hint
        self.key = key
        self.has_value = value is not _ABSENT
        self.value = None if value is _ABSENT else value
        self.of_value = False
        """Whether a value is wrong, even one that is a table, and not what stands in a table."""


def as_written(key: str) -> str:
    """A key of the user's in a message: in quotes if a path would take its signs for others."""
    return key if _BARE.fullmatch(key) else show(key)


def shortened(text: str, limit: int = 100) -> str:
    """A text of at most so many characters, its middle left out if it is longer."""
    if len(text) <= limit:
        return text
    half = (limit - len(_LEFT_OUT)) // 2
    return f"{text[:half]}{_LEFT_OUT}{text[-half:]}"


def on_a_screen(text: str) -> str:
    """A text that is no longer than a screen, its middle left out if it was."""
    rows = sum(max(1, -(-len(line) // SCREEN_COLUMNS)) for line in text.split("\n"))
    if rows <= SCREEN_LINES:
        return text
    return shortened(" ".join(text.split()), SCREEN_LINES * SCREEN_COLUMNS)


def show(value: Any, limit: int = 60) -> str:
    """A value as a TOML author would recognise it, shortened to `limit` characters."""
    text = _toml_like(value, limit)
    return text if len(text) <= limit else text[: limit - 3] + "..."


def _toml_like(value: Any, limit: int, depth: int = 0) -> str:
    if depth > _DEEPEST_SHOWN:
        return "..."
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        shown = value[: limit + 1].replace("\\", "\\\\").replace('"', '\\"')
        return f'"{_printable(shown)}"'
    if isinstance(value, float) and not math.isfinite(value):
        return "nan" if math.isnan(value) else ("inf" if value > 0 else "-inf")
    if isinstance(value, int) and abs(value) > 10**limit:
        return f"an integer of more than {limit} digits"
    if isinstance(value, dict):
        pairs = (f"{k} = {_toml_like(v, limit, depth + 1)}" for k, v in list(value.items())[:8])
        return "{" + ", ".join(pairs) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_toml_like(v, limit, depth + 1) for v in value[:8]) + "]"
    return _in_words(value)


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in text)


def _in_words(value: Any) -> str:
    """A value that no file holds, in one line; by its type alone if it has no words of its own."""
    kind = type(value)
    if kind.__str__ is object.__str__ and kind.__repr__ is object.__repr__:
        return f"<{kind.__name__}>"
    try:
        return " ".join(str(value).split())
    except Exception:  # whatever it does when it is asked, what was wrong must still be said
        return f"<{kind.__name__}>"
