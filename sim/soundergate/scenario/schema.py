"""`Scenario`: a night as the user describes it, validated and in SI."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Annotated, Any

from pydantic import Field, PrivateAttr, model_validator
from pydantic.functional_validators import ModelWrapValidatorHandler

from soundergate.scenario import places
from soundergate.scenario.behaviour import (
    Arrival,
    Entering,
    Holding,
    Leaving,
    Movement,
    Startle,
    Strike,
    Visit,
)
from soundergate.scenario.errors import Problem
from soundergate.scenario.field_types import Opened
from soundergate.scenario.fields import Quantity, Text
from soundergate.scenario.gates.choice import GateField
from soundergate.scenario.given import FROM_DICT, table_of
from soundergate.scenario.latches.choice import LatchField, latch_class
from soundergate.scenario.measured import Measured
from soundergate.scenario.planning import AFTER_CLOSURE, Campaign, Costs, Population
from soundergate.scenario.register import all_defaults, default, from_register, settled_from
from soundergate.scenario.site import Bait, Corral
from soundergate.scenario.sounder import LARGEST_GROUP, Body, Sounder, Training
from soundergate.scenario.toml_table import Table
from soundergate.scenario.triggers.choice import TriggerField
from soundergate.scenario.triggers.line import LineTrigger
from soundergate.scenario.units import format_quantity

MOST_OPENINGS = 12


class Opening(Table):
    """A way in, with its gate and latch. A one-way entrance has no latch (None)."""

    width: Opened
    height: Opened
    gate: GateField
    latch: LatchField | None = None
    measured: Measured | None = None
    bearing: Annotated[float, Quantity("angle")] = settled_from("opening.bearing")

    @classmethod
    def elsewhere(cls, key: str) -> str | None:
        if key == "bait_distance":
            return (
                "how far the bait is follows from the plan: say corral.bait_distance, from the "
                "first opening, and the bearing of each further one"
            )
        return None

    @model_validator(mode="after")
    def _settled(self) -> Opening:
        if self.gate.one_way and self.latch is not None:
            raise Problem(
                f"a {self.gate.kind} needs no latch: animals push it open",
                key="latch",
                hint="leave latch out",
            )
        if not self.gate.one_way and self.latch is None:
            self.settle(latch=latch_class({}).model_validate({}))
        self.gate.fit(self.height)
        if self.measured is not None:
            self.measured.fit(self.latch)
            if self.measured.weight is not None and self.gate.mass is not None:
                raise Problem(
                    "the weight of the gate stands there twice, stated and measured",
                    key="measured.weight",
                    hint="leave out gate.mass, or this",
                )
        return self


class Scenario(Table):
    """One setup and one night, every value given or defaulted, SI.

    `raw` is the file's content as written and `source` its name.
    """

    title: Annotated[str, Text()] = from_register("title")
    sounder: Sounder
    other: tuple[Sounder, ...] = ()  # further sounders that come the same night, in their own time
    body: Body = all_defaults()
    corral: Corral = all_defaults()
    bait: Bait = all_defaults()
    opening: tuple[Opening, ...] = Field(
        json_schema_extra={"minItems": 1, "maxItems": MOST_OPENINGS}
    )
    trigger: TriggerField
    training: Training = all_defaults()
    arrival: Arrival = all_defaults()
    entry: Entering = all_defaults()
    leaving: Leaving = all_defaults()
    movement: Movement = all_defaults()
    visit: Visit = all_defaults()
    startle: Startle = all_defaults()
    strike: Strike = all_defaults()
    holding: Holding = all_defaults()
    campaign: Campaign = all_defaults()
    costs: Costs | None = None
    population: Population = all_defaults()

    _raw: dict[str, Any] | Callable[[], dict[str, Any]] = PrivateAttr(default_factory=dict)
    _source: str = PrivateAttr(default="")

    @classmethod
    def elsewhere(cls, key: str) -> str | None:
        for name, field in cls.model_fields.items():
            table = field.annotation
            if isinstance(table, type) and issubclass(table, Table) and key in table.model_fields:
                return f"{key} belongs in [{name}]"
        return f"{key} belongs in [[opening]]" if key in Opening.model_fields else None

    @property
    def animals(self) -> int:
        """Animals of all sounders, each at its largest."""
        return self.sounder.size + sum(sounder.size for sounder in self.other)

    @property
    def raw(self) -> dict[str, Any]:
        """The scenario as written, before defaults."""
        if callable(self._raw):
            self._raw = self._raw()
        return self._raw

    def came_from(self, raw: dict[str, Any] | Callable[[], dict[str, Any]], source: str) -> None:
        """Keep what was read and where. Of many scenarios nobody asks for ``raw``: then it may be
        a function that makes it. Only for use while loading."""
        self._raw, self._source = raw, source

    @property
    def source(self) -> str:
        """Name of the file or text it came from."""
        return self._source

    def resolved(self) -> dict[str, Any]:
        """Every value after defaults, as a scenario file in SI units would say it (JSON-able).

        Loading the result gives the same scenario to the last bit.
        """
        said = self.model_dump(mode="json", exclude_none=True)
        for part in said["trigger"].get(self.trigger.combine, []):
            del part["false_release"]  # that of the whole trigger counts
        return said

    def __eq__(self, other: object) -> bool:
        # Two scenarios are the same night however they were written down.
        return isinstance(other, Scenario) and self.__dict__ == other.__dict__

    __hash__ = Table.__hash__

    @model_validator(mode="wrap")
    @classmethod
    def _keeps_what_was_written(
        cls, given: Any, validate: ModelWrapValidatorHandler[Scenario]
    ) -> Scenario:
        """So that one made by `model_validate` can be changed and played as one that was loaded."""
        raw = table_of(given, FROM_DICT) if isinstance(given, Mapping) else None
        scenario = validate(given if raw is None else raw)
        if raw is not None:
            scenario._raw, scenario._source = raw, FROM_DICT
        return scenario

    @model_validator(mode="after")
    def _settled(self) -> Scenario:
        if self.animals > LARGEST_GROUP:
            raise Problem(
                f"the sounders have {self.animals} animals together",
                key=".other",
                hint=f"at most {LARGEST_GROUP} can be played",
            )
        self._settle_corral()
        self._settle_openings()
        places.check_openings(self)
        places.check_bait(self)
        for patch, place in zip(self.bait.patch, places.patches(self), strict=False):
            patch.settle(radius=place.radius)
        for part in self.trigger.parts:
            self._settle_trigger(part)
        self._check_pullers()
        self._check_told()
        return self

    def _settle_corral(self) -> None:
        if self.corral.bait_distance is not None and self.bait.patch:
            raise Problem(
                "the bait has its place from bait.patch",
                key=".corral.bait_distance",
                hint="leave out one of the two",
            )
        if self.corral.bait_distance is None and not self.bait.patch:
            share = default("corral.bait_distance")
            self.corral.settle(bait_distance=share * self.corral.diameter)

    def _settle_openings(self) -> None:
        count = len(self.opening)
        if not 1 <= count <= MOST_OPENINGS:
            raise Problem(
                f"{count} openings",
                key=".opening",
                value=count,
                hint=f"give one [[opening]] or up to {MOST_OPENINGS}",
            )
        for number, opening in enumerate(self.opening, 1):
            if opening.width >= self.corral.perimeter / 2.0:
                half = format_quantity(self.corral.perimeter / 2.0, "ft")
                raise Problem(
                    "as wide as half the corral's perimeter or wider",
                    key=f".opening.{number}.width",
                    hint=f"it must be below {half}",
                )
            if opening.bearing is None:
                turn = default("opening.bearing") * 2.0 * math.pi
                opening.settle(bearing=turn * (number - 1) / count)

        if sum(opening.width for opening in self.opening) >= self.corral.perimeter:
            raise Problem(
                "together the openings are as wide as the whole fence or wider",
                key=".opening",
                hint=f"the fence is {format_quantity(self.corral.perimeter, 'ft')} long",
            )

    def _settle_trigger(self, part: Any) -> None:
        try:
            patch = self.bait.patch
            bait = patch[0].distance if patch else self.corral.bait_distance
            part.fit(self.corral, bait, self.animals)
            if isinstance(part, LineTrigger):
                places.check_line(part, self)
        except Problem as problem:
            raise Problem(
                problem.text, key=self._key_of(part, problem.key), hint=problem.hint
            ) from None

    def _key_of(self, part: Any, name: str) -> str:
        parts = self.trigger.parts
        if parts == (self.trigger,):
            return f".trigger.{name}"
        number = next(i for i, other in enumerate(parts, 1) if other is part)
        return f".trigger.{self.trigger.combine}.{number}.{name}"

    def _check_pullers(self) -> None:
        """What works a switch cannot free a latch that an animal has to pull.

        Not among several triggers either: under `any` the switch may act alone, and under `all`
        the one that acts last pulls.
        """
        trigger = self.trigger
        parts: tuple[Any, ...] = trigger.parts
        if not any(part.releases for part in parts):
            return
        lacking = [(number, part) for number, part in enumerate(parts, 1) if not part.pulls]
        pulled = len(lacking) < len(parts)
        for number, opening in enumerate(self.opening, 1):
            if not (lacking and opening.latch is not None and opening.latch.by_animal):
                continue
            problem = 'nothing would pull this latch: puller "animal" needs a line or bait trigger'
            hint = 'take puller "solenoid" or "air cylinder"'
            if pulled:
                place, part = lacking[0]
                problem = (
                    f"nothing would pull this latch when trigger.{trigger.combine}.{place}, "
                    f"a {part.kind}, acts: it works a switch"
                )
                hint += f", or leave only lines and bait triggers in trigger.{trigger.combine}"
            raise Problem(
                problem,
                key=f".opening.{number}.latch.puller",
                value="animal",
                hint=hint,
            )

    def _check_told(self) -> None:
        """Nobody can go to a trap after closures who does not hear of them."""
        parts: tuple[Any, ...] = self.trigger.parts
        linked = any(part.tells for part in parts)
        if self.campaign.checks == AFTER_CLOSURE and not (linked or self.campaign.alarm):
            raise Problem(
                "nothing tells that a gate has shut",
                key=".campaign.checks",
                value=AFTER_CLOSURE,
                hint='take checks "daily", a trigger of kind "person", whose link tells, or an '
                "alarm: campaign.alarm = true, with its prices costs.alarm and costs.alarm_plan",
            )
