"""The arms that a study file writes down: entries, crossed with other entries and with factors."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Any

from soundergate.studies.arms import check_arms, cross, name_of
from soundergate.studies.compare import Pair
from soundergate.studies.errors import StudyError
from soundergate.studies.study_schema import ArmEntry, StudyFile

_VALUE_KEYS = {"dist", "kind", "fixed"}


@dataclass(frozen=True)
class ArmPlan:
    """An arm yet to be built: the names it is put together from, scenario file, dotted values.

    ``circumstance``: what of it nobody decides, "" where everything is a decision.
    """

    parts: tuple[str, ...]
    file: Path
    set: dict[str, Any]
    circumstance: str = ""

    @property
    def name(self) -> str:
        """The parts in one, those that say something."""
        return ", ".join(part for part in self.parts if part)


NO_ARMS = "give [[arm]] entries or [factors]; `soundergate study --help` names the keys"


def plans(study: StudyFile) -> list[ArmPlan]:
    """Every arm of a study, crossed with its factors. Raises StudyError for a wrong set of arms."""
    file = str(study.path)
    factors = flat_lists(study.factors, file)
    if not (study.arm or study.across or factors):
        raise StudyError("no arms", file=file, hint=NO_ARMS)
    for entry in study.across:
        if entry.file is not None:
            raise StudyError("an [[across]] has no file of its own", file=file, key="across.file")
    common = flat_values(study.set)
    given = _circumstances(study, factors)
    try:
        combinations = cross(factors)
    except StudyError as error:
        key = f"factors.{error.key}" if error.key else "factors"
        raise StudyError(error.problem, file=file, key=key) from None
    found = []
    for entry in study.arm or [_nothing()]:
        source = entry.file or study.base
        if source is None:
            raise StudyError("no scenario file", file=file, hint='give base = "scenario.toml"')
        for other in study.across or [_nothing()]:
            own = _together(entry, other, factors, file)
            for values in combinations:
                parts = (entry.name, other.name, name_of(values))
                met = {key: value for key, value in values.items() if key in given}
                seen = (entry.name * (ARM in given), other.name * (ACROSS in given), name_of(met))
                found.append(
                    ArmPlan(
                        parts,
                        study.path.parent / source,
                        common | own | values,
                        ", ".join(part for part in seen if part),
                    )
                )
    try:
        check_arms([plan.name for plan in found])
        pairs_of(found, study.against)
    except StudyError as error:
        raise StudyError(error.problem, file=file) from None
    _check_sensitivity(study, [plan.name for plan in found])
    return found


ARM, ACROSS = "arm", "across"
"""What stands for all `[[arm]]`, or all `[[across]]`, among the circumstances."""


def _circumstances(study: StudyFile, factors: Mapping[str, Any]) -> set[str]:
    """The factors that nobody decides. Raises StudyError for one that there is not."""
    known = [*factors, *([ARM] if study.arm else []), *([ACROSS] if study.across else [])]
    for name in study.circumstances:
        if name not in known:
            raise StudyError(
                "no factor is called that",
                file=str(study.path),
                key="circumstances",
                value=name,
                hint=f"the factors are {', '.join(known)}",
            )
    if known and set(known) <= set(study.circumstances):
        raise StudyError(
            "nothing is left to decide",
            file=str(study.path),
            key="circumstances",
            value=study.circumstances,
            hint="leave out what one builds or does",
        )
    return set(study.circumstances)


def _check_sensitivity(study: StudyFile, names: Sequence[str]) -> None:
    """Raises StudyError if `[sensitivity]` names an arm that there is not."""
    if study.sensitivity is None:
        return
    for key in ("arm", "less"):
        if (name := getattr(study.sensitivity, key)) and name not in names:
            raise StudyError(
                f"no arm is named {name!r}",
                file=str(study.path),
                key=f"sensitivity.{key}",
                hint=f"the arms are {', '.join(names)}",
            )
    if study.sensitivity.less == (study.sensitivity.arm or names[0]):
        raise StudyError(
            "is the same arm as the first, so there is no difference",
            file=str(study.path),
            key="sensitivity.less",
            value=study.sensitivity.less,
        )


def pairs_of(planned: Sequence[ArmPlan], against: str | list[str] | None) -> list[Pair] | None:
    """The pairs of arm names to compare, in the order of the arms; None for every pair.

    Arms are compared with those that meet the same circumstance. Raises StudyError if ``against``
    names neither an arm nor a part of one.
    """
    if against is None:
        return within([plan.name for plan in planned], circumstances_of(planned))
    pairs: dict[Pair, None] = {}
    for wanted in [against] if isinstance(against, str) else against:
        whole = [plan for plan in planned if plan.name == wanted]
        if not whole and not any(wanted in plan.parts for plan in planned):
            names = ", ".join(plan.name for plan in planned)
            raise StudyError(f"no arm is named {wanted!r}; the arms are {names}")
        for plan in planned:
            others = whole or [other for other in planned if _swapped(plan, other, wanted)]
            pairs |= {
                (plan.name, other.name): None
                for other in others
                if other is not plan and other.circumstance == plan.circumstance
            }
    return list(pairs)


def circumstances_of(planned: Sequence[ArmPlan]) -> dict[str, str]:
    """What each arm meets, by its name; empty where all is decided."""
    if not any(plan.circumstance for plan in planned):
        return {}
    return {plan.name: plan.circumstance for plan in planned}


def within(names: Sequence[str], circumstances: Mapping[str, str]) -> list[Pair] | None:
    """Every pair that meets the same circumstance; None, for every pair, where there are none."""
    if not circumstances:
        return None
    return [(a, b) for a, b in combinations(names, 2) if circumstances[a] == circumstances[b]]


def _swapped(plan: ArmPlan, other: ArmPlan, wanted: str) -> bool:
    """Whether the two differ in one part only, and that of the other is the one wanted."""
    differing = [b for a, b in zip(plan.parts, other.parts, strict=True) if a != b]
    return differing == [wanted]


def _nothing() -> ArmEntry:
    return ArmEntry.model_construct(name="", file=None, set={})


def _together(
    entry: ArmEntry, other: ArmEntry, factors: Mapping[str, Any], file: str
) -> dict[str, Any]:
    """The values of an arm and of what it is crossed with. Raises StudyError if both give one."""
    own, added = flat_values(entry.set), flat_values(other.set)
    for key in own.keys() & added.keys():
        raise StudyError(
            f"both arm {entry.name!r} and across {other.name!r} give it", file=file, key=key
        )
    for key in (own | added).keys() & factors.keys():
        raise StudyError(f"both arm {entry.name!r} and factors give it", file=file, key=key)
    return own | added


def flat_values(table: Mapping[str, Any], lead: str = "") -> dict[str, Any]:
    """Dotted values from nested tables, as TOML makes of unquoted dotted keys.

    A table with dist, kind or fixed is a value, so is one with median and sigma, or with a list of
    triggers under any or all; any other table is a path.
    """
    flat: dict[str, Any] = {}
    for key, value in table.items():
        if isinstance(value, dict) and value and not _is_value(value):
            flat |= flat_values(value, f"{lead}{key}.")
        else:
            flat[f"{lead}{key}"] = value
    return flat


def _is_value(table: Mapping[str, Any]) -> bool:
    listed = any(isinstance(table.get(key), list) for key in ("any", "all"))
    return listed or bool(_VALUE_KEYS & table.keys()) or {"median", "sigma"} <= table.keys()


def flat_lists(table: Mapping[str, Any], file: str, lead: str = "") -> dict[str, list[Any]]:
    """Dotted factors from nested tables. Raises StudyError for a factor that is not a list."""
    flat: dict[str, list[Any]] = {}
    for key, value in table.items():
        if isinstance(value, dict):
            flat |= flat_lists(value, file, f"{lead}{key}.")
        elif isinstance(value, list):
            flat[f"{lead}{key}"] = value
        else:
            raise StudyError(
                "a factor is a list of values",
                file=file,
                key=f"factors.{lead}{key}",
                value=value,
                hint='wanted such as ["4 ft", "8 ft"]',
            )
    return flat
