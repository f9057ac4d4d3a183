"""The page of a release rule: the card first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soundergate.report.contents import Picture
from soundergate.report.figures.rule_card import rule_card
from soundergate.report.pages.comparison import comparison_page
from soundergate.report.pages.page import Page
from soundergate.report.pages.parts import as_written
from soundergate.report.pages.study import robust_pictures
from soundergate.report.tables.rule import rule_tables
from soundergate.report.words.rule_answers import rule_answer, rule_lines

if TYPE_CHECKING:
    from soundergate.studies.rule.release import ReleaseResult

CAUTIONS = (
    "Whoever releases from afar must see the opening first: no person, dog or other animal may be "
    "in it or near it, and nobody may be at work at the trap.",
)


def rule_page(result: ReleaseResult) -> Page:
    """A page that begins with the card."""
    page = comparison_page(result.comparison, title=result.scenario.title or "Release rule")
    page.kind = f"Release rule, tried on {result.comparison.nights:,} nights"
    if result.worlds is not None:
        page.kind = f"Release rule, judged in {result.worlds.worlds} plausible worlds"
    page.answer = rule_answer(result)
    card = Picture(
        rule_card(result.rule, result.group).figure,  # type: ignore[arg-type]
        "Card: " + "; ".join(": ".join(line) for line in rule_lines(result.rule, result.group)),
        "The card, to be read at night.",
        "card",
    )
    page.pictures = [card, *_worlds(result), *page.pictures]
    page.tables = [*rule_tables(result), *page.tables]
    page.added_cautions = CAUTIONS
    page.scenario_text = as_written({"rule": result.rule.toml(), "scenario": result.scenario.raw})
    page.data = result.to_json()
    return page


def _worlds(result: ReleaseResult) -> list[Picture]:
    """How the difference lies over the worlds. What is worth knowing stands in a table: a rule that
    is ahead in nearly all of them leaves nothing to draw."""
    return [] if result.worlds is None else robust_pictures(result.worlds)[:1]
