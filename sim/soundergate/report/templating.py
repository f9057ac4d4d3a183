"""Jinja2 as this package uses it: all text escaped, no undefined name, data safe inside a page."""

from __future__ import annotations

import json
import math
from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

_ESCAPES = {
    "<": "\\u003c",
    ">": "\\u003e",
    "&": "\\u0026",
    "\u2028": "\\u2028",
    "\u2029": "\\u2029",
}


def json_text(data: Any) -> str:
    """JSON that can stand inside a <script> element whatever text it holds.

    The characters that could end the element or start a comment are written as JSON escapes, so
    the text still reads back to the same data; nan and infinity, which JSON has not, become null.
    """
    text = json.dumps(_finite(data), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for character, escape in _ESCAPES.items():
        text = text.replace(character, escape)
    return text


def embedded(data: Any) -> Markup:
    """`json_text` marked as safe to print in a template."""
    from markupsafe import Markup

    return Markup(json_text(data))


def _finite(data: Any) -> Any:
    if isinstance(data, dict):
        return {str(key): _finite(value) for key, value in data.items()}
    if isinstance(data, list | tuple):
        return [_finite(value) for value in data]
    if hasattr(data, "item") and not hasattr(data, "__len__"):  # a NumPy scalar
        data = data.item()
    if isinstance(data, float) and not math.isfinite(data):
        return None
    return data


@cache
def environment() -> Environment:
    """The one environment: autoescape on for every template, undefined names are errors."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("soundergate.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["embedded"] = embedded
    return made


def source(name: str) -> Markup:
    """A style sheet or script of this package's own, to stand in a page as it is."""
    from markupsafe import Markup

    loader = environment().loader
    assert loader is not None
    return Markup(loader.get_source(environment(), name)[0])


def fill(template: str, **values: Any) -> Markup:
    """Render a template; what comes back is markup and is not escaped again."""
    from markupsafe import Markup

    return Markup(environment().get_template(template).render(**values))
