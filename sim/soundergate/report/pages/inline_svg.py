"""A figure as inline SVG: colours that follow the page's light or dark, ids unique in the page."""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING

from soundergate.report import style

if TYPE_CHECKING:
    from markupsafe import Markup
    from matplotlib.figure import Figure

THEME = {
    style.INK: "--ink",
    style.PAPER: "--paper",
    style.MUTED: "--muted",
    style.RULE: "--rule",
    style.BLUE: "--blue",
    style.PALE_BLUE: "--pale-blue",
    style.ORANGE: "--orange",
    style.PALE_ORANGE: "--pale-orange",
    style.GREY: "--grey",
}
"""Colour of the style sheet -> custom property of the page."""

NARROW = 380.0
"""Points; a narrower figure is whole, and legible, on a telephone."""


def inline_svg(figure: Figure, name: str, alt: str) -> Markup:
    """The figure as an <svg> element to stand in HTML; `name` must be unique in the page.

    `alt` is read out in place of the picture.
    """
    from markupsafe import Markup, escape

    buffer = io.StringIO()
    with style.sheet():
        figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None})
    text = buffer.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, flags=re.DOTALL)
    text = re.sub(r"<style\b.*?</style>\s*", "", text, flags=re.DOTALL)
    text = _numbers_shortened(_ids_prefixed(_themed(text), name))
    box = re.search(r'viewBox="[^"]*"', text)
    assert box is not None
    width = float(box[0].split()[2])
    kind = "figure narrow" if width < NARROW else "figure"
    opening = f'<svg {box[0]} class="{kind}" role="img" aria-label="{escape(alt)}">'
    return Markup(_without_idle_ids(re.sub(r"<svg\b[^>]*>", lambda _: opening, text, count=1)))


def _themed(text: str) -> str:
    """Colours of the sheet become custom properties, which only a style attribute may hold."""
    for colour, name in THEME.items():
        text = text.replace(f'fill="{colour}"', f'style="fill: var({name})"')
        text = text.replace(colour, f"var({name})")
    return text


_GLYPHS = {"DejaVuSans-Bold-": "b", "DejaVuSans-Oblique-": "o", "DejaVuSans-": "g"}
"""What a glyph's id begins with, and what it is cut to: a page uses glyphs ten thousand times."""


def _ids_prefixed(text: str, name: str) -> str:
    for font, short in _GLYPHS.items():
        text = re.sub(f'(id="|href="#){font}', rf"\1{short}", text)
    text = re.sub(r'\bid="', f'id="{name}-', text)
    text = re.sub(r'(?:xlink:)?href="#', f'href="#{name}-', text)
    return re.sub(r"url\(#", f"url(#{name}-", text)


def _without_idle_ids(text: str) -> str:
    """Only ids that something refers to are kept."""
    used = set(re.findall(r'(?:href="|url\()#([^")]+)', text))
    return re.sub(r' id="([^"]*)"', lambda own: own[0] if own[1] in used else "", text)


def _numbers_shortened(text: str) -> str:
    """Coordinates to a hundredth of a point, which is 4 µm on paper; scale factors stay whole."""
    text = re.sub(r'\b(?:d|x|y|x1|y1|x2|y2)="[^"]*"|translate\([^)]*\)', _rounded, text)
    text = re.sub(r'\bd="[^"]*"', _closed_up, text)
    text = re.sub(r'\bstyle="[^"]*"', lambda of: re.sub(r"([:;]) ", r"\1", of[0]), text)
    return re.sub(r">\s+<", "><", text)


def _closed_up(found: re.Match[str]) -> str:
    """A path without the spaces that its commands need not have around them."""
    return re.sub(r"\s*([MLHVQCZz])\s*", r"\1", found[0])


def _rounded(found: re.Match[str]) -> str:
    return re.sub(r"-?\d+\.\d{3,}", lambda number: f"{float(number[0]):.2f}", found[0])
