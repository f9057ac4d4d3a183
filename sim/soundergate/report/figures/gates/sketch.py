"""A gate drawn to scale: panel, channels or hinge, latch, and the forces in it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from soundergate.kinds import module_of
from soundergate.scenario.unit_system import SI, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.mechanics.opening import OpeningSetup


def draw_sketch(opening: OpeningSetup, ax: Axes, units: Units = SI) -> None:
    """Draw the opening of an OpeningSetup on `ax`, one metre of steel being one of the axes.

    Forces are arrows of fixed length with their size beside them; they are not to scale.
    """
    sketch: Mapping[str, Any] = {
        "width": opening.width,
        "height": opening.height,
        **opening.gate.sketch,
    }
    ax.set_aspect("equal")
    ax.axis("off")
    module_of("soundergate.report.figures.gates", opening.gate_kind).draw(
        ax, opening, sketch, units
    )
    ax.autoscale_view()
    ax.margins(0.08)
