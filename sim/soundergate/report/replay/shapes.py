"""Pigs from above, told apart by their outlines and marks, not by colour.

A sow is broad behind and has ears, a boar broad in front with tusks and a ridge of bristles, a
juvenile slim and plain, a piglet short and striped. Drawn to the length and the shoulder width of
each; metres, snout to the right, y down, the body's middle at the origin.
"""

from __future__ import annotations

from dataclasses import dataclass

TOLD = {
    "sow": "broad behind, with ears",
    "boar": "broad in front, with tusks",
    "juvenile": "slim and plain",
    "piglet": "short, with a stripe",
}
"""What marks each class, in words."""


@dataclass(frozen=True, slots=True)
class Shape:
    """SVG paths of a body: its outline, ears or tusks that stand out from it, marks on it.

    "" stands for none.
    """

    outline: str
    ears: str
    marks: str


# half outlines in shares of (length, half of the shoulder width), from the tail to the snout:
# the first point, then cubic curves of three points each
_OUTLINES = {
    "sow": [
        (-0.5, 0), (-0.5, 1.0), (-0.36, 1.5), (-0.14, 1.45), (0.06, 1.4), (0.12, 1.0),
        (0.24, 0.85), (0.36, 0.7), (0.5, 0.5), (0.5, 0),
    ],
    "boar": [
        (-0.5, 0), (-0.5, 0.5), (-0.4, 0.75), (-0.25, 0.85), (-0.05, 1.0), (0.02, 1.6),
        (0.18, 1.5), (0.34, 1.35), (0.5, 0.5), (0.5, 0),
    ],
    "juvenile": [
        (-0.5, 0), (-0.46, 0.5), (-0.36, 0.9), (-0.1, 0.95), (0.1, 1.0), (0.24, 0.7),
        (0.34, 0.45), (0.42, 0.3), (0.46, 0.2), (0.5, 0),
    ],
    "piglet": [
        (-0.5, 0), (-0.5, 0.9), (-0.36, 1.2), (-0.2, 1.2), (0.0, 1.2), (0.1, 1.2),
        (0.2, 1.1), (0.36, 1.0), (0.5, 0.6), (0.5, 0),
    ],
}  # fmt: skip
_EARS = {
    "sow": "M{0:.3f} {2:.3f}L{1:.3f} {3:.3f}M{0:.3f} -{2:.3f}L{1:.3f} -{3:.3f}",
    "boar": "M{4:.3f} {2:.3f}L{5:.3f} {3:.3f}M{4:.3f} -{2:.3f}L{5:.3f} -{3:.3f}",
}
_MARKS = {"boar": "M-{0:.3f} 0H{1:.3f}", "piglet": "M-{1:.3f} 0H{1:.3f}"}


def shape(animal_class: str, length: float, shoulder: float) -> Shape:
    """The body of a class; one that is not known is drawn as a juvenile."""
    half = shoulder / 2
    points = [(x * length, y * half) for x, y in _OUTLINES.get(animal_class, _OUTLINES["juvenile"])]
    first, *others = points
    back = [(x, -y) for x, y in reversed(points)][1:]
    parts = [f"M{_pair(first)}"]
    for side in (others, back):
        parts += [
            "C" + " ".join(_pair(point) for point in side[k : k + 3])
            for k in range(0, len(side), 3)
        ]
    ears = _EARS.get(animal_class, "").format(
        0.22 * length, 0.10 * length, 0.6 * half, 2.0 * half, 0.40 * length, 0.53 * length
    )
    marks = _MARKS.get(animal_class, "").format(0.4 * length, 0.2 * length)
    return Shape("".join(parts) + "Z", ears, marks)


def _pair(point: tuple[float, float]) -> str:
    return f"{point[0]:.3f} {point[1]:.3f}"
