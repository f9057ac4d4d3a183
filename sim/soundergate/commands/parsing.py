"""Where the option parser is not enough: refusals in plain words, and what two options ask for."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import typer
from typer.core import TyperCommand, TyperGroup


class PlainWords(TyperGroup):
    """What the option parser refuses is said in our words, and on no more than a screen."""

    def make_context(self, *args: Any, **options: Any) -> Any:
        with _in_plain_words():
            return super().make_context(*args, **options)

    def invoke(self, ctx: Any) -> Any:
        with _in_plain_words():
            return super().invoke(ctx)


_UsageError: Any = typer.BadParameter.__base__
"""Whatever the parser refuses: a value, an option, a command, an argument too many."""


@contextmanager
def _in_plain_words() -> Iterator[None]:
    try:
        yield
    except _UsageError as error:
        error.message = plain(error)
        raise


_DIGITS = (*"0123456789.",)


class WidthsMayStandAlone(TyperCommand):
    """`--widths` without widths means the usual ones; the option parser knows no such option."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        following = [*args[1:], ""]
        told = [
            "--widths=usual" if arg == "--widths" and after[:1] not in _DIGITS else arg
            for arg, after in zip(args, following, strict=True)
        ]
        return super().parse_args(ctx, told)


class CampaignsForNights(TyperCommand):
    """Whoever asks a season for nights is told what it counts."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        if any(arg.split("=")[0] == "--nights" for arg in args):
            ctx.fail("No such option: --nights. A season counts campaigns: --campaigns 10000")
        return super().parse_args(ctx, args)


_WANTED = {
    "int_parsing": "a whole number",
    "int_parsing_size": "a whole number with fewer digits",
    "int_from_float": "a whole number",
    "float_parsing": "a number",
}
"""Pydantic's kind of error -> what would do."""


def plain(error: Any) -> str:
    """What an error of the option parser says, in our words and no longer than fits a screen."""
    from soundergate.scenario.errors import LONGEST, shortened

    reason = _reason(error) if isinstance(error, typer.BadParameter) else error.message
    return shortened(printed(reason), LONGEST)


def printed(text: str) -> str:
    """Signs that break lines or repaint a terminal, as Python writes them."""
    return "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in text)


def _reason(error: typer.BadParameter) -> str:
    """The reason without what only programmers know; as it was if no validator gave it."""
    from pydantic import ValidationError

    from soundergate.scenario.messages import said

    cause = error.__cause__
    if not isinstance(cause, ValidationError):
        return error.message
    first = cause.errors(include_url=False)[0]
    wanted = _WANTED.get(first["type"])
    return said(first) if wanted is None else f"{first['input']!r} is not {wanted}."
