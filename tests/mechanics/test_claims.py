"""Claims of the trade: verdicts follow from their numbers, and other cases get other verdicts."""

import re
from dataclasses import replace
from math import asin, radians, tan

import pytest

from soundergate.mechanics import words
from soundergate.mechanics.claims import (
    CLAIMS,
    Verdict,
    drop_fastest,
    easiest_to_open,
    examine,
    figures,
    knee_light,
    lever_with_weak_solenoid,
    nearly_upright_slowest,
    table,
    top_hinged_slower,
    wide_heavier,
)
from soundergate.mechanics.claims_case import Case
from soundergate.mechanics.words import SI, US

CASE = Case()


@pytest.fixture(scope="module")
def verdicts() -> tuple[Verdict, ...]:
    return examine()


def test_every_claim_is_judged_with_reason_and_numbers(verdicts: tuple[Verdict, ...]) -> None:
    assert len(verdicts) == len(CLAIMS) == 7
    for verdict in verdicts:
        assert verdict.origin == "common practice, no source"
        assert verdict.reason
        assert verdict.figures
        assert verdict.checks
    told = table(verdicts)
    assert list(told["verdict"]) == [v.verdict for v in verdicts]
    assert all("inf" not in text for text in told["figures"])


@pytest.mark.parametrize(
    ("checks", "verdict"),
    [
        ({"a": True, "b": True}, "agree"),
        ({"a": True, "b": False}, "depends"),
        ({"a": False, "b": False}, "disagree"),
    ],
)
def test_the_verdict_is_that_of_the_checks(checks: dict[str, bool], verdict: str) -> None:
    assert Verdict("claim", checks, "why", {}).verdict == verdict


def test_a_drop_gate_is_shut_first_but_bars_bodies_later() -> None:
    verdict = drop_fastest(CASE)
    assert verdict.checks["is shut before a top-hinged gate"]
    assert not verdict.checks["bars a juvenile before a top-hinged gate"]
    figures = verdict.figures
    assert figures["drop, shut (s)"] < figures["top-hinged from level, shut (s)"]
    assert verdict.verdict == "depends"


def test_top_hinged_from_level_is_slower_only_at_the_very_end() -> None:
    verdict = top_hinged_slower(CASE)
    assert verdict.checks == {
        "bars a juvenile later": False,
        "bars an adult later": False,
        "is shut later": True,
    }
    # Only bodies of no height at all turn the answer round.
    low = top_hinged_slower(replace(CASE, juvenile=1e-5, adult=2e-5))
    assert low.verdict == "agree"


def test_nearly_upright_is_slowest_and_holds_least() -> None:
    verdict = nearly_upright_slowest(CASE)
    assert verdict.verdict == "agree"
    figures = verdict.figures
    assert figures["set at 175 deg, load (N)"] < 0.1 * figures["set at 90 deg, load (N)"]
    assert figures["set at 175 deg, shut (s)"] > 2.0 * figures["set at 90 deg, shut (s)"]


def test_a_lever_gives_force_but_takes_travel() -> None:
    verdict = lever_with_weak_solenoid(CASE)
    assert verdict.checks["the solenoid alone is too weak"]
    assert verdict.checks["a lever gives it force enough"]
    assert not verdict.checks["the lever leaves it stroke enough"]
    assert verdict.checks["the air cylinder does without"]
    roomy = lever_with_weak_solenoid(replace(CASE, short_stroke=0.1))
    assert roomy.verdict == "agree"
    strong = lever_with_weak_solenoid(replace(CASE, weak_pull=2000.0))
    assert not strong.checks["the solenoid alone is too weak"]


def test_who_opens_what_turns_on_the_body_and_the_catch() -> None:
    verdict = easiest_to_open(CASE)
    assert verdict.checks["top-hinged easiest to begin"]
    assert verdict.checks["drop hardest to begin"]
    assert not verdict.checks["also so with the usual catch"]
    figures = verdict.figures
    assert figures["top-hinged, to begin (N)"] < 1.0 < figures["drop, to begin (N)"]


def test_a_knee_beats_a_dry_pin_but_not_every_greased_one() -> None:
    verdict = knee_light(CASE)
    assert verdict.checks["holds any load, even without friction"]
    assert verdict.checks["releases with less than a pin, dry"]
    assert not verdict.checks["releases with less than a pin, greased"]
    # 2 tan(5 deg + psi), sin psi = 0.4 (half an inch) / (6 in)
    rubbing = 2.0 * tan(radians(5.0) + asin(0.4 / 12.0))
    assert verdict.figures["knee 5 deg, friction 0.4: pull / load"] == pytest.approx(rubbing)


def test_wide_gates_are_heavier_and_most_load_the_latch_more() -> None:
    verdict = wide_heavier(CASE)
    assert all(good for name, good in verdict.checks.items() if "heavier" in name)
    assert verdict.checks["drop: more load on the latch"]
    assert not verdict.checks["side-hinged: more load on the latch"]
    light = wide_heavier(replace(CASE, material=(("mass", "20 kg"),)))
    assert not light.checks["drop: heavier"]


def test_a_case_of_a_scenario(trap) -> None:
    latch = {"kind": "pin", "puller": "solenoid", "pull": "15 lbf", "gap": "0.75 in"}
    case = Case.of(trap({"kind": "top-hinged", "plywood": "3/4 in"}, latch, width="5 ft"))
    assert case.material == (("plywood", "3/4 in"),)
    assert (case.width, case.wide) == (pytest.approx(5 * 0.3048), pytest.approx(10 * 0.3048))
    assert case.weak_pull == pytest.approx(15 * 4.4482216152605)
    assert case.short_stroke == pytest.approx(0.75 * 0.0254)
    assert case.juvenile == pytest.approx(0.85 * 0.178 * 25**0.33)
    assert case.adult == pytest.approx(0.85 * 0.178 * 70**0.33)
    assert "gates 5.0 ft wide and 3.0 ft high of 3/4 in plywood" in words.told(case.text(), US)
    air = Case.of(trap(width="4 ft"))
    assert (air.weak_pull, air.short_stroke) == (Case.weak_pull, Case.short_stroke)


def test_a_stated_mass_is_spread_over_the_face(trap) -> None:
    """Twice as wide then weighs twice as much, which a stated mass alone would not."""
    case = Case.of(trap({"kind": "drop", "mass": "30 kg"}))
    assert case.opening("drop").mass == pytest.approx(30.0)
    assert case.opening("drop", case.wide).mass == pytest.approx(60.0)
    assert wide_heavier(case).checks["drop: heavier"]


def test_figures_speak_one_system(verdicts: tuple[Verdict, ...]) -> None:
    us, si = table(verdicts, US), table(verdicts, SI)
    for told, others in ((us, r"\d (N|mm|m|kg|m/s)\b"), (si, r"\d (lbf|in|ft|lb|mph|ft/s)\b")):
        for column in ("reason", "figures"):
            assert not any(re.search(others, text) for text in told[column])
    assert "gate mass: 75 lb" in us["figures"][3]
    assert figures(verdicts[0], US)[0] == ("drop, bars a juvenile", "0.346 s")


def test_no_lever_at_all_is_said(trap) -> None:
    verdict = lever_with_weak_solenoid(replace(CASE, weak_pull=1.0))
    assert not verdict.checks["a lever gives it force enough"]
    assert "no lever up to 30 gives the force" in verdict.reason
    assert ("least whole lever ratio", "none") in figures(verdict, US)
