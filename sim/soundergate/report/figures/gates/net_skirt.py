"""A net skirt from the front."""

from __future__ import annotations

from soundergate.report.figures.gates.entrance import draw

__all__ = ["draw"]
