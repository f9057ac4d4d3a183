"""The keys of a person on a link, by the link. SI."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import model_validator

from soundergate.scenario.errors import Problem
from soundergate.scenario.field_types import Count, Delay, Share, Size, Time
from soundergate.scenario.fields import Flag, Number
from soundergate.scenario.register import default, from_register, settled_from
from soundergate.scenario.site import Corral
from soundergate.scenario.toml_table import Table
from soundergate.scenario.triggers.base import SingleTrigger, share_of_group


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
    tells: ClassVar[bool] = True
    link: str
    count: Count | None = None
    share: Annotated[float | None, Number(above=0, at_most=1, what="a share")] = settled_from(
        "trigger.person.share"
    )
    patience: Time = from_register("trigger.person.patience")
    min_count: Count = settled_from("trigger.person.min_count")
    clear_opening: Annotated[bool, Flag()] = from_register("trigger.person.clear_opening")
    rule: tuple[RuleStep, ...] = ()
    alert: Delay = from_register("trigger.person.alert")
    awake: Share = from_register("trigger.person.awake")
    frame_interval: Time = from_register("trigger.person.frame_interval")
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

    def fit(self, corral: Corral, bait: float, animals: int) -> None:
        if self.min_count is None:
            self.settle(min_count=share_of_group("trigger.person.min_count", animals))


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


PLACE = 4
CHOICE = "link"
CLASSES = (RadioPerson, ModemPerson, RelayPerson)
