"""Width: two field trials found that it made no difference. Would they have seen one?

Metcalf et al. 2014 counted entries through openings of 0.9, 1.2, 1.5 and 1.8 m; Johnson, Fay and
others 2024 timed the first entry and those of half and of all of a sounder through doors of 0.8 and
1.2 m. Their numbers of seconds could not be had, so what is compared is the finding itself: the
share of simulated trials of that size that would find a difference, at the 5 % level. A trial that
finds nothing agrees with a model without effect, and with every model whose effect it is too small
to see; so the effect at which it would have become visible is given beside.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from face_validity import common
from face_validity.common import Row
from scipy.stats import mannwhitneyu

from soundergate.engine import play
from soundergate.scenario import Scenario, with_values
from soundergate.studies.players import plan_of

TIMED = (
    "Effects of trap door width on wild pig entrance into corral traps, Journal of the "
    "Southeastern Association of Fish and Wildlife Agencies 11, 2024 (Johnson DK and Fay AS among "
    "the authors)"
)
COUNTED = (
    "Metcalf EM, Parker ID, Lopez RR, Higginbotham B, Davis DS, Gersbach JR 2014, Impact of gate "
    "width of corral traps in potential wild pig trapping success, Wildlife Society Bulletin "
    "38(4):892-895"
)
SOUNDERS = (24, 23)
"""47 sounders, at 0.8 and at 1.2 m."""
CLIPS = 191
WIDTHS = (0.9, 1.2, 1.5, 1.8)
LEVEL = 0.05
SLOPES = (0.25, 0.5, 1.0, 1.5, 2.0)


def at_width(scenario: Scenario, metres: float) -> Scenario:
    return with_values(scenario, {"opening.width": f"{metres} m"})


def moments(nights: Sequence[tuple[int, list[float]]]) -> dict[str, np.ndarray]:
    """Seconds from the first arrival to the first entry, and to those of half and of all."""
    return {
        "first entry": np.array([times[0] for _, times in nights]),
        "half of the sounder": np.array([times[math.ceil(n / 2) - 1] for n, times in nights]),
        "the whole sounder": np.array([times[n - 1] for n, times in nights]),
    }


def found(narrow: np.ndarray, wide: np.ndarray, trials: int, level: float = LEVEL) -> float:
    """Share of trials of `SOUNDERS` that find a difference (Mann-Whitney, two-sided).

    Visits are drawn from the simulated ones with replacement; an entry that never came counts as
    the longest time.
    """
    rng = np.random.default_rng(common.SEED)
    hits = 0
    for _ in range(trials):
        a, b = (rng.choice(x, n) for x, n in zip((narrow, wide), SOUNDERS, strict=True))
        both = np.concatenate([a, b])
        if np.ptp(np.where(np.isinf(both), 1e12, both)) == 0.0:
            continue
        hits += mannwhitneyu(a, b).pvalue < level
    return hits / trials


def compared(
    scenario: Scenario, nights: int
) -> tuple[dict[str, np.ndarray], dict[str, np.ndarray]]:
    """The three times at 0.8 m and at 1.2 m, on common nights.

    Common, so that the two sets differ by what width does and not by which nights they had; a
    simulated trial then draws its sounders from each set apart.
    """
    narrow, wide = (common.entries(at_width(scenario, w), 0, nights) for w in (0.8, 1.2))
    return moments(narrow), moments(wide)


def timed_rows(nights: int, worlds: int, world_nights: int, trials: int) -> list[Row]:
    scenario = common.scenario("open")
    narrow, wide = compared(scenario, nights)
    names = list(narrow)
    in_world: list[list[float]] = []

    def ask(world: Scenario) -> float:
        a, b = compared(world, world_nights)
        in_world.append([found(a[name], b[name], trials) for name in names])
        return 0.0

    common.in_worlds(scenario, common.unknowns(scenario), worlds, ask)
    shares = np.array(in_world)
    rows = []
    for column, name in enumerate(names):
        share = found(narrow[name], wide[name], 4 * trials)
        half = 1.96 * math.sqrt(share * (1 - share) / (4 * trials))
        low, high = common.middle(shares[:, column])
        rows.append(
            Row(
                id=f"width 0.8 or 1.2 m, {name}",
                role=common.CONSISTENCY,
                quantity="share of trials with 47 sounders that find a difference",
                published=0.0,
                published_says="this one trial found none",
                source=TIMED,
                simulated=share,
                simulated_low=max(0.0, share - half),
                simulated_high=share + half,
                worlds_low=low,
                worlds_high=high,
                worlds=worlds,
                unit="share of trials",
                verdict=_verdict(share, high),
                remark=f"medians {_minutes(narrow[name])} and {_minutes(wide[name])}. The default "
                "openness_slope of 0 was set because of these trials, so no test; geometry alone "
                "could have made a difference and did not",
            )
        )
    return rows


def _verdict(share: float, high: float) -> str:
    text = f"agrees: {100 * (1 - share):.0f} % of such trials find nothing"
    return f"{text}; in all but 2.5 % of plausible worlds at least {100 * (1 - high):.0f} % do not"


def _minutes(times: np.ndarray) -> str:
    middle = float(np.median(times))
    return f"{middle / 60:.1f} min" if math.isfinite(middle) else "never on half of the nights"


def power_row(nights: int, trials: int) -> Row:
    """The slope of ln speed on ln width at which the trial would have seen an effect."""
    shares = {}
    for slope in SLOPES:
        scenario = with_values(common.scenario("open"), {"entry.openness_slope": slope})
        narrow, wide = compared(scenario, nights)
        shares[slope] = max(found(narrow[n], wide[n], trials, LEVEL / 3) for n in narrow)
    seen = [slope for slope, share in shares.items() if share >= 0.8]
    each = ", ".join(f"{slope:g}: {100 * share:.0f} %" for slope, share in shares.items())
    return Row(
        id="width, what such a trial can see",
        role=common.NONE,
        quantity="least openness_slope tried that four of five such trials would find",
        source=TIMED,
        simulated=min(seen) if seen else math.nan,
        unit="d ln speed / d ln width",
        verdict="says how weak the evidence against an effect is",
        remark="share of trials that find a difference in the one of the three times that shows it "
        f"best, at a third of 5 %, by slope: {each}. The register lets the slope lie between -0.5 "
        "and 0.5, where such a trial would mostly see nothing: two trials without an effect do not "
        "show that there is none",
    )


def entered(setup: Scenario, nights: int) -> np.ndarray:
    """Distinct pigs that entered, night by night."""
    outcomes = play(plan_of(setup), common.SEED, 0, nights)
    return np.asarray(outcomes["group_size"] - outcomes["never_entered"])


def counted_row(nights: int, worlds: int, world_nights: int) -> Row:
    """Distinct pigs a visit at 1.8 m less those at 0.9 m, as a share of those at 0.9 m."""
    scenario = common.scenario("open")

    def gain(setup: Scenario, count: int) -> tuple[float, float]:
        """Mean gain and its standard error, on common nights."""
        narrow, wide = (entered(at_width(setup, w), count) for w in (WIDTHS[0], WIDTHS[-1]))
        more, base = wide - narrow, narrow.mean()
        error = more.std(ddof=1) / math.sqrt(count)
        return float(more.mean() / base), float(error / base)

    middle, error = gain(scenario, nights)
    found_in = common.in_worlds(
        scenario, common.unknowns(scenario), worlds, lambda world: gain(world, world_nights)[0]
    )
    low, high = common.middle(found_in)
    visible = 1.96 * math.sqrt(2 / (CLIPS / 2))
    return Row(
        id="width 0.9 to 1.8 m, pigs that enter",
        role=common.CONSISTENCY,
        quantity="more pigs a visit at 1.8 m than at 0.9 m",
        published=0.0,
        published_low=-visible,
        published_high=visible,
        published_says=f"no significant difference among four widths, {CLIPS} clips; the range is "
        "what that many counted entries could not have told from none (Poisson, two halves)",
        source=COUNTED,
        simulated=middle,
        simulated_low=middle - 1.96 * error,
        simulated_high=middle + 1.96 * error,
        worlds_low=low,
        worlds_high=high,
        worlds=worlds,
        unit="of those at 0.9 m",
        verdict=_counted_verdict(middle, low, high, visible),
        remark="the default openness_slope of 0 was set because of this trial, so no test",
    )


def _counted_verdict(middle: float, low: float, high: float, visible: float) -> str:
    if abs(middle) > visible:
        return "DISAGREES: the trial would have seen this"
    text = "agrees: within what the trial could not tell from none"
    return text if max(-low, high) <= visible else f"{text}; some plausible worlds go beyond it"
