"""Traps that many tests stand on; all of them invented."""

from __future__ import annotations

from typing import Any

SOLENOID_DROP: dict[str, Any] = {
    "width": "4 ft",
    "height": "3 ft",
    "gate": {"kind": "drop", "sheet": "14 gauge"},
    "latch": {
        "kind": "pin",
        "puller": "solenoid",
        "pull": "25 lbf",
        "lever": 4,
        "engaged": "1/8 in",
    },
}
"""An opening with a drop gate that a solenoid lets go through a lever."""


def solenoid_trap(**tables: Any) -> dict[str, Any]:
    """A table of one such opening and eight animals; ``tables`` replace or add whole tables."""
    return {
        "title": "Invented: a trap that nobody has built",
        "sounder": {"sows": 2, "juveniles": 4, "piglets": 2},
        "opening": [SOLENOID_DROP],
        **tables,
    }


LINE_TRAP = """
title = "Invented: a made-up corral"

[sounder]
sows = 2
juveniles = 4
piglets = 4

[[opening]]
width = "4 ft"
height = "3 ft"
gate = {kind = "drop", sheet = "14 gauge"}
latch = {kind = "pin", puller = "animal"}

[trigger]
kind = "line"
height = "20 in"
distance = "22 ft"
"""
"""A drop gate that the animals themselves let go by a line beyond the bait."""


def plain_trap(title: str = '"Invented"', **sounder: int) -> str:
    """A text of only what a scenario must say: a drop gate and a line. ``title`` as TOML."""
    animals = sounder or {"sows": 2, "juveniles": 5, "piglets": 4}
    return "\n".join(
        [
            f"title = {title}",
            "[sounder]",
            *(f"{name} = {count}" for name, count in animals.items()),
            "[[opening]]",
            'width = "4 ft"',
            'height = "3 ft"',
            'gate = {kind = "drop"}',
            "[trigger]",
            'kind = "line"',
            "",
        ]
    )
