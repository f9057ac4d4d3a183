"""Every figure: no label cut off, none over another, a unit on every axis."""

from __future__ import annotations

import dataclasses
import itertools
import re
from collections.abc import Callable
from math import inf, nan
from typing import Any
from unittest import mock

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.text import Text

from shared.legible import assert_legible, cut_off, overlapping, texts, unlabelled
from soundergate.engine.outcomes import Outcomes
from soundergate.engine.trace.trace import Trace
from soundergate.mechanics.advice.claims import Verdict
from soundergate.mechanics.advice.pairs import Pair, Pairs
from soundergate.mechanics.advice.sweep import WidthSweep
from soundergate.mechanics.advice.trade_off import TradeOff
from soundergate.mechanics.gates.drop import DropGate
from soundergate.mechanics.model import Chain, LatchSolution, PullerSolution, Site
from soundergate.mechanics.opening import OpeningSetup
from soundergate.report import quantities, style
from soundergate.report.figures import (
    course as course_figure,
)
from soundergate.report.figures import (
    estimates as figures,
)
from soundergate.report.figures import (
    panels,
)
from soundergate.report.figures import (
    robust as robust_figures,
)
from soundergate.report.figures.claims import claims_figure
from soundergate.report.figures.gate import closing_curves, force_bars, gate_figure
from soundergate.report.figures.night import night_figure
from soundergate.report.figures.pairs import pairs_figure
from soundergate.report.figures.trade_off import trade_off
from soundergate.report.figures.width import width_sweep
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.register import Entry
from soundergate.scenario.unit_system import SI, US
from soundergate.studies.estimates.paired import Difference
from soundergate.studies.worlds.inputs import Input
from soundergate.studies.worlds.robust_result import RobustComparison
from soundergate.studies.worlds.tornado import DifferenceTornado

BODIES = {"boar": 0.68, "sow": 0.61, "juvenile": 0.47, "piglet": 0.31}


def opening(kind: str = "drop", puller: str = "solenoid", **sketch: Any) -> OpeningSetup:
    gate = DropGate(1.22, 0.91, 41.0, 1.82).solution()
    gate = dataclasses.replace(gate, sketch={**gate.sketch, **sketch})
    latch = LatchSolution("pin", 80.0, 0.3, 0.03)
    pull = PullerSolution("solenoid", 111.0, 0.1, None)  # type: ignore[arg-type]
    animal = puller == "animal"
    return OpeningSetup(
        gate_kind=kind,
        latch_kind="pin",
        puller=puller,
        width=1.22,
        height=0.91,
        mass=gate.mass,
        holding_load=gate.holding_load,
        pull_required=84.0,
        pull_required_sigma=0.3,
        pull_available=0.0 if animal else 111.0,
        pull_available_sigma=0.1,
        trip_travel=0.03,
        margin=nan if animal else 1.32,
        hang_probability=0.01,
        jams=False,
        release_delay=None,  # type: ignore[arg-type]
        curve=gate.curve,
        lift_force=402.0,
        pry_force=402.0,
        set_weight=402.0,
        locked=True,
        passable=False,
        cautions=(),
        notes=(),
        lever=1.0,
        gate=gate,
        latch=latch,
        pull=pull,
        chain=Chain(latch, 1.0, pull, Site()),
        required=LogNormal(84.0, 0.3),
        available=LogNormal(0.0 if animal else 111.0, 0.1),
    )


def hung() -> Any:
    curve = opening().curve
    time = curve.time.copy()
    time[:30] = inf
    return dataclasses.replace(curve, time=time)


def traded(kind: str, written: float | None, hangs: bool) -> TradeOff:
    """Eight settings, invented: the load falls and the time grows; the last may stick open."""
    step = np.linspace(0.0, 1.0, 8)
    value = np.radians(75.0 + 100.0 * step) if kind == "top-hinged" else 20.0 * step
    time = 0.45 + step**3
    hang = np.where(step == 1.0, 0.5 if hangs else 0.0, 0.0)
    load = 400.0 * (1.05 - step)
    names = ("pull_required", "juvenile_time", "energy", "speed", "set_weight")
    return TradeOff(
        setting=kind,
        written=written,
        value=value,
        holding_load=load,
        shut_time=time,
        release_probability=np.where(step < 0.3, 0.5, 0.99),
        hang_probability=hang,
        shut_probability=np.where(step < 0.3, 0.5, 0.99) * (1.0 - hang),
        **dict.fromkeys(names, step),
    )


def both_traded() -> dict[str, TradeOff]:
    return {"top-hinged": traded("top-hinged", None, False), "drop": traded("drop", 0.0, True)}


def verdicts() -> tuple[Verdict, ...]:
    parts = {"is shut before a top-hinged gate": True, "bars an adult before a gate": False}
    long = "weight sets the pace of the gates that fall, while a spring can be made strong " * 3
    one = Verdict("drop gates shut fastest, as is often said of them", parts, long, {})
    return (one, dataclasses.replace(one, checks=dict.fromkeys(parts, True)), one)


def every_pair() -> Pairs:
    good = Pair("top-hinged", "pin", True, "", 139.2, 0.99, 0.973, 0.017, 0.04, 0.3, 0.5)
    slow = dataclasses.replace(good, gate="drop", latch="knee", margin=nan, shut_time=3.0)
    why = (
        "travel, for the puller's stroke ends before the latch is free; a lever ratio from 0.096 "
        "to 0.75 would do"
    )
    bad = Pair("side-hinged, double", "rotary", False, why, nan, 0.0, 0.0, 0.0, inf, inf, inf)
    return Pairs((good, slow, bad, dataclasses.replace(bad, latch="finger", gate="drop")))


def widths() -> WidthSweep:
    feet = 0.3048 * np.array([3.0, 4.0, 6.0, 8.0, 10.0])
    return WidthSweep(
        width=feet,
        mass=10 * feet,
        holding_load=98 * feet,
        pull_required=30 * feet,
        pull_available=np.full(5, 60.0),
        margin=2 / feet,
        release_probability=np.linspace(1.0, 0.5, 5),
        hang_probability=np.zeros(5),
        shut_probability=np.linspace(1.0, 0.5, 5),
        shut_time=np.array([0.4, 0.42, 0.45, 0.6, inf]),
    )


def differences(names: list[str]) -> list[Difference]:
    values = [(0.021, -0.01, 0.05), (0.24, 0.21, 0.27), (-0.2, -0.23, -0.17), (0.1, nan, nan)]
    pairs = list(itertools.combinations(names, 2))
    return [
        Difference(a, b, "fraction_caught", *v, 0.95, 0.98, 2.0, 400, "of the group")
        for (a, b), v in zip(pairs, values, strict=False)
    ]


def robust_comparison(names: list[str]) -> RobustComparison:
    """Invented: forty worlds, three unknowns of which one turns the choice round."""
    rng = np.random.default_rng(1)
    places = rng.random((40, 3))
    means = 0.6 + 0.01 * np.arange(len(names)) + rng.normal(0, 0.004, (40, len(names)))
    means[:, -1] += 0.3 * (places[:, 0] - 0.6)
    entries = [
        Entry("entry.openness_slope", 0.0, "", -0.5, 0.5, "uniform", "published", "", ""),
        Entry(
            "opening.gate.drop.drag_share.sigma",
            0.9,
            "",
            0.4,
            1.3,
            "log-uniform",
            "assumption",
            "",
            "",
            of="the gate's weight",
        ),
        Entry("bait.levels_appetite", [1.0], "", [1.0], [5.0], "uniform", "assumption", "", ""),
    ]
    return RobustComparison(
        arms=names,
        unknowns=[Input(one.id, (one.id,), one) for one in entries],
        places=places,
        means={"fraction_caught": means},
        noise={"fraction_caught": np.tile(1e-5 * np.eye(len(names)), (40, 1, 1))},
        pairs=list(itertools.combinations(names, 2)),
        nights=200,
        seed=1,
        level=0.95,
        asked=40,
    )


def crossed_names() -> list[str]:
    triggers = ("line before the bait", "person behind a relay on a neighbour's network")
    gates = ("drop gate", "top-hinged gate set well above level", "counterweighted gate")
    return [f"{trigger}, {gate}" for trigger in triggers for gate in gates]


Make = Callable[[], Figure]


def cases(
    arms: dict[str, Outcomes], nights: dict[str, Trace], leaning: DifferenceTornado
) -> dict[str, Make]:
    names = list(arms)
    first = arms[names[0]]
    angles = {"set_angle": 2.0}
    return {
        **{f"night {name}": (lambda t=trace: night_figure(t)) for name, trace in nights.items()},
        **{f"US {name}": (lambda t=t: night_figure(t, US)) for name, t in nights.items()},
        **{f"lanes {name}": (lambda t=t: t.plot().figure) for name, t in nights.items()},
        "tornado of a difference": lambda: leaning.plot().figure,
        "fates": lambda: figures.fates(arms).figure,
        "fates of one": lambda: figures.fates(first).figure,
        "caught": lambda: figures.caught_distribution(first).figure,
        "inside": lambda: course_figure.inside_over_time(list(nights.values())).figure,
        "forest": lambda: figures.forest(differences(names)).figure,
        "forest of crossed arms": lambda: figures.forest(differences(crossed_names())).figure,
        "fates of crossed arms": lambda: (
            figures.fates(dict(zip(crossed_names(), [*arms.values()] * 2, strict=True))).figure
        ),
        "caught in panels": lambda: panels.caught_panels(
            dict(zip(crossed_names(), [*arms.values()] * 2, strict=True))
        ),
        "caught in two panels": lambda: panels.caught_panels(dict(list(arms.items())[:2])),
        "filling in panels": lambda: panels.filling_panels(
            {name: list(nights.values()) for name in crossed_names()[:4]}
        ),
        "filling by nobody": lambda: panels.filling_panels(
            {"a": [nights["empty"]], "b": [nights["open"]]}
        ),
        "worlds": lambda: robust_figures.worlds(robust_comparison(names)).figure,
        "worlds of crossed arms": lambda: (
            robust_figures.worlds(robust_comparison(crossed_names()), most=5).figure
        ),
        "worth": lambda: robust_figures.worth(robust_comparison(names)).figure,
        "drop": lambda: gate_figure(opening(), BODIES),
        "drop US": lambda: gate_figure(opening(counterweight=10.0), BODIES, US),
        "top-hinged": lambda: gate_figure(opening("top-hinged", "animal", **angles), BODIES),
        "side-hinged": lambda: gate_figure(opening("side-hinged", leaves=2), BODIES),
        "one-way": lambda: gate_figure(opening("push panel"), BODIES),
        "curves": lambda: (
            closing_curves({"4 ft drop gate": opening().curve, "hung": hung()}, BODIES).figure
        ),
        "force": lambda: force_bars({"one": opening(), "two": opening(puller="animal")}).figure,
        "trade-off": lambda: trade_off(both_traded(), US).figure,
        "trade-off of a top-hinged gate": lambda: (
            trade_off({"top-hinged": traded("top-hinged", 2.5, True)}).figure
        ),
        "pairs": lambda: pairs_figure(every_pair(), "Opening 2"),
        "no pair": lambda: pairs_figure(Pairs(every_pair().pairs[2:])),
        "widths": lambda: width_sweep(widths(), US, own=1.22),
        "widths of an animal": lambda: width_sweep(
            dataclasses.replace(widths(), pull_available=np.zeros(5), margin=np.full(5, nan))
        ),
        "claims": lambda: claims_figure(verdicts(), US, "gates 0.91 m (3.0 ft) wide of steel"),
    }


NAMES = [
    "night plain",
    "night open",
    "night doubled",
    "night empty",
    "night crowd",
    "US plain",
    "US open",
    "US doubled",
    "US empty",
    "US crowd",
    "lanes plain",
    "lanes open",
    "lanes doubled",
    "lanes empty",
    "lanes crowd",
    "tornado of a difference",
    "fates",
    "fates of one",
    "caught",
    "inside",
    "forest",
    "forest of crossed arms",
    "fates of crossed arms",
    "caught in panels",
    "caught in two panels",
    "filling in panels",
    "filling by nobody",
    "worlds",
    "worlds of crossed arms",
    "worth",
    "drop",
    "drop US",
    "top-hinged",
    "side-hinged",
    "one-way",
    "curves",
    "force",
    "trade-off",
    "trade-off of a top-hinged gate",
    "pairs",
    "no pair",
    "widths",
    "widths of an animal",
    "claims",
]


@pytest.fixture(scope="module")
def made(
    arms: dict[str, Outcomes],
    night: Trace,
    open_night: Trace,
    two_gates: Trace,
    crowd: Trace,
    leaning: DifferenceTornado,
) -> dict[str, Make]:
    empty = Trace(night.animals, night.corral, seed=1, night=3, title="Nobody $1 & $2")
    empty.record(36000.0, "trap check")
    nights = {"plain": night, "open": open_night, "doubled": two_gates, "empty": empty}
    nights["crowd"] = crowd
    return cases(arms, nights, leaning)


def test_every_figure_has_its_case(made: dict[str, Make]) -> None:
    assert sorted(made) == sorted(NAMES)


SLOW = {f"{kind} {night}" for kind in ("US", "lanes") for night in ("plain", "open", "doubled")}
SLOW |= {"US empty", "lanes empty", "night plain", "fates of one", "caught in two panels"}
SLOW |= {"worlds", "trade-off of a top-hinged gate", "widths of an animal"}
SLOW |= {"night open", "night doubled", "US crowd", "lanes crowd", "drop US", "no pair", "claims"}
"""The same drawing as of other cases, of something smaller or in the other units."""


@pytest.mark.parametrize(
    "name", [pytest.param(n, marks=pytest.mark.slow) if n in SLOW else n for n in NAMES]
)
def test_labels_are_whole_and_apart(made: dict[str, Make], name: str) -> None:
    assert_legible(made[name](), least=4)


def test_the_checks_of_this_file_can_fail() -> None:
    with style.sheet():
        figure = Figure(figsize=(3, 2))
        ax = figure.subplots()
        ax.text(0.5, 0.5, "one label here")
        ax.text(0.52, 0.5, "and one on it")
        ax.text(1.0, 0.5, "far too long to end before the edge of the paper")
    assert "far too long" in cut_off(figure)[0]
    assert ("one label here", "and one on it") in overlapping(figure)
    assert unlabelled(figure) == ["x of ''"]


def test_a_drawn_share_is_the_share(arms: dict[str, Outcomes]) -> None:
    outcomes = next(iter(arms.values()))
    shares = quantities.fate_shares(outcomes)
    assert sum(shares.values()) == pytest.approx(1.0)
    assert shares["caught"] == pytest.approx(np.mean(outcomes["caught"]) / 11)
    axes = figures.fates(outcomes)
    widths = [patch.get_width() for patch in axes.patches]  # type: ignore[attr-defined]
    assert sum(widths) == pytest.approx(100.0)
    assert widths[0] == pytest.approx(100 * shares["caught"])


def test_a_night_is_counted_once_in_a_panel(arms: dict[str, Outcomes]) -> None:
    figure = panels.caught_panels(arms)
    for ax, outcomes in zip(figure.axes, arms.values(), strict=True):
        bars = [(bar.get_facecolor()[:3], bar.get_height()) for bar in ax.patches]
        assert sum(height for _, height in bars) == pytest.approx(100.0)
        dark = [height for colour, height in bars if colour == to_rgb(style.BLUE)]
        assert dark == pytest.approx([100 * np.mean(outcomes["whole_group"])])


def test_what_two_arms_share_is_said_once() -> None:
    said = figures.pair_label("line, drop gate", "bait container, drop gate")
    assert said == "drop gate:\nline − bait container"
    assert figures.pair_label("4 ft", "8 ft") == "4 ft\n− 8 ft"
    assert figures.pair_label("a, b", "a") == "a, b\n− a"


def test_the_share_beside_a_difference_is_that_of_worlds() -> None:
    result = robust_comparison(["a", "b", "c"])
    ax = robust_figures.worlds(result)
    beside = [text.get_text() for text in ax.texts]
    for d in result.differences:
        gap = result.means["fraction_caught"][:, "abc".index(d.a)]
        share = np.mean(gap > result.means["fraction_caught"][:, "abc".index(d.b)])
        assert any(text.startswith(f"{100 * share:.0f} % (") for text in beside)


def test_open_and_filled_marks_tell_what_is_settled() -> None:
    axes = figures.forest(differences(["a", "b", "c"])[:2])
    marks = [line for line in axes.lines if line.get_marker() == "o"]
    faces = [mark.get_markerfacecolor() for mark in marks]
    assert faces == [style.PAPER, style.BLUE]


def test_the_course_is_the_mean_over_nights(night: Trace, open_night: Trace) -> None:
    axes = course_figure.inside_over_time([night, open_night])
    mean = next(line for line in axes.lines if line.get_label() == "mean")
    minutes, inside = np.asarray(mean.get_xdata()), np.asarray(mean.get_ydata())
    # both nights alike until 9 min: ten inside before the release, nine after it in one of them
    assert inside[np.searchsorted(minutes, 6.5, side="right") - 1] == 10.0
    assert inside[np.searchsorted(minutes, 8.0, side="right") - 1] == 9.5


def words_of(axes: Any) -> list[str]:
    return [text.get_text() for text in axes.figure.findobj(Text) if text.get_text()]


def test_a_legend_names_only_the_fates_that_befell_anyone(arms: dict[str, Outcomes]) -> None:
    """A trap that only lets in has nobody who left before a release that cannot be."""
    one = next(iter(arms.values()))
    kept = Outcomes.concatenate([one])
    for name in ("escaped_before", "escaped_during"):
        kept["never_entered"][:] += kept[name]
        kept[name][:] = 0
    gone = {"left before the release", "escaped before it was shut"}
    assert gone <= {*words_of(figures.fates(one))}
    told = words_of(figures.fates(kept))
    assert "caught" in told
    assert not gone & {*told}


def test_the_whole_group_is_told_by_a_hatch_beside_the_mean(arms: dict[str, Outcomes]) -> None:
    for outcomes in arms.values():
        axes = figures.caught_distribution(outcomes)
        (words,) = [text for text in axes.texts if text.get_text().startswith("hatched: whole")]
        mean = float(outcomes["caught"].mean())
        assert (words.get_position()[0] < mean) == (mean > 11 / 2)
        assert words.get_horizontalalignment() == ("left" if mean > 11 / 2 else "right")
        whole = 100 * outcomes["whole_group"].mean()
        hatched = sum(patch.get_height() for patch in axes.patches if patch.get_hatch())
        assert hatched == pytest.approx(whole)


def test_what_a_body_needs_has_its_unit(night: Trace) -> None:
    for units, sign in ((SI, "cm"), (US, "in")):
        needs = [text for text, _ in texts(night_figure(night, units)) if " needs " in text]
        assert len(needs) == 3
        assert all(text.endswith(f" {sign}") for text in needs)


def test_no_two_times_of_a_clock_read_alike(open_night: Trace) -> None:
    """Ticks closer than a minute are told with their seconds, whatever the axis below counts in."""
    for last in (120.0, 190.0, 220.0, 420.0):
        events = [e for e in open_night.events if e.time < open_night.first_arrival + last]
        told = texts(dataclasses.replace(open_night, events=events).plot().figure)
        clock = [text for text, _ in told if re.fullmatch(r"[\d:]*:\d\d", text)]
        assert len(set(clock)) == len(clock) > 1, last


def test_a_course_is_drawn_from_its_changes_alone(night: Trace, open_night: Trace) -> None:
    """The same steps as with every point, at a fraction of the size of a page of many panels."""
    few = course_figure.inside_over_time([night, open_night], quantiles=(0.0, 1.0))
    with mock.patch.object(course_figure, "_changes", lambda *curves: np.arange(len(curves[0]))):
        many = course_figure.inside_over_time([night, open_night], quantiles=(0.0, 1.0))
    one, other = few.get_lines()[0], many.get_lines()[0]
    assert len(one.get_xdata()) < len(other.get_xdata()) / 4
    at = np.linspace(0.01, 9.9, 777)

    def steps(line: Any) -> np.ndarray:
        x, y = np.asarray(line.get_xdata()), np.asarray(line.get_ydata())
        return y[np.searchsorted(x, at, side="right") - 1]

    assert (steps(one) == steps(other)).all()
    assert np.ptp(steps(one)) > 5
