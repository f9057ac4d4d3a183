"""From a scenario to its solved mechanics: gate, latch, lever and puller of every opening.

Kinds are found by name in `GATES`, `LATCHES` and `PULLERS`; the module named there is imported
when a scenario first needs it, and offers one function ``solve``:

    gate    solve(gate, opening, site) -> GateSolution
    latch   solve(latch, opening, site, gate: GateSolution) -> LatchSolution     (before the lever)
    puller  solve(latch, opening, site, need: LatchSolution) -> PullerSolution   (after the lever)

``gate``, ``latch`` and ``opening`` are the scenario's own tables (SI); a puller's keys stand in the
latch table. ``need`` is the latch seen from the puller's end of the lever.
"""

from __future__ import annotations

GATES = {
    "drop": "drop_gate",
    "top-hinged": "top_hinged",
    "side-hinged": "side_hinged",
    "push panel": "one_way",
    "curled panel": "one_way",
    "net skirt": "one_way",
}
LATCHES = {"pin": "pin", "knee": "knee", "finger": "finger", "rotary": "rotary"}
PULLERS = {"solenoid": "pullers", "air cylinder": "air_cylinder", "animal": "pullers"}
