"""Traffic in and out whose law is known exactly, written as ordinary scenario files.

Nights are Markov chains here too (see test_exact_nights); where a departure pulls on the others
for a fixed while, the oracle is a second simulation, written another way. A right engine fails
one of these tests with probability 1e-4; seeds are fixed. Slightly wrong rates must fail.
"""

from __future__ import annotations

import numpy as np
from scipy import stats
from scipy.linalg import expm

FALSE_ALARM = 1e-4
SEED = 20260107
NIGHTS = 200_000


def birth_death_law(chain, n: int, entry: float, leave: float, pull: float, crowd: float, t: float):
    """P(k inside at t), n outside at 0: each outside enters and each inside leaves on its own."""
    states = list(range(n + 1))
    rates = {(k, k + 1): (n - k) * (1.0 + pull * k) / entry for k in range(n)}
    rates |= {(k, k - 1): k * (1.0 + crowd * k) / leave for k in range(1, n + 1)}
    return expm(chain(rates, states) * t)[0]


def test_coming_and_going_without_a_queue(plain_night, inside_at, chi_square, chain) -> None:
    """Leaving speeds up with the share of the corral's room that is taken: by 0.8 / 40 a pig."""
    counts = inside_at(
        plain_night, "100 s", SEED + 5, NIGHTS,
        sounder={"juveniles": 5},
        corral={"diameter": "10 m", "space_per_pig": f"{np.pi * 25 / 40} m^2"},
        entry={"social_pull": 0.2},
        leaving={"clock": {"dist": "exponential", "mean": "40 s"}, "return_share": 1,
                 "crowding": 8.0},
    )  # fmt: skip
    assert chi_square(counts, birth_death_law(chain, 5, 60.0, 40.0, 0.2, 0.2, 100.0)) > FALSE_ALARM
    assert chi_square(counts, birth_death_law(chain, 5, 60.0, 40.0, 0.2, 0.18, 100.0)) < FALSE_ALARM
    assert chi_square(counts, birth_death_law(chain, 5, 60.0, 41.0, 0.2, 0.2, 100.0)) < FALSE_ALARM


def one_lane_law(
    chain, n: int, entry: float, leave: float, crossing: float, t: float
) -> np.ndarray:
    """P(k inside at t) with one lane shared by both ways, first come first served.

    A state is the string of those at the opening in order, the first one crossing ("i" in, "o"
    out), and the number settled inside; those that wait to leave still count as inside.
    """
    start = ("", 0)
    states, rates, todo = [start], {}, [start]
    while todo:
        queue, settled = state = todo.pop()
        outside = n - len(queue) - settled
        steps = []
        if outside:
            steps.append(((queue + "i", settled), outside / entry))
        if settled:
            steps.append(((queue + "o", settled - 1), settled / leave))
        if queue:
            steps.append(((queue[1:], settled + (queue[0] == "i")), 1.0 / crossing))
        for end, rate in steps:
            rates[state, end] = rate
            if end not in states:
                states.append(end)
                todo.append(end)
    law = expm(chain(rates, states) * t)[0]
    inside = np.zeros(n + 1)
    for (queue, settled), p in zip(states, law, strict=True):
        inside[settled + queue[1:].count("o")] += p
    return inside


def test_two_way_traffic_through_one_lane(plain_night, inside_at, chi_square, chain) -> None:
    text = plain_night.replace('width = "20 ft"', 'width = "50 cm"')
    counts = inside_at(
        text, "60 s", SEED + 6, NIGHTS,
        sounder={"juveniles": 4},
        body={"exponent": 0.0, "width_coefficient": "25 cm", "height_coefficient": "50 cm"},
        entry={"clock": {"dist": "exponential", "mean": "15 s"}},
        leaving={"clock": {"dist": "exponential", "mean": "25 s"}, "return_share": 1},
        movement={"crossing": {"dist": "exponential", "mean": "12 s"}, "side_clearance": 1.6},
    )  # fmt: skip
    assert chi_square(counts, one_lane_law(chain, 4, 15.0, 25.0, 12.0, 60.0)) > FALSE_ALARM
    assert chi_square(counts, one_lane_law(chain, 4, 15.0, 25.0, 13.5, 60.0)) < FALSE_ALARM
    assert chi_square(counts, one_lane_law(chain, 4, 15.0, 26.0, 12.0, 60.0)) < FALSE_ALARM


def test_some_leave_for_good(plain_night, inside_at, chi_square, chain) -> None:
    """Of those that leave a share r comes back; (outside, inside) then is a chain that drains."""
    n, entry, leave, back, t = 4, 30.0, 50.0, 0.4, 80.0
    states = [(out, ins) for out in range(n + 1) for ins in range(n + 1 - out)]

    def law(back: float) -> np.ndarray:
        rates = {}
        for out, ins in states:
            if out:
                rates[(out, ins), (out - 1, ins + 1)] = out / entry
            if ins:
                rates[(out, ins), (out + 1, ins - 1)] = ins * back / leave
                rates[(out, ins), (out, ins - 1)] = ins * (1.0 - back) / leave
        p = expm(chain(rates, states) * t)[states.index((n, 0))]
        inside = np.zeros(n + 1)
        np.add.at(inside, [ins for _, ins in states], p)
        return inside

    counts = inside_at(
        plain_night, "80 s", SEED + 7, NIGHTS,
        sounder={"juveniles": n},
        entry={"clock": {"dist": "exponential", "mean": f"{entry} s"}},
        leaving={"clock": {"dist": "exponential", "mean": f"{leave} s"}, "return_share": back},
    )  # fmt: skip
    assert chi_square(counts, law(back)) > FALSE_ALARM
    assert chi_square(counts, law(back + 0.02)) < FALSE_ALARM


# ---- social pull and contagion against another simulation ----------------------------------


def gillespie(
    rng: np.random.Generator,
    n: int,
    entry: float,
    leave: float,
    pull: float,
    contagion: float,
    window: float,
    back: float,
    until: float,
) -> int:
    """Inside at ``until``: Gillespie's direct method (J. Comput. Phys. 22 (1976) 403), with a
    departure's pull on the others ending a fixed time later. At most four pull at once."""
    t, out, ins, ends = 0.0, n, 0, []
    while True:
        up = out * (1.0 + pull * ins) / entry
        down = ins * (1.0 + contagion * min(4, len(ends))) / leave
        wait = rng.exponential(1.0 / (up + down)) if up + down > 0.0 else np.inf
        if ends and ends[0] < min(t + wait, until):
            t = ends.pop(0)
            continue
        t += wait
        if t >= until:
            return ins
        if rng.random() * (up + down) < up:
            out, ins = out - 1, ins + 1
        else:
            ins -= 1
            out += int(rng.random() < back)
            ends.append(t + window)  # fmt: skip


def test_social_pull_and_contagion(plain_night, inside_at) -> None:
    n, until = 8, 150.0
    counts = inside_at(
        plain_night, f"{until:.0f} s", SEED + 8, 50_000,
        sounder={"juveniles": n},
        entry={"clock": {"dist": "exponential", "mean": "80 s"}, "social_pull": 0.3},
        leaving={"clock": {"dist": "exponential", "mean": "120 s"}, "return_share": 0.7,
                 "contagion": 1.0, "contagion_window": "30 s"},
    )  # fmt: skip
    rng = np.random.default_rng(SEED)
    args = {"n": n, "entry": 80.0, "leave": 120.0, "pull": 0.3, "back": 0.7, "until": until}

    def told(contagion: float, window: float) -> float:
        other = [gillespie(rng, contagion=contagion, window=window, **args) for _ in range(5_000)]
        table = np.array([counts, np.bincount(other, minlength=n + 1)])
        return float(stats.chi2_contingency(table[:, table.sum(axis=0) > 10]).pvalue)

    assert told(1.0, 30.0) > FALSE_ALARM
    assert told(0.8, 30.0) < FALSE_ALARM
    assert told(1.0, 25.0) < FALSE_ALARM
