"""What releases the gate: one trigger, or the first or all of several. SI throughout.

Distances are measured from the opening towards the bait and beyond. What each key does in a
night is told in `soundergate.triggers`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal

from pydantic import model_validator

from soundergate.scenario.distributions import Duration, Spread
from soundergate.scenario.errors import Problem
from soundergate.scenario.fields import Flag, Number, Quantity, Whole
from soundergate.scenario.gates import AddedMass, Angle, Force, Length, Share, Size
from soundergate.scenario.register import default, from_register, settled_from
from soundergate.scenario.spread_fields import DurationField, SpreadField
from soundergate.scenario.table import Table
from soundergate.scenario.variants import chosen, one_of, owner_of

Time = Annotated[float, Quantity("time", at_least="0 s")]
Count = Annotated[int, Whole(at_least=1)]
Delay = Annotated[Duration, DurationField()]
Clock = Annotated[Duration, DurationField(never=True)]


class AnyTrigger(Table):
    """What every trigger has: releases that no pig causes (wind, deer, raccoons)."""

    false_release: Annotated[float, Quantity("rate", at_least="0 1/s")] = from_register(
        "trigger.false_release"
    )

    combine: ClassVar[str] = "one"  # "one", "any" (first of) or "all"

    @property
    def parts(self) -> tuple[AnyTrigger, ...]:
        """The single triggers, in the order written; itself when it is single."""
        return (self,)


class SingleTrigger(AnyTrigger):
    """One trigger of one kind."""

    kind: str

    @classmethod
    def elsewhere(cls, key: str) -> str | None:
        return owner_of(key, {"kind": {**_PLAIN, "person": PersonTrigger}}, "trigger")


class LineTrigger(SingleTrigger):
    """Body contact with a trip line."""

    kind: Literal["line"]
    height: Size = from_register("trigger.line.height")  # at its ends; the middle sags
    distance: Size = settled_from("trigger.line.distance")
    span: Size = settled_from("trigger.line.span")
    weight: Annotated[float, Quantity("mass per length", at_least="0 kg/m")] = from_register(
        "trigger.line.weight"
    )
    tension: Annotated[float, Quantity("force", above="0 N")] = from_register(
        "trigger.line.tension"
    )
    slack: Length = from_register("trigger.line.slack")  # taken up before the line pulls
    stiffness: Annotated[float, Quantity("force per length", above="0 N/m")] = from_register(
        "trigger.line.stiffness"
    )  # pull per unit of stretch of the whole line
    bends: Annotated[int, Whole(at_least=0, at_most=50)] = from_register("trigger.line.bends")
    bend_angle: Angle = from_register("trigger.line.bend_angle")  # turned at each eye or bend
    friction: Annotated[Spread, SpreadField(None, at_most=2.0)] = from_register(
        "trigger.line.friction"
    )
    break_force: Annotated[float, Quantity("force", above="0 N")] = from_register(
        "trigger.line.break_force"
    )
    switch_force: Force = from_register("trigger.line.switch_force")  # when it only closes a switch
    switch_travel: Length = from_register("trigger.line.switch_travel")


class BaitTrigger(SingleTrigger):
    """A container of bait on a stand, pushed off by feeding animals."""

    kind: Literal["bait"]
    container: AddedMass = from_register("trigger.bait.container")  # empty
    friction: Annotated[Spread, SpreadField(None, at_most=2.0)] = from_register(
        "trigger.bait.friction"
    )
    rate: Clock = from_register("trigger.bait.rate")  # until one feeding animal disturbs it


class CounterTrigger(SingleTrigger):
    """A beam or treadle at the opening that counts in and out."""

    kind: Literal["counter"]
    count: Count = settled_from("trigger.counter.count")
    miss: Share = from_register("trigger.counter.miss")
    double: Share = from_register("trigger.counter.double")
    dwell: Time | None = None  # releases this long after the first net entry, whatever the count


class RuleStep(Table):
    """From `after` the alert on, a release needs at least `count` animals counted inside.

    Or a `share` of the night's group, if that is fewer; with `wait` nothing releases.
    """

    after: Time
    count: Count | None = None
    share: Annotated[float | None, Number(above=0, at_most=1, what="a share")] = None
    wait: Annotated[bool | None, Flag()] = None

    @model_validator(mode="after")
    def _says_when(self) -> RuleStep:
        given = [name for name in ("count", "share") if getattr(self, name) is not None]
        if self.wait and given:
            raise Problem(f"give wait or {given[0]}, not both", key="wait")
        if not self.wait and not given:
            raise Problem(
                "does not say at what count to release",
                key="count",
                hint="wanted such as count = 8, or wait = true",
            )
        return self


class PersonTrigger(SingleTrigger):
    """A person who watches over a link and sends the command."""

    kind: Literal["person"]
    link: str
    count: Count | None = None
    share: Annotated[float | None, Number(above=0, at_most=1, what="a share")] = settled_from(
        "trigger.person.share"
    )
    patience: Time = from_register("trigger.person.patience")  # after which min_count will do
    min_count: Count = settled_from("trigger.person.min_count")
    clear_opening: Annotated[bool, Flag()] = from_register("trigger.person.clear_opening")
    rule: tuple[RuleStep, ...] = ()
    alert: Delay = from_register("trigger.person.alert")
    awake: Share = from_register("trigger.person.awake")
    frame_interval: Time = from_register("trigger.person.frame_interval")  # 0 = continuous
    view_delay: Time = from_register("trigger.person.view_delay")
    reaction: Delay = from_register("trigger.person.reaction")
    command_delay: Delay
    dropout: Share
    retry: Time = from_register("trigger.person.retry")
    undercount: Share = from_register("trigger.person.undercount")
    overcount: Share = from_register("trigger.person.overcount")
    refresh: Time = from_register("trigger.person.refresh")
    infrared_range: Size = from_register("trigger.person.infrared_range")

    @model_validator(mode="after")
    def _one_decision(self) -> PersonTrigger:
        given = [n for n in ("count", "share", "rule") if getattr(self, n)]
        if len(given) > 1:
            raise Problem(
                f"give one of count, share and rule, not {' and '.join(given)}", key=given[1]
            )
        if not given:
            self.settle(share=default("trigger.person.share"))
        times = [step.after for step in self.rule]
        if times != sorted(set(times)):
            raise Problem("the steps of a rule must come in order of time", key="rule")
        return self


class RadioPerson(PersonTrigger):
    """Over a short-range radio."""

    link: Literal["radio"]
    command_delay: Delay = from_register("trigger.person.radio.command_delay")
    dropout: Share = from_register("trigger.person.radio.dropout")


class ModemPerson(PersonTrigger):
    """Over a modem at the trap."""

    link: Literal["modem"] = from_register("trigger.person.link")
    command_delay: Delay = from_register("trigger.person.modem.command_delay")
    dropout: Share = from_register("trigger.person.modem.dropout")


class RelayPerson(PersonTrigger):
    """Over a relay behind another network device."""

    link: Literal["relay"]
    command_delay: Delay = from_register("trigger.person.relay.command_delay")
    dropout: Share = from_register("trigger.person.relay.dropout")


class NoTrigger(SingleTrigger):
    """Nothing is released: one-way entrances, or a trap that stays open."""

    kind: Literal["none"]


TRIGGER_KINDS = ("line", "bait", "counter", "person", "none")
LINKS: dict[str, type[AnyTrigger]] = {
    "radio": RadioPerson,
    "modem": ModemPerson,
    "relay": RelayPerson,
}
_PLAIN: dict[str, type[AnyTrigger]] = {
    "line": LineTrigger,
    "bait": BaitTrigger,
    "counter": CounterTrigger,
    "none": NoTrigger,
}
SINGLE_CLASSES: tuple[type[AnyTrigger], ...] = (*_PLAIN.values(), *LINKS.values())


def single_class(table: dict[str, Any]) -> type[AnyTrigger]:
    """The class that a table of one trigger as written calls for."""
    kind = chosen(table, "kind", TRIGGER_KINDS)
    if kind == "person":
        return LINKS[chosen(table, "link", tuple(LINKS), default("trigger.person.link"))]
    return _PLAIN[kind]


if TYPE_CHECKING:
    PartField = SingleTrigger
else:
    PartField = one_of(single_class, SINGLE_CLASSES)


class FirstOf(AnyTrigger):
    """Releases as soon as one of its parts would."""

    any: tuple[PartField, ...]
    combine: ClassVar[str] = "any"

    @property
    def parts(self) -> tuple[AnyTrigger, ...]:
        return self.any

    @model_validator(mode="after")
    def _parts_fit(self) -> FirstOf:
        _check_parts("any", self.any)
        return self


class AllOf(AnyTrigger):
    """Releases when all of its parts have called for it."""

    all: tuple[PartField, ...]
    combine: ClassVar[str] = "all"

    @property
    def parts(self) -> tuple[AnyTrigger, ...]:
        return self.all

    @model_validator(mode="after")
    def _parts_fit(self) -> AllOf:
        _check_parts("all", self.all)
        return self


def _check_parts(key: str, parts: tuple[AnyTrigger, ...]) -> None:
    if len(parts) < 2:
        raise Problem("needs at least two triggers", key=key)
    for number, part in enumerate(parts, 1):
        if isinstance(part, NoTrigger):
            raise Problem('"none" cannot be one of several triggers', key=f"{key}.{number}.kind")
        if "false_release" in part.model_fields_set:
            raise Problem(
                "belongs to the whole trigger, not to one part",
                key=f"{key}.{number}.false_release",
                hint="move it up to [trigger]",
            )


TRIGGER_CLASSES: tuple[type[AnyTrigger], ...] = (*SINGLE_CLASSES, FirstOf, AllOf)


def trigger_class(table: dict[str, Any]) -> type[AnyTrigger]:
    """The class that the trigger table as written calls for."""
    ways = [key for key in ("kind", "any", "all") if key in table]
    if len(ways) > 1:
        raise Problem(f"give one of kind, any and all, not {' and '.join(ways)}", key=ways[1])
    if ways == ["any"]:
        return FirstOf
    if ways == ["all"]:
        return AllOf
    return single_class(table)


if TYPE_CHECKING:
    TriggerField = AnyTrigger
else:
    TriggerField = one_of(trigger_class, TRIGGER_CLASSES)
