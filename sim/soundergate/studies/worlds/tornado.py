"""What an answer leans on: how far each unknown moves it, one at a time.

`Tornado` is of one setup, `DifferenceTornado` of the difference between two: one that turns round
within the range of a default is not settled by any number of nights at the defaults. How they are
played stands in `one_at_a_time`. One at a time shows no interplay: that is for
`global_sensitivity`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from soundergate.studies.estimates.intervals import finite
from soundergate.studies.estimates.measures import measure as measure_of
from soundergate.studies.estimates.paired import Difference
from soundergate.studies.estimates.tally import Estimate
from soundergate.studies.worlds.inputs import Input

if TYPE_CHECKING:
    import pandas as pd

LOW, HIGH = "low", "high"
"""The two ends of a default's range."""


@dataclass(frozen=True)
class Swing:
    """How far one default moves the measure, on common nights.

    ``low`` and ``high`` are the measure with the default at that end less the measure as it is;
    ``swing`` is high less low. None where the trap cannot be built there, and ``why`` says so.
    """

    input: Input
    low: Difference | None
    high: Difference | None
    swing: Difference | None
    why: str = ""

    @property
    def id(self) -> str:
        """Of the register."""
        return self.input.id

    @property
    def reach(self) -> float:
        """The largest of the three differences, without its sign; 0 if none could be played."""
        found = [d.estimate for d in (self.low, self.high, self.swing) if d is not None]
        return max((abs(value) for value in found), default=0.0)

    @property
    def settled(self) -> bool:
        """Whether any of the differences is shown not to be zero."""
        return any(d.settled for d in (self.low, self.high, self.swing) if d is not None)

    def row(self) -> dict[str, Any]:
        """One row of the table."""
        entry = self.input.entry
        row: dict[str, Any] = {"id": self.id, "value": entry.value, "low": entry.low}
        row |= {"high": entry.high, "unit": self.input.range_unit}
        row["origin"] = entry.origin
        for name in ("low", "high", "swing"):
            found: Difference | None = getattr(self, name)
            for part in ("estimate", "low", "high"):
                column = name if name == "swing" else f"at_{name}"
                column += "" if part == "estimate" else f"_{part}"
                row[column] = float("nan") if found is None else getattr(found, part)
        return row | {"why": self.why}


@dataclass(frozen=True)
class Tornado:
    """The defaults that move a measure most, the largest reach first.

    ``base`` is the measure as it is, over the same ``nights`` as the swings (nights ``screened``
    to ``screened + nights - 1`` of the seed); the screening took ``screened`` nights before them.
    ``considered`` defaults were screened, of which ``inert`` change nothing that a night reads.
    The intervals of the swings shown hold together at ``level`` (Bonferroni).
    """

    measure: str
    base: Estimate
    swings: list[Swing]
    nights: int
    screened: int
    considered: int
    inert: int
    seed: int
    level: float
    unbuilt: dict[str, str] = field(default_factory=dict)

    def matters(self, count: int = 5) -> list[str]:
        """Register ids of the defaults that move the answer most, only those shown to move it."""
        return [one.id for one in self.swings if one.settled][:count]

    @property
    def table(self) -> pd.DataFrame:
        """One row a default: its value and range, the measure's change at each end, the swing."""
        import pandas as pd

        return pd.DataFrame([one.row() for one in self.swings]).set_index("id")

    def sentence(self) -> str:
        """How the numbers were made, in a sentence."""
        return self._made("", f"the {measure_of(self.measure).words}")

    def _made(self, where: str, what: str) -> str:
        """The same for defaults that are moved somewhere, and what they then move."""
        return (
            f"Each of {self.considered} unknowns was moved to both ends of its range"
            f"{where}, one at a time, on {self.screened:,} nights. The {len(self.swings)} that "
            f"moved {what} most were then tried on {self.nights:,} other nights, which are "
            f"shown ({100 * self.level:.4g} % confidence, all together)."
        )

    def plot(self, ax: Any = None) -> Any:
        """Draw the swings as bars about the answer as it is; returns the axes."""
        from soundergate.report.figures.tornado import tornado as draw

        return draw(self, ax)

    def _repr_html_(self) -> str:
        return str(self.table.to_html())

    def to_json(self) -> dict[str, Any]:
        """A dict ready for JSON."""
        swings = [{name: finite(value) for name, value in one.row().items()} for one in self.swings]
        return {
            "measure": self.measure,
            "base": self.base.to_json(),
            "swings": swings,
            "nights": self.nights,
            "screened": self.screened,
            "considered": self.considered,
            "inert": self.inert,
            "seed": self.seed,
            "level": self.level,
            "unbuilt": self.unbuilt,
        }


@dataclass(frozen=True)
class DifferenceTornado(Tornado):
    """The defaults that move a difference, ``a`` minus ``b``, most; the largest reach first.

    ``base`` is the difference as it is. The swings say how far it moves; ``ends`` holds by id what
    it then is, at the low and at the high end, None where a trap cannot be built. Those intervals
    hold together at ``level`` as well.
    """

    base: Difference  # type: ignore[assignment]
    a: str = ""
    b: str = ""
    ends: dict[str, tuple[Difference | None, Difference | None]] = field(default_factory=dict)

    def turning(self) -> dict[str, str]:
        """Ids at an end of which the difference is shown to be the other way round -> which end."""
        return self._ends_where(lambda d: d.settled and d.estimate * self.base.estimate < 0)

    def vanishing(self) -> dict[str, str]:
        """Ids at an end of which the same nights no longer show a difference -> which end."""
        return self._ends_where(lambda d: not d.settled)

    def _ends_where(self, holds: Callable[[Difference], bool]) -> dict[str, str]:
        found: dict[str, str] = {}
        for name, ends in self.ends.items():
            named = zip((LOW, HIGH), ends, strict=True)
            there = [end for end, at in named if at is not None and holds(at)]
            if there and self.base.settled:
                found[name] = " and ".join(there)
        return found

    def verdict(self) -> str:
        """Whether the difference turns round, or goes, at the end of any range that was tried."""
        between = f"between “{self.a}” and “{self.b}”"
        if not self.base.settled:
            return (
                f"The {self.nights:,} nights on which this was tried show no difference {between}, "
                "so that nothing can be said to turn it round."
            )
        turned, gone = self.turning(), self.vanishing()
        if turned:
            text = f"The difference {between} turns round with {_few_named(turned)}"
        else:
            text = (
                f"No single default, at either end of its range, is shown to turn the difference "
                f"{between} round"
            )
        return f"{text}; it is no longer shown with {_few_named(gone)}." if gone else f"{text}."

    def sentence(self) -> str:
        """How the numbers were made, in a sentence."""
        words = measure_of(self.measure).words
        return self._made(" in both setups", f"the difference in {words}")

    def to_json(self) -> dict[str, Any]:
        """A dict ready for JSON."""
        ends = {
            name: [None if there is None else there.to_json() for there in both]
            for name, both in self.ends.items()
        }
        found = {"turning": self.turning(), "vanishing": self.vanishing()}
        return super().to_json() | {"a": self.a, "b": self.b, "ends": ends} | found


_MOST_NAMED = 3
"""Defaults that a sentence names, those of the largest reach; more would hide the answer."""


def _few_named(ends: Mapping[str, str]) -> str:
    named = [
        f"{name} at {'either' if ' and ' in end else f'the {end}'} end"
        for name, end in ends.items()
    ]
    more = len(named) - _MOST_NAMED
    text = ", ".join(named[:_MOST_NAMED])
    return f"{text} and with {more} other{'s' if more > 1 else ''}" if more > 0 else text
