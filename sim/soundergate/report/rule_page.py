"""Sentences, tables and the page of a release rule."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from soundergate.report import study_parts
from soundergate.report.answers import robust_answer
from soundergate.report.comparison_page import comparison_page
from soundergate.report.numbers import percent
from soundergate.report.page import Page, Picture, Table
from soundergate.report.rule_card import rule_card, rule_lines
from soundergate.study.release import FOUND, OWN

if TYPE_CHECKING:
    from soundergate.study.release import ReleaseResult

CAUTIONS = (
    "Whoever releases from afar must see the opening first: no person, dog or other animal may be "
    "in it or near it, and nobody may be at work at the trap.",
)


def rule_answer(result: ReleaseResult) -> list[str]:
    """The rule in a sentence, what it does, what hindsight would, and whether it lasts."""
    found, own = (result.comparison[name] for name in (FOUND, OWN))
    told = [
        "; ".join(f"{when}: {what}" for when, what in rule_lines(result.rule, result.group)) + ".",
        f"On {result.comparison.nights:,} nights that it was not sought on, this rule catches "
        f"{percent(found['fraction_caught'])} of the group, the whole of it on "
        f"{percent(found['whole_group'])} of nights; the file's own rule "
        f"{percent(own['fraction_caught'])} and {percent(own['whole_group'])}.",
        _hindsight(result),
    ]
    if result.taught_costs == 0:
        told.append(
            "Pigs that are shut out and learn cost nothing here; --taught-costs gives them a price."
        )
    else:
        told.append(f"A pig that is free and taught counts as {result.taught_costs:g} pigs lost.")
    if result.worlds is not None:
        told += robust_answer(result.worlds)
    else:
        told.append("Sought for pigs as assumed; --worlds asks whether it lasts where they differ.")
    return told


def _hindsight(result: ReleaseResult) -> str:
    mean, interval = result.hindsight
    low, high = (100 * end for end in interval[:2])
    span = "" if math.isnan(low) else f" ({low:.0f} to {high:.0f})"
    what = "points of the group" if result.wanted == "fraction_caught" else "nights in 100"
    less = ", less what the taught cost" if result.taught_costs else ""
    return (
        f"Whoever knew each night beforehand, and released at its best stage and count, would "
        f"come to {100 * mean:.0f}{span} {what}{less}: no rule of this kind can do better."
    )


def rule_table(result: ReleaseResult) -> Table:
    """The card as a table."""
    rows = [[when, what] for when, what in rule_lines(result.rule, result.group)]
    return Table("Release rule", ["since the alert", f"counted, of {result.group}"], rows)


def rule_page(result: ReleaseResult) -> Page:
    """A page that begins with the card."""
    page = comparison_page(result.comparison, title=result.scenario.title or "Release rule")
    page.kind = f"Release rule, tried on {result.comparison.nights:,} nights"
    page.answer = rule_answer(result)
    card = Picture(
        rule_card(result.rule, result.group).figure,  # type: ignore[arg-type]
        "Card: " + "; ".join(": ".join(line) for line in rule_lines(result.rule, result.group)),
        "The card, to be read at night.",
        "card",
    )
    page.pictures = [card, *page.pictures, *_worlds(result)]
    tables: Sequence[Table] = [rule_table(result), *page.tables]
    if result.worlds is not None:
        tables = [*tables, *study_parts.robust_tables(result.worlds)]
    page.tables = tables
    page.added_cautions = CAUTIONS
    page.scenario_text = json.dumps(
        {"rule": result.rule.toml(), "scenario": result.scenario.raw},
        indent=2, ensure_ascii=False, default=str,
    )  # fmt: skip
    page.data = result.to_json()
    return page


def _worlds(result: ReleaseResult) -> list[Picture]:
    """How the difference lies over the worlds. What is worth knowing stands in a table: a rule that
    is ahead in nearly all of them leaves nothing to draw."""
    return [] if result.worlds is None else study_parts.robust_pictures(result.worlds)[:1]
