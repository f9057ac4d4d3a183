"""The channels of a drop gate: how hard their lips can be pressed before they bend.

What presses the face of a gate (wind, an animal leaning or ramming) is carried by the lips of its
channels, one on each side. A lip of sheet is a long plate held along its bend; a force P on one
spot of its free edge gives the bend a moment of K P a length, whatever the lip's depth, with
K = 0.509 for Poisson's ratio 0.3 (Roark's Formulas for Stress and Strain, cantilever plate of
infinite length, from memory; recomputed from the plate equation in the outside checks). With
the stress of a plate, 6 K P / t^2, the lip begins to bend for good at P = s t^2 / (6 K). Near the
end of a channel it bends sooner: there one side of the plate is missing. The racking forces of
a falling gate press on the web of the channel, which its post backs.
"""

from __future__ import annotations

from typing import Any

from soundergate.mechanics.materials import SHEET_LB_PER_FT2, known, sheet_thickness

EDGE_MOMENT = 0.509
"""Moment a length at the bend, as a share of a force on the free edge."""

YIELD = 250e6
"""Pa: yield stress of common structural steel (from memory)."""


def lip_force(thickness: float, stress: float = YIELD) -> float:
    """Force (N) on one spot at which a lip of sheet ``thickness`` (m) begins to bend for good."""
    return stress * thickness**2 / (6.0 * EDGE_MOMENT)


def thickness_of(gate: Any) -> float:
    """Thickness (m) of the channels of a scenario's drop gate.

    Raises
    ------
    Problem : a gauge that is not known.
    """
    return known(gate, "channel_sheet", sheet_thickness, "length")


def gauge_for(force: float) -> int | None:
    """The thinnest gauge whose lips bear ``force`` (N) on one spot; None when none does."""
    strong = [g for g in SHEET_LB_PER_FT2 if lip_force(sheet_thickness(f"{g} gauge")) >= force]
    return max(strong, default=None)
