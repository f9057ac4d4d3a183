"""Numbers as people read them."""

import pytest

from soundergate.mechanics import words
from soundergate.mechanics.words import SI, US


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (0.0, "0 %"),
        (1.0, "100 %"),
        (0.0004, "under 0.1 %"),
        (0.99987, "over 99.9 %"),
        (0.5, "50 %"),
        (0.034, "3.4 %"),
        (0.952, "95.2 %"),
    ],
)
def test_percent(share: float, text: str) -> None:
    assert words.percent(share) == text


def test_both_systems() -> None:
    assert US.force(4.4482216152605) == "1 lbf"
    assert SI.force(719.3) == "719 N"
    assert US.length(1.2192) == "4 ft"
    assert SI.short(0.0127) == "12.7 mm"
    assert US.pressure(689475.7) == "100 psi"
    assert US.energy(1.3558179483) == "1 ft·lbf"
    assert US.force(float("inf")) == "beyond bound"
    assert words.force(719.3) == "719 N (161.7 lbf)"
