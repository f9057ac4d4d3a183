"""Which of two setups is cheaper over two prices, and the line on which they are equal.

Money is linear in prices: any other prices need the means and covariances of what the campaigns
took, not the campaigns again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.scenario.planning import Costs
from soundergate.seasons.campaigns.outcomes import Floats
from soundergate.seasons.money.break_even import (
    Answer,
    CostedSetup,
    caught_of,
    check_pair,
    in_money,
    nothing_known,
)
from soundergate.seasons.money.costs import PARTS, PRICES, amounts, price_of, prices_of
from soundergate.studies.errors import StudyError
from soundergate.studies.estimates.intervals import t_quantile

if TYPE_CHECKING:
    import pandas as pd

LIFE = "equipment_campaigns"


@dataclass(frozen=True)
class Axis:
    """A price to vary: its key in `Costs`, the values, and ``of`` which setup ("": of both).

    Without values, 41 from 0 (1 for ``equipment_campaigns``) to twice the file's own.
    """

    key: str
    values: tuple[float, ...] = ()
    of: str = ""

    @property
    def name(self) -> str:
        """ "costs.trip", "costs.equipment of B"."""
        return f"costs.{self.key}" + (f" of {self.of}" if self.of else "")


@dataclass(frozen=True, eq=False)
class BreakEvenSurface(Answer):
    """First less second of ``labels`` in ``measure`` over two prices.

    ``measure``: "cost_per_pig", or "net_per_campaign" (prevented damage of a year less cost).
    ``difference`` and ``half_width`` of its t interval have shape (Y, X), ``x`` (X,), ``y`` (Y,);
    ``line`` (K, 2): where the difference is 0, from the formula, not from the grid; ``own``: the
    file's own prices, None if they are not the same in both or not given; ``held``: wages of
    watching that a file states, so that they do not follow the wage, as (setup, wage).
    """

    labels: tuple[str, str]
    currency: str
    measure: str
    x_axis: str
    y_axis: str
    x: Floats
    y: Floats
    difference: Floats
    half_width: Floats
    line: Floats
    own: tuple[float, float] | None
    held: tuple[tuple[str, float], ...]
    level: float

    @property
    def first_ahead(self) -> np.ndarray:
        """Where the first setup is better (cheaper a pig, or more net), bool (Y, X)."""
        return self.difference > 0 if self.measure == "net_per_campaign" else self.difference < 0

    @property
    def settled(self) -> np.ndarray:
        """Where the t interval of the difference leaves out 0, bool (Y, X)."""
        return np.abs(self.difference) > self.half_width

    @property
    def sentence(self) -> str:
        """What it says."""
        first, second = self.labels
        what = "nets more" if self.measure == "net_per_campaign" else "is cheaper a pig"
        ahead = 100 * float(self.first_ahead.mean())
        if not self.difference.any():
            return f"{first} and {second} come to the same at all of these prices.{self.held_words}"
        if ahead in (0, 100):
            words = f"{first if ahead else second} {what} at all of these prices"
        else:
            words = f"{first} {what} at {ahead:.0f} % of these prices, {second} at the others"
        share = _share_of_all(float(self.settled.mean()))
        return f"{words}; at {share} of them it is settled.{self.held_words}"

    @property
    def held_words(self) -> str:
        """Which wages of watching do not follow the wage; with a space before it, or empty."""
        if not self.held:
            return ""
        named = ", ".join(f"{in_money(wage, self.currency)} in {name}" for name, wage in self.held)
        return f" An hour of watching stays at what is stated, {named}: only the other hours vary."

    @property
    def table(self) -> pd.DataFrame:
        """One row a pair of prices: both, difference, low, high, which is ahead, if settled."""
        import pandas as pd

        x, y = np.meshgrid(self.x, self.y)
        return pd.DataFrame(
            {
                self.x_axis: x.ravel(),
                self.y_axis: y.ravel(),
                "difference": self.difference.ravel(),
                "low": (self.difference - self.half_width).ravel(),
                "high": (self.difference + self.half_width).ravel(),
                "ahead": np.where(self.first_ahead, *self.labels).ravel(),
                "settled": self.settled.ravel(),
            }
        )

    def plot(self, ax: Any = None) -> Any:
        """Draw which setup is ahead over the two prices; returns the axes."""
        from soundergate.report.figures.costs import break_even_map

        return break_even_map(self, ax)


def _share_of_all(share: float) -> str:
    """In words that never say all or none of what is only nearly so."""
    if share in (0.0, 1.0):
        return "all" if share else "none"
    return "over 99 %" if share > 0.99 else f"{max(100 * share, 1):.0f} %"


MEASURES = ("cost_per_pig", "net_per_campaign")


def break_even_surface(
    a: CostedSetup,
    b: CostedSetup,
    x: Axis | str,
    y: Axis | str,
    measure: str = "cost_per_pig",
    level: float = 0.95,
) -> BreakEvenSurface:
    """a less b over two prices (keys of `costs.PRICES`), and the line on which they are equal.

    A price is varied in every setup that gives it (in both if neither does), all else as the files
    say. Cost per pig: the t interval is the delta method's for a difference of two ratios of
    means; net: exact for paired campaigns. Raises StudyError for a price that cannot be varied or
    moves nothing, for two files that give it differently (say ``of`` which), and as
    `break_even_value`.
    """
    check_pair(a, b)
    if measure not in MEASURES:
        raise StudyError(f"measure is {measure!r}; it must be one of {', '.join(MEASURES)}")
    first, second = (Axis(one) if isinstance(one, str) else one for one in (x, y))
    if (first.key, first.of) == (second.key, second.of):
        raise StudyError("is on both axes; a surface needs two prices", key=first.name)
    moved = [_Varied.of(axis, a, b, measure) for axis in (first, second)]
    money_of = _Prices(a, b, measure, moved[0], moved[1])
    xs, ys = moved[0].values, moved[1].values
    difference, half = money_of(*np.meshgrid(xs, ys), level=level)
    own = (moved[0].own, moved[1].own)
    return BreakEvenSurface(
        labels=(a.label, b.label),
        currency=a.costs.currency,
        measure=measure,
        x_axis=first.name,
        y_axis=second.name,
        x=xs,
        y=ys,
        difference=difference,
        half_width=half,
        line=money_of.line(),
        own=None if own[0] is None or own[1] is None else (float(own[0]), float(own[1])),
        held=_held(a, b, {first.key, second.key}),
        level=level,
    )


def _held(a: CostedSetup, b: CostedSetup, keys: set[str]) -> tuple[tuple[str, float], ...]:
    if "wage" not in keys or "watch_wage" in keys:
        return ()
    return tuple(
        (one.label, one.costs.watch_wage)
        for one in (a, b)
        if one.costs.watch_wage is not None and one.campaigns.watched_min.any()
    )


@dataclass(frozen=True)
class _Varied:
    """An axis, the setups in which it is varied, its values, and the files' own value."""

    axis: Axis
    in_first: bool
    in_second: bool
    values: Floats
    own: float | None

    @classmethod
    def of(cls, axis: Axis, a: CostedSetup, b: CostedSetup, measure: str) -> _Varied:
        """Raises StudyError if it cannot be varied."""
        _check_axis(axis, a, b, measure)
        given = {one.label: _own(one.costs, axis.key) for one in (a, b)}
        named = {axis.of} if axis.of else {k for k, v in given.items() if v is not None}
        owns = {given[label] for label in named} - {None}
        if len(owns) > 1:
            raise StudyError(
                f"is {given[a.label]:g} in {a.label} and {given[b.label]:g} in {b.label}",
                key=axis.name,
                hint=f"say in which to vary it: Axis({axis.key!r}, of={b.label!r})",
            )
        own = owns.pop() if owns else None
        where = named or set(given)
        return cls(axis, a.label in where, b.label in where, _values(axis, own), own)


def _own(costs: Costs, key: str) -> float | None:
    value = getattr(costs, key)
    return costs.wage if value is None and key == "watch_wage" else value


def _check_axis(axis: Axis, a: CostedSetup, b: CostedSetup, measure: str) -> None:
    if axis.key not in PRICES:
        raise StudyError("is not a price", key=axis.name, hint=f"vary one of {', '.join(PRICES)}")
    if axis.of and axis.of not in (a.label, b.label):
        raise StudyError(f"no setup is called {axis.of!r}; they are {a.label!r} and {b.label!r}")
    if axis.key == "damage_per_pig" and measure != "net_per_campaign":
        hint = 'ask for the measure "net_per_campaign"'
        raise StudyError("does not change the cost per pig", key=axis.name, hint=hint)


def _values(axis: Axis, own: float | None) -> Floats:
    least = 1.0 if axis.key == LIFE else 0.0
    if not axis.values and not (own and own > least):
        hint = f"give the values to vary it over, such as Axis({axis.key!r}, (10, 20, 30))"
        raise StudyError("is not given, so there is no range around it", key=axis.name, hint=hint)
    values = np.asarray(axis.values or np.linspace(least, 2 * (own or 0.0), 41), dtype=float)
    rising = values.ndim == 1 and len(values) > 1 and bool(np.all(np.diff(values) > 0))
    if not rising or not np.isfinite(values).all() or values[0] < least:
        raise StudyError(
            "has values that are no axis",
            key=axis.name,
            hint=f"two or more, rising, from {least:g}",
        )
    return values


class _Prices:
    """The difference of two setups as a function of two prices."""

    def __init__(
        self, a: CostedSetup, b: CostedSetup, measure: str, x: _Varied, y: _Varied
    ) -> None:
        self.x, self.y = x, y
        self.prices = prices_of(a.costs), prices_of(b.costs)
        self.count = len(a.campaigns)
        parts = [_effects(a, measure, 1.0), _effects(b, measure, -1.0)]
        self.names = [list(found) for found in parts]
        for setup, own, second in ((a, self.prices[0], False), (b, self.prices[1], True)):
            _check_priced(setup, own | self.moved(1.0, 1.0, second), measure)
        effects = np.array([effect for found in parts for effect in found.values()])
        self.means = effects.mean(axis=1)
        self.covariance = np.cov(effects) / self.count

    def moved(self, x: Any, y: Any, second: bool) -> dict[str, Any]:
        """The prices of the first or second setup that the axes set, by key."""
        placed = (self.x, x), (self.y, y)
        return {one.axis.key: at for one, at in placed if (one.in_first, one.in_second)[second]}

    def weights(self, x: Any, y: Any) -> Floats:
        """Price of every effect, shape (K, ...)."""
        found = []
        for names, own, second in zip(self.names, self.prices, (False, True), strict=True):
            now = own | self.moved(x, y, second)
            by_name = {part.name: price_of(part, now) for part in PARTS}
            by_name["damage"] = now.get("damage_per_pig")
            found += [by_name[name] if by_name[name] is not None else 0.0 for name in names]
        shape = np.broadcast_shapes(np.shape(x), np.shape(y))
        return np.stack([np.broadcast_to(np.asarray(w, dtype=float), shape) for w in found])

    def __call__(self, x: Any, y: Any, level: float = 0.95) -> tuple[Floats, Floats]:
        """Difference and half width of its t interval; x and y numbers or arrays of one shape."""
        w = self.weights(x, y)
        mean = np.tensordot(self.means, w, axes=1)
        variance = np.einsum("k...,kl,l...->...", w, self.covariance, w)
        half = t_quantile(self.count, level) * np.sqrt(np.maximum(variance, 0.0))
        # what is left of two equal sums is rounding
        size = np.tensordot(np.abs(self.means), np.abs(w), axes=1)
        return np.where(np.abs(mean) <= 1e-12 * size, 0.0, mean), half

    def line(self) -> Floats:
        """Points (K, 2) of the line of no difference within the axes; shape (0, 2) if none."""
        (x0, x1), (y0, y1) = ((v.values[0], v.values[-1]) for v in (self.x, self.y))
        edges = np.array([y0, y1])
        with np.errstate(divide="ignore", invalid="ignore"):
            ends = _root(lambda at: self(at, edges)[0], self.x.axis.key)
            xs = np.unique(np.concatenate([np.linspace(x0, x1, 201), ends[np.isfinite(ends)]]))
            ys = _root(lambda at: self(xs, at)[0], self.y.axis.key)
        points = np.column_stack([xs, ys])
        if not np.isfinite(ys).any():  # the second price moves nothing: a line straight up, or none
            points = np.column_stack([ends, edges])
        slack = 1e-9 * np.array([x1 - x0, y1 - y0])
        low, high = np.array([x0, y0]) - slack, np.array([x1, y1]) + slack
        within = np.isfinite(points).all(axis=1) & ((points >= low) & (points <= high)).all(axis=1)
        return np.clip(points[within], (x0, y0), (x1, y1))


def _check_priced(setup: CostedSetup, prices: dict[str, Any], measure: str) -> None:
    took = amounts(setup.costs, setup.campaigns)
    if all(price_of(part, prices) is None for part in PARTS if part.name in took):
        raise nothing_known(setup.label)
    if measure == "net_per_campaign" and "damage_per_pig" not in prices:
        raise StudyError(
            f"is not given for {setup.label}",
            key="costs.damage_per_pig",
            hint="net is prevented damage less cost; give it, or vary it",
        )


def _root(at: Callable[[Any], Floats], key: str) -> Floats:
    """Where a difference that is affine in a price (in 1 / life) is 0; nan where it is constant."""
    none, one = (np.inf, 1.0) if key == LIFE else (0.0, 1.0)
    start = at(none)
    slope = at(one) - start
    place = -start / np.where(slope == 0, np.nan, slope)
    return 1 / place if key == LIFE else place


def _effects(setup: CostedSetup, measure: str, sign: float) -> dict[str, Floats]:
    """What one unit of each price adds to the measure, a campaign: name -> (C,).

    Their mean is the measure's own slope; their spread gives its standard error (for a ratio of
    means, to first order in the deviations from the means).
    """
    took, pigs = amounts(setup.costs, setup.campaigns), setup.pigs
    if measure == "net_per_campaign":
        return {name: -sign * amount for name, amount in took.items()} | {"damage": sign * pigs}
    mean = caught_of(setup)
    ratios = {name: float(amount.mean()) / mean for name, amount in took.items()}
    return {
        name: sign * (ratios[name] + (amount - ratios[name] * pigs) / mean)
        for name, amount in took.items()
    }
