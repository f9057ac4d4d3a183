"""What was measured at the trap itself, and counts there in place of what is worked out. SI."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import model_validator

from soundergate.scenario.errors import Problem
from soundergate.scenario.fields import Number, Quantity, Spec, Whole
from soundergate.scenario.register import from_register
from soundergate.scenario.toml_table import Table

MOST_READINGS = 50


@dataclass(frozen=True)
class Readings(Spec):
    """One reading, or a list of them: "6 lbf", ["6 lbf", "7 lbf"]."""

    one: Quantity | Whole

    @property
    def dimension(self) -> str:
        """That of a reading; "" for a plain number."""
        return getattr(self.one, "dimension", "")

    def read(self, value: Any) -> tuple[float, ...]:
        given = value if isinstance(value, list | tuple) else [value]
        if not 1 <= len(given) <= MOST_READINGS:
            raise Problem(
                f"{len(given)} readings", hint=f"give one reading, or up to {MOST_READINGS}"
            )
        return tuple(self.one.read(item) for item in given)

    def write(self, value: tuple[float, ...]) -> list[Any]:
        return [self.one.write(item) for item in value]

    def json_type(self) -> dict[str, Any]:
        one = self.one.json_type()
        several = {"type": "array", "items": one, "minItems": 1, "maxItems": MOST_READINGS}
        return {"anyOf": [one, several]}


Forces = Annotated[
    tuple[float, ...] | None, Readings(Quantity("force", above="0 N", at_most="5000 lbf"))
]
Times = Annotated[
    tuple[float, ...] | None, Readings(Quantity("time", at_least="0.01 s", at_most="60 s"))
]
Weights = Annotated[
    tuple[float, ...] | None, Readings(Quantity("mass", at_least="1 oz", at_most="20000 lb"))
]
Voltages = Annotated[
    tuple[float, ...] | None, Readings(Quantity("voltage", at_least="0.1 V", at_most="1000 V"))
]
Frames = Annotated[tuple[int, ...] | None, Readings(Whole(at_least=1, at_most=100000))]


class Measured(Table):
    """Readings taken at the trap as it is built; they count in place of what is worked out."""

    pull: Forces = None
    closing: Times = None
    frames: Frames = None
    frame_rate: Annotated[float | None, Number(at_least=1, at_most=2000)] = None
    weight: Weights = None
    volts: Voltages = None
    reading_error: Annotated[float, Number(above=0, at_most=1, what="a share")] = from_register(
        "opening.measured.reading_error"
    )

    @model_validator(mode="after")
    def _one_way_to_time(self) -> Measured:
        if self.frames is not None and self.closing is not None:
            raise Problem(
                "the closing time stands there twice, in seconds and in frames",
                key="frames",
                hint="leave out closing or frames",
            )
        if (self.frames is None) != (self.frame_rate is None):
            missing = "frames" if self.frames is None else "frame_rate"
            raise Problem(
                "frames and frame_rate go together",
                key=missing,
                hint="frames is how many the video shows from the first movement to shut, "
                "frame_rate how many it takes a second, such as 30",
            )
        return self

    @property
    def times(self) -> tuple[float, ...] | None:
        """Closing times (s), in whichever way they were taken."""
        if self.frames is not None and self.frame_rate is not None:
            return tuple(count / self.frame_rate for count in self.frames)
        return self.closing

    def fit(self, latch: Any) -> None:
        """Raise Problem for readings that an opening with this ``latch`` (or None) cannot have."""
        if latch is None:
            for name in ("pull", "closing", "frames", "volts"):
                if getattr(self, name) is not None:
                    raise Problem(
                        "a one-way entrance has no latch that holds and lets go",
                        key=f"measured.{name}",
                        hint="leave it out",
                    )
        elif self.volts is not None and latch.puller != "solenoid":
            raise Problem(
                f"there is no coil: the latch is pulled by an {latch.puller}",
                key="measured.volts",
                hint="leave it out",
            )
