"""One-way entrances: pushed in, returning, never locked."""

import pytest

from soundergate.mechanics import setup
from soundergate.scenario.loading import from_table


def test_from_a_scenario() -> None:
    entrance = {"sounder": {"sows": 1}, "trigger": {"kind": "none"}}

    def one(**gate: object) -> setup.OpeningSetup:
        opening = {"width": "4 ft", "height": "3 ft", "gate": gate}
        return setup.solve(from_table({**entrance, "opening": [opening]})).openings[0]

    top = one(kind="push panel", mass="5 kg")
    side = one(kind="push panel", hinge="side", leaves=1)
    curled = one(kind="curled panel", hand="right")
    net = one(kind="net skirt", skirt="3 ft")
    for opening in (top, side, curled, net):
        assert opening.passable
        assert opening.curve.shuts
        assert opening.latch_kind == "none"
        assert opening.gate.push_force > 0.0
        assert not opening.locked
    # 0.5 kg/m^2 of net, the skirt of 3 ft doubling its length.
    assert net.mass == pytest.approx(0.5 * (4 * 0.3048) * (6 * 0.3048))
    assert side.gate.sketch["leaves"] == 1
