"""The sounder, its bodies and its training. SI throughout."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import model_validator

from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.errors import Problem
from soundergate.scenario.field_types import Size
from soundergate.scenario.fields import Choice, Number, Quantity, Whole
from soundergate.scenario.register import all_defaults, from_register
from soundergate.scenario.spread_fields import SpreadField
from soundergate.scenario.toml_table import Table

CLASSES = ("sow", "boar", "juvenile", "piglet")
LARGEST_GROUP = 200
PRESETS = {
    "single boar": {"boars": 1},
    "small family": {"sows": 1, "juveniles": 1, "piglets": 4},
    "large sounder": {"sows": 4, "juveniles": 6, "piglets": 12},
}
"""Make-ups by a name, for want of a count; round figures, invented."""
Heads = Annotated[int, Whole(at_least=0)]
BodyMass = Annotated[LogNormal, SpreadField("mass", zero=False, at_most="500 kg")]


class Masses(Table):
    """Body mass of each class, log-normal."""

    sow: BodyMass = from_register("sounder.mass.sow")
    boar: BodyMass = from_register("sounder.mass.boar")
    juvenile: BodyMass = from_register("sounder.mass.juvenile")
    piglet: BodyMass = from_register("sounder.mass.piglet")


class VaryingSize(Table):
    """A sounder whose size differs from night to night: negative binomial, cut off to a range."""

    mean: Annotated[float, Number(above=0, at_most=LARGEST_GROUP)] = from_register(
        "sounder.varies.mean"
    )
    dispersion: Annotated[float, Number(at_least=0.01, at_most=1e6)] = from_register(
        "sounder.varies.dispersion"
    )
    low: Annotated[int, Whole(at_least=1, at_most=LARGEST_GROUP)] = from_register(
        "sounder.varies.low"
    )
    high: Annotated[int, Whole(at_least=1, at_most=LARGEST_GROUP)] = from_register(
        "sounder.varies.high"
    )

    @model_validator(mode="after")
    def _in_order(self) -> VaryingSize:
        if not self.low <= self.mean <= self.high:
            raise Problem("mean is not between low and high", key="mean", value=self.mean)
        return self


class Sounder(Table):
    """Who comes: heads by class, or a preset, of which any class may be stated otherwise."""

    preset: Annotated[str, Choice(tuple(PRESETS))] | None = None
    sows: Heads = from_register("sounder.sows")
    boars: Heads = from_register("sounder.boars")
    juveniles: Heads = from_register("sounder.juveniles")
    piglets: Heads = from_register("sounder.piglets")
    subgroups: Annotated[int, Whole(at_least=1, at_most=LARGEST_GROUP)] = from_register(
        "sounder.subgroups"
    )
    mass: Masses = all_defaults()
    varies: VaryingSize | None = None

    @model_validator(mode="before")
    @classmethod
    def _of_the_preset(cls, data: Any) -> Any:
        if isinstance(data, dict) and isinstance(data.get("preset"), str):
            return PRESETS.get(data["preset"], {}) | data
        return data

    @property
    def stated(self) -> int:
        """Heads as stated."""
        return self.sows + self.boars + self.juveniles + self.piglets

    @property
    def size(self) -> int:
        """Animals in the group, at its largest."""
        return self.stated if self.varies is None else self.varies.high

    @model_validator(mode="after")
    def _somebody(self) -> Sounder:
        if self.stated < 1:
            raise Problem(
                "the group is empty", hint="give sows, boars, juveniles or piglets, or a preset"
            )
        if self.size > LARGEST_GROUP:
            raise Problem(
                f"the group has {self.size} animals",
                key="",
                hint=f"at most {LARGEST_GROUP} can be played",
            )
        if self.subgroups > self.size:
            raise Problem(f"more subgroups than the {self.size} animals", key="subgroups")
        return self


class Body(Table):
    """How size and strength follow from body mass W: dimension = coefficient (W / kg)^exponent."""

    width_coefficient: Size = from_register("body.width_coefficient")
    height_coefficient: Size = from_register("body.height_coefficient")
    length_coefficient: Size = from_register("body.length_coefficient")
    exponent: Annotated[float, Number(at_least=0, at_most=1)] = from_register("body.exponent")
    shoulder_scatter: Annotated[float, Number(at_least=0, at_most=1)] = from_register(
        "body.shoulder_scatter"
    )
    duck: Annotated[float, Number(above=0, at_most=1, what="a share")] = from_register("body.duck")
    strength: Annotated[LogNormal, SpreadField(None, at_most=20.0)] = from_register("body.strength")


class Training(Table):
    """Pre-baiting before the trap is set."""

    nights: Annotated[int, Whole(at_least=0, at_most=365)] = from_register("training.nights")
    # Size of a one-way entrance by night of pre-baiting, widest first; empty = as built.
    schedule: tuple[Annotated[float, Quantity("length", above="0 m")], ...] = ()
