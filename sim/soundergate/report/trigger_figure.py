"""What makes each trigger act: where its line hangs, what its container pulls, a person's delays.

Each picture draws what the model uses, from the scenario and its solved mechanics, so that a reader
sees why moving the line, the bait or the container changes the night.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from soundergate.behavior.group import Group, group_of
from soundergate.report import style
from soundergate.triggers import bait as bait_trigger
from soundergate.triggers import line as line_trigger
from soundergate.triggers import person as person_trigger

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from soundergate.mechanics.model import Setup
    from soundergate.scenario.distributions import Duration
    from soundergate.scenario.schema import Scenario
    from soundergate.scenario.trigger_keys import BaitTrigger, LineTrigger, PersonTrigger

_NINETY = 1.6448536269514722
"""Standard normal quantile of 95 %: a line from 5 to 95 %."""
_LEVEL_WORDS = ("full", "3/4", "1/2", "1/4", "empty")


def trigger_figures(
    scenario: Scenario, setup: Setup, units: str | style.Units = "metric"
) -> dict[str, tuple[Figure, str]]:
    """A figure and its words for a screen reader, by name, for each part of the trigger."""
    drawn: dict[str, tuple[Figure, str]] = {}
    for number, part in enumerate(scenario.trigger.parts):
        kind = getattr(part, "kind", "none")
        name = kind if kind not in drawn else f"{kind} {number + 1}"
        if kind == "line":
            drawn[name] = line_figure(part, scenario, setup, units)  # type: ignore[arg-type]
        elif kind == "bait":
            drawn[name] = bait_figure(part, scenario, setup, units)  # type: ignore[arg-type]
        elif kind == "person":
            drawn[name] = person_figure(part, scenario)  # type: ignore[arg-type]
    return drawn


def _classes(group: Group) -> dict[str, tuple[float, float]]:
    """By class present in the first sounder that has it: ln of the median mass, and its sd."""
    found: dict[str, tuple[float, float]] = {}
    for kind in group.classes:
        found.setdefault(kind.name, (kind.ln_mass, kind.ln_mass_sd))
    return found


# ---- a line ------------------------------------------------------------------------------------


def line_figure(
    line: LineTrigger, scenario: Scenario, setup: Setup, units: str | style.Units = "metric"
) -> tuple[Figure, str]:
    """Plan of the line, backs against its height, and the push it takes to trip it."""
    shown = style.units(units)
    work = line_trigger.line_work(line, scenario, setup)
    with style.sheet():
        figure = style.new_figure(3.6, 7.6)
        plan, backs, pushes = figure.subplots(1, 3, width_ratios=(1.0, 1.15, 1.15))
        _plan(plan, line, scenario, shown)
        touching = _backs(backs, work, scenario, shown)
        _pushes(pushes, work, line, scenario, setup, shown)
    where = "beyond the bait" if work.beyond else "before the bait"
    words = ", ".join(f"{share:.0%} of {name}s" for name, share in touching.items())
    return figure, (
        f"A line {where}, {shown.show('short', work.height)} high at its middle. Tall enough to "
        f"touch it: {words}."
    )


def _plan(ax: Axes, line: LineTrigger, scenario: Scenario, units: style.Units) -> None:
    """The corral from above: opening at the foot, bait, and the line across."""
    from matplotlib.patches import Circle

    size, sign = units.length
    across = scenario.corral.diameter / size
    opening = scenario.opening[0]
    ax.add_patch(
        Circle((0, across / 2), across / 2, fill=False, edgecolor=style.INK, linewidth=1.2)
    )
    half = opening.width / size / 2
    ax.plot([-half, half], [0, 0], color=style.PAPER, linewidth=4)
    ax.plot([-half, half], [0, 0], color=style.INK, linewidth=1.2, linestyle=":")
    ax.plot(0, opening.bait_distance / size, "o", color=style.BLUE, markersize=7)
    at = line.distance / size
    chord = min(line.span / size / 2, math.sqrt(max(at * (across - at), 0.0)))
    ax.plot([-chord, chord], [at, at], color=style.ORANGE, linewidth=2)
    places = [(0.0, "opening"), (opening.bait_distance / size, "bait"), (at, "line")]
    labels = style.spread([y for y, _ in places], across * 0.09, 0.0, across)
    for (y, word), place in zip(places, labels, strict=True):
        ax.annotate(
            f"{word} {y:.0f} {sign}" if y else word,
            (across * 0.56, place),
            va="center",
            fontsize=8,
            annotation_clip=False,
        )
    ax.set_aspect("equal")
    ax.set_xlim(-across * 0.55, across * 1.05)
    ax.set_ylim(-across * 0.05, across * 1.03)
    ax.set_axis_off()
    ax.set_title("Where it hangs")


def _backs(
    ax: Axes, work: line_trigger.LineWork, scenario: Scenario, units: style.Units
) -> dict[str, float]:
    """Back heights, 5 to 95 %, against the line; the share of each class that touches it."""
    from statistics import NormalDist

    size, sign = units.short
    body = scenario.body
    touching: dict[str, float] = {}
    classes = _classes(group_of(scenario))
    for place, (name, (ln_mass, sd)) in enumerate(classes.items()):
        middle = math.log(body.height_coefficient) + body.exponent * ln_mass
        spread = math.hypot(body.exponent * sd, body.shoulder_scatter)
        ends = [math.exp(middle + z * spread) / size for z in (-_NINETY, _NINETY)]
        ax.plot([place, place], ends, color=style.BLUE, linewidth=7, solid_capstyle="butt")
        ax.plot(place, math.exp(middle) / size, "_", color=style.PAPER, markersize=10)
        ahead = middle - math.log(max(work.height, 1e-9))
        share = NormalDist().cdf(ahead / spread) if spread > 0.0 else float(ahead > 0.0)
        touching[name] = share
        ax.annotate(
            f"{share:.0%}", (place, ends[1]), (0, 4), textcoords="offset points", ha="center",
            fontsize=8,
        )  # fmt: skip
    ax.axhline(work.height / size, color=style.ORANGE, linewidth=2)
    ax.set_xticks(range(len(classes)), list(classes))
    ax.set_xlim(-0.6, len(classes) - 0.4)
    ax.set_ylim(0, ax.get_ylim()[1] * 1.12)
    ax.set_ylabel(f"back height ({sign})")
    ax.set_title("Who touches it")
    ax.grid(axis="y")
    return touching


def _pushes(
    ax: Axes,
    work: line_trigger.LineWork,
    line: LineTrigger,
    scenario: Scenario,
    setup: Setup,
    units: style.Units,
) -> None:
    """The push that trips the line over the span, and what each class can push."""
    size, sign = units.force
    pulled = [o for o in setup.openings if o.puller == "animal"]
    pull = max((o.pull_required for o in pulled), default=line.switch_force)
    travel = max((o.trip_travel for o in pulled), default=line.switch_travel)
    needed = line_trigger.push_needed(line, pull, travel) / size
    classes = _classes(group_of(scenario))
    strength = scenario.body.strength
    for place, (ln_mass, sd) in enumerate(classes.values()):
        middle = strength.ln_median + ln_mass + math.log(9.80665)
        spread = math.hypot(strength.sigma, sd)
        ends = [math.exp(middle + z * spread) / size for z in (-_NINETY, _NINETY)]
        ax.plot([place, place], ends, color=style.BLUE, linewidth=7, solid_capstyle="butt")
        ax.plot(place, math.exp(middle) / size, "_", color=style.PAPER, markersize=10)
    ax.axhline(needed, color=style.ORANGE, linewidth=2)
    ax.annotate(
        f"needed {needed:.3g} {sign}", (1.0, needed), (0, 4),
        xycoords=("axes fraction", "data"), textcoords="offset points", ha="right", fontsize=8,
    )  # fmt: skip
    ax.set_ylim(0, ax.get_ylim()[1] * 1.05)
    ax.set_xticks(range(len(classes)), list(classes))
    ax.set_xlim(-0.6, len(classes) - 0.4)
    ax.set_ylabel(f"sideways push ({sign})")
    ax.set_title("Pulls the latch" if not work.switch else "Works a switch")
    ax.grid(axis="y")


# ---- a container ---------------------------------------------------------------------------------


def bait_figure(
    bait: BaitTrigger, scenario: Scenario, setup: Setup, units: str | style.Units = "metric"
) -> tuple[Figure, str]:
    """As bait is eaten: what the falling container pulls, and who is strong enough to move it."""
    shown = style.units(units)
    size, sign = shown.force
    levels = range(len(bait_trigger.LEFT))
    weights = [bait_trigger.container_mass(bait, scenario, n) * 9.80665 / size for n in levels]
    able = [100.0 * bait_trigger.able_share(bait, scenario, n) for n in levels]
    pulled = [o for o in setup.openings if o.puller == "animal"]
    with style.sheet():
        figure = style.new_figure(3.2)
        pulls, movers = figure.subplots(1, 2)
        pulls.plot(levels, weights, color=style.BLUE, marker="o")
        pulls.set_ylim(0, 1.15 * max(weights))
        for o in pulled:
            need = o.pull_required / size
            high = need * math.exp(_NINETY * o.pull_required_sigma)
            pulls.axhspan(
                need * math.exp(-_NINETY * o.pull_required_sigma), high, color=style.PALE_ORANGE
            )
            pulls.axhline(need, color=style.ORANGE, linewidth=2)
            pulls.annotate(
                f"latch needs {need:.3g} {sign}\n(band: 5 to 95 %)", (4, high), (0, 3),
                textcoords="offset points", ha="right", fontsize=8,
            )  # fmt: skip
            pulls.set_ylim(0, max(pulls.get_ylim()[1], 1.35 * high))
        pulls.set_ylabel(f"weight of the falling container ({sign})")
        pulls.set_title("What it pulls" if pulled else "Its weight; it works a switch")
        movers.plot(levels, able, color=style.BLUE, marker="o")
        movers.set_ylim(0, 105)
        movers.set_ylabel("share of the group strong enough (%)")
        movers.set_title("Who can move it")
        for ax in (pulls, movers):
            ax.set_xticks(levels, _LEVEL_WORDS)
            ax.set_xlabel("bait left")
            ax.grid(axis="y")
    return figure, (
        f"Full, the container weighs {weights[0]:.3g} {sign} and {able[0]:.0f} % of the group can "
        f"move it; empty, {weights[-1]:.3g} {sign} and {able[-1]:.0f} %."
    )


# ---- a person ------------------------------------------------------------------------------------


def person_figure(person: PersonTrigger, scenario: Scenario) -> tuple[Figure, str]:
    """How late a person on this link acts, and how far the count on the screen can be trusted."""
    with style.sheet():
        figure = style.new_figure(3.4)
        delays, counts = figure.subplots(1, 2, width_ratios=(1.2, 1.0))
        _delays(delays, _delay_ranges(person))
        hidden = _counts(counts, person, scenario)
    return figure, (
        f"The steps from alert to release, 5 to 95 %, and the count on the screen: each animal "
        f"inside is missed with a probability of {hidden:.0%}."
    )


def _delay_ranges(person: PersonTrigger) -> Mapping[str, tuple[float, float, float]]:
    """5 %, median and 95 % in s of each step."""
    frame = person.frame_interval
    retry = person.retry * _lost(person.dropout, 0.95)
    return {
        "alert to watching": _range(person.alert),
        "waiting for a frame": (0.05 * frame, 0.5 * frame, 0.95 * frame),
        "picture on its way": (person.view_delay,) * 3,
        "making up one's mind": _range(person.reaction),
        "command on its way": _range(person.command_delay),
        "lost commands, sent again": (0.0, person.retry * _lost(person.dropout, 0.5), retry),
    }


def _range(duration: Duration) -> tuple[float, float, float]:
    return duration.quantile(0.05), duration.quantile(0.5), duration.quantile(0.95)


def _lost(share: float, q: float) -> int:
    """The q-quantile of how many commands are lost in a row (geometric)."""
    if share <= 0.0:
        return 0
    if share >= 1.0:
        return 50
    return max(0, math.ceil(math.log(1.0 - q) / math.log(share) - 1.0))


def _delays(ax: Axes, ranges: Mapping[str, tuple[float, float, float]]) -> None:
    longest = max(high for _, _, high in ranges.values())
    for place, (low, middle, high) in enumerate(ranges.values()):
        ax.plot([low, high], [-place, -place], color=style.BLUE, linewidth=6)
        ax.plot(middle, -place, "|", color=style.INK, markersize=11, markeredgewidth=1.6)
        ax.annotate(
            f"{middle:.2g} s" if middle else "0", (high, -place), (6, 0),
            textcoords="offset points", va="center", fontsize=8,
        )  # fmt: skip
    ax.set_yticks([-n for n in range(len(ranges))], list(ranges))
    ax.set_xscale("symlog", linthresh=0.1)
    ax.xaxis.set_major_formatter("{x:g}")
    ax.set_xlim(0, max(longest, 1.0) * 6)
    ax.set_xlabel("time (s), 5 to 95 %, median marked")
    ax.set_title("How late the release comes")
    ax.grid(axis="x")


def _counts(ax: Axes, person: PersonTrigger, scenario: Scenario) -> float:
    """Mean and 5 to 95 % of the count on the screen; the share that is missed."""
    from matplotlib.ticker import MaxNLocator

    table = person_trigger.seen_distribution(person, scenario)
    inside = np.arange(len(table))
    low, high = (np.array([np.argmax(row >= q) for row in table]) for q in (0.05, 0.95))
    mean = np.array([float(np.sum(1.0 - row)) for row in table])
    ax.fill_between(inside, low, high, color=style.PALE_BLUE, label="5 to 95 %")
    ax.plot(inside, mean, color=style.BLUE, label="mean")
    ax.plot(inside, inside, color=style.INK, linestyle=":", label="true count")
    ax.set_xlabel("animals inside")
    ax.set_ylabel("animals counted on the screen")
    ax.set_title("What the person counts")
    for axis in (ax.xaxis, ax.yaxis):
        axis.set_major_locator(MaxNLocator(integer=True))
    ax.legend(loc="upper left")
    ax.grid()
    return person_trigger.hidden_share(person, scenario)


def caption_of(name: str) -> str:
    """The line under the picture of a trigger of `trigger_figures`."""
    said = {
        "line": "Bars are 5 to 95 % of each class, the white mark its median; the orange line is "
        "what the trigger asks for.",
        "bait": "Bait levels as the model takes them; the band is the pull a latch may need.",
        "person": "Each step takes its own time on each night; a count's error stays until the "
        "true count changes.",
    }
    return said[name.split(" ")[0]]
