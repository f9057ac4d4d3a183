"""The card of a release rule: what it says, that it can be read, and its page."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from shared.legible import assert_legible
from shared.traps import SOLENOID_DROP
from soundergate.report.figures.rule_card import rule_card
from soundergate.report.pages.page import render
from soundergate.report.pages.rule import rule_page
from soundergate.report.words.rule_answers import rule_answer, rule_lines, unit
from soundergate.scenario.loading import from_table
from soundergate.studies.rule.release import ALL, FIRST, FOUND, OWN, ReleaseResult, own_rule, rule
from soundergate.studies.rule.release_rule import NEVER, Rule, Step
from soundergate.studies.rule.release_value import Objective
from soundergate.studies.sentences import about_percent

BASE = {
    "title": "Invented: <i>a person</i> watches",
    "sounder": {"sows": 1, "juveniles": 3},
    "opening": [SOLENOID_DROP],
    "trigger": {"kind": "person"},
}
LONG = Rule(tuple(Step(60.0 * m, 200 - 17 * k) for k, m in enumerate((0, 5, 10, 15, 20, 30, 45))))


@pytest.fixture(scope="module")
def result() -> ReleaseResult:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("soundergate.studies.rule.search.WORLDS", 4)
        return rule(from_table(BASE), nights=200, searched=200, worlds=20, taught_costs=0.5)


def test_lines_say_what_to_do() -> None:
    steps = Rule((Step(0.0, NEVER), Step(300.0, 8), Step(750.0, 5), Step(3600.0, 1)))
    assert rule_lines(steps, 8) == [
        ("0 to 5 min", "wait"),
        ("5 to 12.5 min", "release at all 8"),
        ("12.5 to 60 min", "release at 5 or more"),
        ("from 60 min on", "release at 1 or more"),
    ]
    shares = Rule((Step(0.0, NEVER, 0.9), Step(60.0, 3, 0.9)))
    assert [what for _, what in rule_lines(shares, 8)] == [
        "release at 90 %",
        "release at 3, or 90 %",
    ]


@pytest.mark.parametrize("group", [4, 200])
@pytest.mark.parametrize("steps", [Rule((Step(0.0, 3),)), LONG, Rule((Step(0.0, NEVER),))])
def test_a_card_can_be_read(steps: Rule, group: int) -> None:
    figure = rule_card(steps, group).figure
    assert_legible(figure)
    shown = " ".join(text.get_text() for text in figure.axes[0].texts)
    for when, what in rule_lines(steps, group):
        assert when in shown
        assert what in shown
    assert "no person, dog or other animal" in shown


def test_it_is_light_on_dark() -> None:
    """Contrast of the words on the card by WCAG 2.1, relative luminance: 7 or more."""
    axes = rule_card(LONG, 200).figure.axes[0]

    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    ground = axes.get_facecolor()
    assert ground[:3] == (0.0, 0.0, 0.0)
    assert all((luminance(t.get_color()) + 0.05) / 0.05 >= 6 for t in axes.texts)
    bold = [t for t in axes.texts if t.get_weight() == "bold"]
    assert len(bold) == len(LONG.steps)
    assert all((luminance(t.get_color()) + 0.05) / 0.05 >= 12 for t in bold)


def test_a_page_is_whole(result: ReleaseResult) -> None:
    text = render(rule_page(result))
    assert "&lt;i&gt;a person&lt;/i&gt;" in text
    assert "<i>a person</i>" not in text
    assert "no person, dog or other animal may be" in text
    assert "local codes and licensed practice come first" in text.lower()
    assert "nan" not in re.sub(r"<script.*?</script>", "", text, flags=re.S).lower().split()


def test_a_file_that_has_the_best_rule_is_told_so(result: ReleaseResult) -> None:
    assert "nothing that was tried is better" not in " ".join(rule_answer(result))
    kept = replace(result, rule=own_rule(result.scenario))
    assert "It is the file's own: nothing that was tried is better." in " ".join(rule_answer(kept))


def test_answers_say_what_was_found(result: ReleaseResult) -> None:
    told = " ".join(rule_answer(result))
    assert f"it would be {100 * result.hindsight.estimate:.1f}" in told
    assert told.startswith("Goal: ")
    assert f" judged by a score: {unit(result.objective)}." in told
    assert "With every unknown at its middle value, on 200 other nights than it was" in told
    assert "Monte Carlo error" in told
    _, middle, most = result.worlds.quantiles(FOUND, "fraction_caught")
    lead = told.index("In nine of ten plausible worlds this rule catches between ")
    assert told.index(f"and {about_percent(most.estimate)} of the group,") > lead
    assert told.index(f"in the middle one {about_percent(middle.estimate)};") > lead
    assert lead < told.index("With every unknown")
    for other in (OWN, ALL, FIRST):
        assert f"“{other}”" in told
    assert "sought in 4 plausible worlds and judged in 20 others" in told
    alone = " ".join(rule_answer(replace(result, worlds=None, sought_in=0)))
    assert f" Score: {unit(result.objective)}. On 200 other nights" in alone
    assert "No plausible worlds were played" in alone
    assert rule_lines(result.rule, result.group)[0][0] in told


@pytest.mark.parametrize(
    ("wanted", "costs", "words"),
    [
        ("fraction_caught", 0.0, "% of the group caught"),
        (
            "fraction_caught",
            1.0,
            "% of the group caught, less the pigs that got away and saw the gate close",
        ),
        (
            "whole_group",
            2.0,
            "whole groups caught in 100 nights, less 2 times the pigs that got away and saw the "
            "gate close, as parts of a group",
        ),
    ],
)
def test_what_values_count_is_said_plainly(wanted: str, costs: float, words: str) -> None:
    assert unit(Objective(wanted, costs)) == words
