"""Field types for values that vary: durations, and positive quantities with scatter.

The written forms are here, the numbers themselves in `distributions`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from soundergate.scenario.distributions import KINDS, Duration, Spread, exp_inverse
from soundergate.scenario.errors import Problem
from soundergate.scenario.fields import SHARED, Number, Quantity, Spec, check_choice
from soundergate.scenario.units import dimension

# name of the distribution -> {key: whether it is a time (else a plain number)}
_TABLES: dict[str, tuple[dict[str, bool], ...]] = {
    "fixed": ({"value": True},),
    "exponential": ({"mean": True},),
    "lognormal": ({"median": True, "sigma": False},),
    "gamma": ({"mean": True, "cv": False}, {"shape": False, "scale": True}),
    "weibull": ({"shape": False, "scale": True},),
    "uniform": ({"low": True, "high": True},),
}
_SHAPE = Number(above=0, at_most=1000, what="a plain number")
_SCATTER = Number(at_least=0, at_most=10, what="a plain number")


@dataclass(frozen=True)
class DurationField(Spec):
    """A time, or a distribution of times: "20 s", "never", {dist = "lognormal", ...}."""

    never: bool = False

    def read(self, value: Any) -> Duration:
        if isinstance(value, str) and value.strip().lower() == "never":
            if not self.never:
                raise Problem('this duration must come to an end, so "never" will not do')
            return Duration.fixed(math.inf)
        if isinstance(value, dict):
            return _simplest(self._table(value))
        return Duration.fixed(_time(value))

    def _table(self, table: dict[str, Any]) -> Duration:
        if "dist" not in table:
            raise Problem(f"needs the key dist, one of: {', '.join(KINDS)}")
        name = table["dist"]
        check_choice(name, KINDS, key="dist")
        given = {key: value for key, value in table.items() if key != "dist"}
        form = _matching_form(name, given)
        read = {key: self._parameter(key, given[key], is_time) for key, is_time in form.items()}
        return _duration(name, read)

    def _parameter(self, key: str, value: Any, is_time: bool) -> float:
        try:
            if is_time:
                return _time(value)
            return (_SCATTER if key in ("sigma", "cv") else _SHAPE).read(value)
        except Problem as problem:
            raise Problem(problem.text, hint=problem.hint, key=key, value=value) from None

    def write(self, value: Duration) -> Any:
        if value.kind == "fixed":
            return "never" if value.never else f"{value.a!r} s"
        if value.kind == "exponential":
            return {"dist": "exponential", "mean": f"{value.a!r} s"}
        if value.kind == "lognormal":
            median = f"{exp_inverse(value.a)!r} s"
            return {"dist": "lognormal", "median": median, "sigma": value.b}
        if value.kind == "uniform":
            return {"dist": "uniform", "low": f"{value.a!r} s", "high": f"{value.b!r} s"}
        return {"dist": value.kind, "shape": value.a, "scale": f"{value.b!r} s"}

    def json_type(self) -> dict[str, Any]:
        time = Quantity("time").json_type()
        tables = []
        for name, forms in _TABLES.items():
            for form in forms:
                keys = {k: time if is_time else {"type": "number"} for k, is_time in form.items()}
                tables.append(_closed({"dist": {"const": name}, **keys}))
        plain: list[dict[str, Any]] = [time, *([{"const": "never"}] if self.never else [])]
        return {
            SHARED: "duration or never" if self.never else "duration",
            "anyOf": [*plain, *tables],
            "examples": ["20 s", {"dist": "lognormal", "median": "20 s", "sigma": 0.8}],
        }


def _closed(properties: dict[str, Any], optional: tuple[str, ...] = ()) -> dict[str, Any]:
    required = [name for name in properties if name not in optional]
    return {"type": "object", "properties": properties, "required": required,
            "additionalProperties": False}  # fmt: skip


def _time(value: Any) -> float:
    return Quantity("time", at_least="0 s", why="a duration cannot be negative").read(value)


def _matching_form(name: str, given: Mapping[str, Any]) -> dict[str, bool]:
    forms = _TABLES[name]
    for form in forms:
        if set(form) == set(given):
            return form
    wanted = " or ".join(" and ".join(form) for form in forms)
    known = {key for form in forms for key in form}
    strange = [key for key in given if key not in known]
    if strange:
        raise Problem(
            f"a {name} distribution has no such key",
            key=strange[0],
            value=given[strange[0]],
            hint=f"it takes {wanted}",
        )
    raise Problem(f"a {name} distribution takes {wanted}")


def _duration(name: str, p: dict[str, float]) -> Duration:
    if name == "fixed":
        return Duration.fixed(p["value"])
    if name == "exponential":
        return Duration("exponential", p["mean"])
    if name == "lognormal":
        return Duration("lognormal", *Spread.of(p["median"], p["sigma"]))
    if name == "uniform":
        if p["low"] > p["high"]:
            raise Problem("low is above high", hint="swap them")
        return Duration("uniform", p["low"], p["high"])
    if name == "gamma" and "cv" in p:
        if p["cv"] == 0.0:
            return Duration.fixed(p["mean"])
        return Duration("gamma", 1.0 / p["cv"] ** 2, p["mean"] * p["cv"] ** 2)
    return Duration("gamma" if name == "gamma" else "weibull", p["shape"], p["scale"])


def _simplest(value: Duration) -> Duration:
    """A distribution without scatter as the fixed time that it is."""
    if value.kind == "exponential" and value.a == 0.0:
        return Duration.fixed(0.0)
    if value.kind in ("gamma", "weibull") and value.b == 0.0:
        return Duration.fixed(0.0)
    if value.kind == "lognormal" and (value.b == 0.0 or value.a == -math.inf):
        return Duration.fixed(exp_inverse(value.a))
    if value.kind == "uniform" and value.a == value.b:
        return Duration.fixed(value.a)
    return value


@dataclass(frozen=True)
class SpreadField(Spec):
    """A positive quantity with log-normal scatter: "70 kg" or {median = "70 kg", sigma = 0.2}.

    `dimension` None is a plain number (a coefficient of friction, a share).
    """

    dimension: str | None
    zero: bool = True
    at_most: str | float | None = None

    def read(self, value: Any) -> Spread:
        if not isinstance(value, dict):
            return Spread.of(self._median(value))
        extra = set(value) - {"median", "sigma", "dist"}
        if extra or "median" not in value or value.get("dist", "lognormal") != "lognormal":
            raise Problem(f"takes a plain value, or median and sigma: {self._example()}")
        try:
            median = self._median(value["median"])
        except Problem as problem:
            raise Problem(
                problem.text, hint=problem.hint, key="median", value=value["median"]
            ) from None
        try:
            return Spread.of(median, _SCATTER.read(value.get("sigma", 0)))
        except Problem as problem:
            raise Problem(
                problem.text, hint=problem.hint, key="sigma", value=value["sigma"]
            ) from None

    def _median(self, value: Any) -> float:
        if self.dimension is None:
            limits: dict[str, Any] = {"at_least": 0} if self.zero else {"above": 0}
            return Number(**limits, at_most=self.at_most).read(value)  # type: ignore[arg-type]
        zero = f"0 {dimension(self.dimension).si}"
        limits = {"at_least": zero} if self.zero else {"above": zero}
        return Quantity(self.dimension, **limits, at_most=self.at_most).read(value)  # type: ignore[arg-type]

    def _example(self) -> str:
        plain = f'"{dimension(self.dimension).example}"' if self.dimension else "0.4"
        return f"{plain} or {{median = {plain}, sigma = 0.2}}"

    def write(self, value: Spread) -> dict[str, Any]:
        median: Any = 0.0 if value.ln_median == -math.inf else exp_inverse(value.ln_median)
        if self.dimension:
            median = f"{median!r} {dimension(self.dimension).si}"
        return {"median": median, "sigma": value.sigma}

    def json_type(self) -> dict[str, Any]:
        plain = Quantity(self.dimension).json_type() if self.dimension else {"type": "number"}
        names = {"median": plain, "sigma": {"type": "number", "minimum": 0},
                 "dist": {"const": "lognormal"}}  # fmt: skip
        return {
            SHARED: f"{self.dimension or 'number'} with scatter",
            "anyOf": [plain, _closed(names, optional=("sigma", "dist"))],
        }
