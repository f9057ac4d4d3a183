"""Field types for values that vary: durations, and positive quantities with scatter.

A plain value stands in the place of the register's own median (or mean, or scale) and keeps the
register's distribution and scatter; `{fixed = "45 s"}` is a value without scatter; a table may
name any of the parameters and leaves the others to the register. The numbers themselves are in
`distributions`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from soundergate.scenario.about import is_about
from soundergate.scenario.distributions import KINDS, Duration, LogNormal, exp_inverse
from soundergate.scenario.errors import Problem, as_written
from soundergate.scenario.fields import SHARED, Number, Quantity, Spec, check_choice
from soundergate.scenario.register import Form, Stated
from soundergate.scenario.units import dimension

FIXED = "fixed"
DISTS = tuple(kind for kind in KINDS if kind != FIXED)
# name of the distribution -> {key: whether it is a time (else a plain number)}
_TABLES: dict[str, tuple[dict[str, bool], ...]] = {
    "exponential": ({"mean": True},),
    "lognormal": ({"median": True, "sigma": False},),
    "gamma": ({"mean": True, "cv": False}, {"shape": False, "scale": True}),
    "weibull": ({"shape": False, "scale": True},),
    "uniform": ({"low": True, "high": True},),
}
_SHAPES = {
    "gamma": Number(above=0, at_most=1e10, what="a plain number"),
    "weibull": Number(above=0, at_most=1000, what="a plain number"),
}
_SCATTER = Number(at_least=0, at_most=10, what="a plain number")
_LEAST_CV = 1e-5
"""A gamma distribution is kept by its shape, 1 / cv^2, of which a smaller scatter makes no number:
any cv that is taken has a shape that is taken too, so that what was read can be written down."""


def unsaid(said: Any, how: Form) -> list[str]:
    """The parameters that a value as written in a file leaves to the register, by key."""
    if is_about(said):
        return [key for key, _ in how.shapes if key not in said]
    if not isinstance(said, dict):
        never = isinstance(said, str) and said.strip().lower() == "never"
        return [] if never else [key for key, _ in how.shapes]
    if FIXED in said or said.get("dist", how.dist) != how.dist or not set(said) <= _known(how):
        return []
    return [key for key in (how.key, *dict(how.shapes)) if key not in said]


def _known(how: Form) -> set[str]:
    return {"dist", how.key, *dict(how.shapes)}


def _parted(value: Any) -> tuple[Any, Form | None]:
    """A value as written, and how the quantity varies by the register if the register knows."""
    return (value.said, value.form) if isinstance(value, Stated) else (value, None)


@dataclass(frozen=True)
class DurationField(Spec):
    """A time, or a distribution of times: "20 s", "never", {fixed = "20 s"}, {sigma = 0.5}."""

    never: bool = False

    def read(self, value: Any) -> Duration:
        value, how = _parted(value)
        if isinstance(value, dict):
            return _simplest(self._table(value, how))
        if isinstance(value, str) and value.strip().lower() == "never":
            return self._fixed(value)
        seconds = _time(value)
        if how is None:
            return Duration.fixed(seconds)
        return _simplest(_duration(how.dist, {**dict(how.shapes), how.key: seconds}))

    def _fixed(self, value: Any) -> Duration:
        if not (isinstance(value, str) and value.strip().lower() == "never"):
            return Duration.fixed(_time(value))
        if not self.never:
            raise Problem('this duration must come to an end, so "never" will not do')
        return Duration.fixed(math.inf)

    def _table(self, table: dict[str, Any], how: Form | None) -> Duration:
        if FIXED in table:
            return _of_key(FIXED, _alone(table), self._fixed)
        given = {key: value for key, value in table.items() if key != "dist"}
        name = _dist(table, given, how)
        if how is not None and name == how.dist and set(given) <= _known(how):
            given = {**how.whole, **given}
        wanted = _matching_form(name, given)
        read = {
            key: float(_of_key(key, given[key], _time if is_time else _reader(name, key)))
            for key, is_time in wanted.items()
        }
        return _duration(name, read)

    def write(self, value: Duration) -> Any:
        if value.kind == "fixed":
            return "never" if value.never else {FIXED: f"{value.a!r} s"}
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
        never: list[dict[str, Any]] = [{"const": "never"}] if self.never else []
        tables = [_closed({FIXED: {"anyOf": [time, *never]} if never else time})]
        for name, forms in _TABLES.items():
            for keys in forms:
                said = {k: time if is_time else {"type": "number"} for k, is_time in keys.items()}
                # What a table leaves out may be the register's.
                tables.append(_some_of({"dist": {"const": name}, **said}))
        return {
            SHARED: "duration or never" if self.never else "duration",
            "anyOf": [time, *never, *tables],
            "examples": ["20 s", {FIXED: "20 s"},
                         {"dist": "lognormal", "median": "20 s", "sigma": 0.8}],
        }  # fmt: skip


def _dist(table: dict[str, Any], given: dict[str, Any], how: Form | None) -> str:
    """The distribution that a table names, or that its keys or the register settle."""
    if "dist" in table:
        if table["dist"] == FIXED:
            raise Problem(
                "is no distribution here", key="dist", value=FIXED,
                hint='write {fixed = "20 s"} for a time that does not vary',
            )  # fmt: skip
        check_choice(table["dist"], DISTS, key="dist")
        return str(table["dist"])
    if not table:
        raise Problem("says nothing", hint='such as "20 s" or {sigma = 0.8}')
    if set(given) == {"median", "sigma"}:
        return "lognormal"
    if how is None:
        raise Problem(
            f"needs the key dist, one of: {', '.join(DISTS)}",
            hint='or write {fixed = "20 s"} for a time that does not vary',
        )
    return how.dist


def _closed(properties: dict[str, Any], optional: tuple[str, ...] = ()) -> dict[str, Any]:
    required = [name for name in properties if name not in optional]
    return {"type": "object", "properties": properties, "required": required,
            "additionalProperties": False}  # fmt: skip


def _some_of(properties: dict[str, Any]) -> dict[str, Any]:
    return {**_closed(properties, optional=tuple(properties)), "minProperties": 1}


def _alone(table: dict[str, Any]) -> Any:
    """The value of `fixed`, which leaves nothing else to say."""
    others = [key for key in table if key != FIXED]
    if others:
        raise Problem(
            "fixed says that nothing varies, so no other key goes with it",
            key=as_written(others[0]),
            value=table[others[0]],
            hint="leave out one of the two",
        )
    return table[FIXED]


def _of_key(key: str, value: Any, read: Any) -> Any:
    """What `read` makes of the value of a key; its Problem names the key."""
    try:
        return read(value)
    except Problem as problem:
        raise Problem(problem.text, hint=problem.hint, key=key, value=value) from None


def _reader(name: str, key: str) -> Callable[[Any], float]:
    """What reads a parameter without a unit."""
    if key == "cv":
        return _cv
    return _SCATTER.read if key == "sigma" else _SHAPES[name].read


def _cv(value: Any) -> float:
    cv = _SCATTER.read(value)
    if 0.0 < cv < _LEAST_CV:
        raise Problem(
            "so small a scatter cannot be told from none", hint=f"0, or {_LEAST_CV:g} at least"
        )
    return cv


def _time(value: Any) -> float:
    return Quantity("time", at_least="0 s", why="a duration cannot be negative").read(value)


def _matching_form(name: str, given: Mapping[str, Any]) -> dict[str, bool]:
    forms = _TABLES[name]
    for keys in forms:
        if set(keys) == set(given):
            return keys
    wanted = " or ".join(" and ".join(keys) for keys in forms)
    known = {key for keys in forms for key in keys}
    strange = [key for key in given if key not in known]
    if strange:
        raise Problem(
            f"{_named(name)} has no such key",
            key=as_written(strange[0]),
            value=given[strange[0]],
            hint=f"it takes {wanted}",
        )
    raise Problem(f"{_named(name)} takes {wanted}")


def _named(name: str) -> str:
    return f"{'an' if name == 'exponential' else 'a'} {name} distribution"


def _duration(name: str, p: dict[str, float]) -> Duration:
    if name == "exponential":
        return Duration("exponential", p["mean"])
    if name == "lognormal":
        return Duration("lognormal", LogNormal.of(p["median"]).ln_median, p["sigma"])
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
    """A positive quantity with log-normal scatter: "70 kg", {fixed = "70 kg"}, {sigma = 0.2}.

    `dimension` None is a plain number (a coefficient of friction, a share).
    """

    dimension: str | None
    zero: bool = True
    at_most: str | float | None = None

    def read(self, value: Any) -> LogNormal:
        value, how = _parted(value)
        own = {} if how is None else how.whole
        if not isinstance(value, dict):
            return LogNormal.of(self._median(value), own.get("sigma", 0.0))
        if FIXED in value:
            return LogNormal.of(_of_key(FIXED, _alone(value), self._median))
        extra = set(value) - {"median", "sigma", "dist"}
        given = {**own, **value}
        wrong = extra or not value or value.get("dist", "lognormal") != "lognormal"
        if wrong or "median" not in given:
            raise Problem(f"takes a plain value, or median and sigma: {self._example()}")
        median = _of_key("median", given["median"], self._median)
        return LogNormal.of(median, _of_key("sigma", given.get("sigma", 0), _SCATTER.read))

    def _median(self, value: Any) -> float:
        if self.dimension is None:
            limits: dict[str, Any] = {"at_least": 0} if self.zero else {"above": 0}
            return Number(**limits, at_most=self.at_most).read(value)  # type: ignore[arg-type]
        zero = f"0 {dimension(self.dimension).si}"
        limits = {"at_least": zero} if self.zero else {"above": zero}
        return Quantity(self.dimension, **limits, at_most=self.at_most).read(value)  # type: ignore[arg-type]

    def _example(self) -> str:
        plain = f'"{dimension(self.dimension).example}"' if self.dimension else "0.4"
        return f"{plain}, {{median = {plain}, sigma = 0.2}} or {{fixed = {plain}}}"

    def write(self, value: LogNormal) -> dict[str, Any]:
        median: Any = 0.0 if value.ln_median == -math.inf else exp_inverse(value.ln_median)
        if self.dimension:
            median = f"{median!r} {dimension(self.dimension).si}"
        if value.sigma == 0.0:
            return {FIXED: median}
        return {"median": median, "sigma": value.sigma}

    def json_type(self) -> dict[str, Any]:
        plain = Quantity(self.dimension).json_type() if self.dimension else {"type": "number"}
        names = {"median": plain, "sigma": {"type": "number", "minimum": 0},
                 "dist": {"const": "lognormal"}}  # fmt: skip
        return {
            SHARED: f"{self.dimension or 'number'} with scatter",
            "anyOf": [plain, _closed({FIXED: plain}), _some_of(names)],
        }
