"""What nobody knows of a scenario, as inputs that can be moved over their plausible ranges."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from soundergate.scenario.register import DECISION, Entry
from soundergate.scenario.units import from_si
from soundergate.studies.errors import StudyError

if TYPE_CHECKING:
    from soundergate.scenario.schema import Scenario

NO_NIGHT = ("campaign", "costs", "population")
"""Tables that change no night."""


@dataclass(frozen=True)
class Input:
    """One unknown (or decision) and every place of the scenario that holds it.

    Openings that leave the same key to the default share one input: what is not known of one
    gate's friction is not known of the other's.
    """

    id: str
    paths: tuple[str, ...]
    entry: Entry = field(compare=False)

    @property
    def range_unit(self) -> str:
        """Unit of the ends of its range, "times corral.diameter" for a share of another value."""
        return f"times {self.entry.of}" if self.entry.of else self.entry.unit

    def at(self, share: float) -> Any:
        """The value below which a ``share`` of the plausible ones lies; of a decision, so far along
        its range.

        In the entry's unit; a list moves as one. With shares spread evenly over (0, 1) the values
        have the distribution that the register states. Raises ValueError outside 0 to 1.
        """
        return self.entry.quantile(share)


def inputs_of(
    scenario: Scenario, only: Iterable[str] | None = None, campaign: bool = False
) -> list[Input]:
    """What nobody knows of a night of this scenario, or of a ``campaign``, in schema order.

    A value stated in the file is known, but for one stated about. A mass of animals of which the
    sounder has none is left out. ``only`` keeps some: ids of the register, or the beginning of ids
    up to a dot ("entry", "trigger.person"). Raises StudyError for one that matches nothing here.
    """
    from soundergate.scenario.assumptions import unknowns_of

    own = [(path, one) for path, one in unknowns_of(scenario) if not _of_nobody(scenario, one.id)]
    return kept(_inputs(own, campaign), only)


def decisions_of(scenario: Scenario) -> list[Input]:
    """What one builds or does and could do otherwise, stated or not, in schema order.

    What one only sees and can say (how many pigs, what wind) is none of it. The width of openings,
    which has no default, is tried from 0.7 to 1.5 times what it is, and a line on both sides of the
    bait.
    """
    from soundergate.scenario.assumptions import decided

    return _inputs(
        [
            *((f"opening.{n}.width", _WIDTH) for n in range(1, len(scenario.opening) + 1)),
            *(
                (path, _across_the_bait(scenario, one) if one.beyond else one)
                for path, one in decided(scenario)
                if not one.id.startswith(_SEEN)
            ),
        ]
    )


def _across_the_bait(scenario: Scenario, entry: Entry) -> Entry:
    """Where a line is worth trying: half way to the bait, and half way from there to the fence.

    The register's own range, of the way beyond the bait, would leave a line that hangs in front of
    it on that side.
    """
    bait, far = scenario.corral.bait_distance, scenario.corral.diameter
    low, high = (round(from_si(one, _FEET), 2) for one in (bait / 2.0, (bait + far) / 2.0))
    return replace(entry, value=high, unit=_FEET, low=low, high=high, of="", beyond="")


_FEET = "ft"


_SEEN = ("sounder.", "opening.gate.wind")
"""Circumstances: what the register calls a decision because one knows it, and nobody decides."""

_WIDTH = Entry(
    "opening.width", 1.0, "", 0.7, 1.5, DECISION, "assumption", "",
    "clear width of every opening, beside what it is", of="what it is",
)  # fmt: skip


def _inputs(used: Iterable[tuple[str, Entry]], campaign: bool = False) -> list[Input]:
    left_out = [table for table in NO_NIGHT if not (campaign and table == "campaign")]
    places: dict[tuple[str, Any], tuple[Entry, list[str]]] = {}
    for path, entry in used:
        if path.split(".")[0] not in left_out:
            key = entry.id, repr(entry.value)  # stated about in one opening, left in another
            places.setdefault(key, (entry, []))[1].append(path)
    return [Input(entry.id, tuple(paths), entry) for entry, paths in places.values()]


def _of_nobody(scenario: Scenario, name: str) -> bool:
    """Whether a mass is that of a class of which this sounder has none."""
    if not name.startswith("sounder.mass."):
        return False
    return getattr(scenario.sounder, name.split(".")[2] + "s") == 0


def kept(found: list[Input], only: Iterable[str] | None) -> list[Input]:
    """Those of some ids, or beginnings of ids; all for None. Raises StudyError for no such one."""
    if only is None:
        return found
    names = [only] if isinstance(only, str) else list(only)
    for name in names:
        if not any(matches(one.id, name) for one in found):
            raise StudyError(
                "there is no such thing to move in this scenario",
                key=name,
                hint=f"its tables are {', '.join(sorted({one.id.split('.')[0] for one in found}))}",
            )
    return [one for one in found if any(matches(one.id, name) for name in names)]


def matches(known: str, name: str) -> bool:
    """Whether an id of the register is ``name`` or begins with it, up to a dot."""
    return known == name or known.startswith(f"{name}.")


def moved(scenario: Scenario, shares: Mapping[Input, float]) -> Scenario:
    """The scenario with some inputs at shares of their plausible distributions (`Input.at`).

    Values that are relative to others (a bait distance to the corral's diameter) follow those
    others first. Raises ScenarioError when such a trap cannot be built.
    """
    return Moving(scenario, shares).at(list(shares.values()))


class Moving:
    """A scenario of which the same inputs are moved again and again: ``at`` is `moved`.

    What does not depend on where they are moved to is worked out once.
    """

    def __init__(self, scenario: Scenario, inputs: Iterable[Input]) -> None:
        from soundergate.scenario.moving import Mould, Slot

        self.scenario, self.inputs = scenario, tuple(inputs)
        self._slots: list[tuple[Slot, int, str]] = []
        """A slot, and the input and the path that its value is of."""
        self._relative = [(i, one) for i, one in enumerate(self.inputs) if _follows(one.entry)]
        values: dict[str, Any] = {}
        for number, one in enumerate(self.inputs):
            if _follows(one.entry):
                continue
            for path in one.paths:
                slot = Slot()
                self._slots.append((slot, number, path))
                values[path] = _with_slot(scenario, path, one.entry, slot)
        # A quantity before the parameters of its scatter, which would else be lost with it.
        ordered = dict(sorted(values.items(), key=lambda item: item[0].count(".")))
        self._mould = Mould(scenario, ordered)

    def at(self, shares: Sequence[float]) -> Scenario:
        """The scenario with each input at its share, float[inputs]. Raises ScenarioError."""
        from soundergate.scenario.assumptions import plain_at, value_at
        from soundergate.scenario.loading import with_values

        values = [one.at(share) for one, share in zip(self.inputs, shares, strict=True)]
        filling = {
            slot: plain_at(self.scenario, path, self.inputs[i].entry, values[i])
            for slot, i, path in self._slots
        }
        changed = self._mould.filled(filling) if filling else self.scenario
        for i, one in self._relative:
            there = {path: value_at(changed, path, one.entry, values[i]) for path in one.paths}
            changed = with_values(changed, there)
        return changed


def _follows(entry: Entry) -> bool:
    """Whether a value is worked out from others of the scenario, once they have been moved."""
    return bool(entry.of) and not entry.dist


def _with_slot(scenario: Scenario, path: str, entry: Entry, slot: Any) -> Any:
    """What `value_at` gives, with a slot for what depends on the value."""
    from soundergate.scenario.assumptions import value_at
    from soundergate.scenario.register import form_of

    if not entry.dist:
        return slot
    return value_at(scenario, path, entry, entry.value) | {form_of(entry.id).key: slot}
