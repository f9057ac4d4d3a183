"""Pages: text stays text, data stays data, every part in its order, nothing fetched."""

from __future__ import annotations

import dataclasses
import json
import math
import re
from html.parser import HTMLParser
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.processes import python
from shared.results import from_outcomes
from shared.traps import plain_trap
from soundergate.engine.outcomes import Outcomes
from soundergate.engine.trace.trace import Trace, TraceAnimal
from soundergate.report.contents import Source
from soundergate.report.pages.cautions import STANDING, cautions
from soundergate.report.pages.comparison import comparison_page
from soundergate.report.pages.night import night_page
from soundergate.report.pages.page import Page, render
from soundergate.report.pages.run import run_page
from soundergate.report.pages.subject import bodies_of, sources_of, units_of
from soundergate.report.tables.table import Table
from soundergate.report.templating import json_text
from soundergate.report.words.answers import night_answer
from soundergate.scenario.assumptions import defaults_used
from soundergate.scenario.loading import loads
from soundergate.scenario.unit_system import SI, US
from soundergate.studies.arms import Arm
from soundergate.studies.compare import Comparison, compare_players
from soundergate.studies.estimate import RunResult
from soundergate.studies.worlds.tornado import DifferenceTornado

NASTY = """</script><script>alert(1)</script> <img src=x onerror='y'> "&amp;" ]]> <!-- {{ 7*7 }}"""


class Outline(HTMLParser):
    """Tags with attributes, the text of a page, and the text of its scripts."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words, self.scripts = "", []
        self._in_script = False
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._in_script = tag in ("script", "style")
        if tag == "script":
            self.scripts.append("")

    def handle_endtag(self, tag: str) -> None:
        self._in_script = False

    def handle_data(self, data: str) -> None:
        if not self._in_script:
            self.words += data
        elif self.scripts:
            self.scripts[-1] += data

    def count(self, tag: str) -> int:
        return sum(name == tag for name, _ in self.tags)


def run_result(arms: dict[str, Outcomes], title: str = "Invented") -> RunResult:
    scenario = loads(plain_trap(json.dumps(title)), "alder.toml")
    return from_outcomes(next(iter(arms.values())), scenario=scenario)


def comparison(arms: dict[str, Outcomes], names: list[str] | None = None) -> Comparison:
    scenario = loads(plain_trap(), "alder.toml")
    players: list[Any] = []
    for name, outcomes in zip(names or list(arms), arms.values(), strict=False):
        players.append(
            (
                Arm(name, scenario, {}),
                lambda seed, first, count, o=outcomes: o.rows(first, first + count),
            )
        )
    return compare_players(players, nights=400)


texts = st.text(st.characters(codec="utf-8"), max_size=40)


@given(
    st.recursive(
        texts | st.integers() | st.booleans() | st.none() | st.floats(allow_nan=False, width=64),
        lambda inner: st.lists(inner, max_size=4) | st.dictionaries(texts, inner, max_size=4),
        max_leaves=12,
    )
)
def test_embedded_data_reads_back_and_cannot_end_its_element(data: Any) -> None:
    text = json_text(data)
    assert not set("<>&\u2028\u2029") & set(text)
    expected = json.loads(
        json.dumps(data), parse_constant=lambda _: None
    )  # infinity, which JSON has not, becomes null
    assert json.loads(text) == expected


def test_nan_infinity_and_numpy_become_json() -> None:
    data = {"a": math.nan, "b": [math.inf, np.float64(1.5), np.int64(2), np.bool_(True)]}
    assert json.loads(json_text(data)) == {"a": None, "b": [None, 1.5, 2, True]}


@settings(deadline=None, max_examples=60)
@given(texts, texts, texts, texts)
def test_any_text_of_a_page_is_read_back_as_text(a: str, b: str, c: str, d: str) -> None:
    page = Page(
        title=a,
        kind=b,
        answer=[c],
        tables=[Table(d, [a, b], [[c, d]], note=a)],
        leans_on=[Source(a, b, c, d, a, b)],
        added_cautions=[c],
        made=[(d, a)],
        scenario_text=b,
        data={"text": d},
    )
    outline = Outline(render(page))
    for text in (a, b, c, d):
        assert clean(text) in clean(outline.words)
    assert outline.count("script") == 1
    assert json.loads(outline.scripts[0]) == {"text": d}
    plain = Outline(render(dataclasses.replace(page, title="x", kind="x", answer=["x"])))
    assert [tag for tag, _ in outline.tags] == [tag for tag, _ in plain.tags]


def clean(text: str) -> str:
    """As the parser sees it: HTML has no carriage return or NUL of its own."""
    return re.sub(r"[\r\n\0]+", " ", text)


@pytest.mark.slow
def test_nasty_titles_arms_and_animals_stay_text(arms: dict[str, Outcomes], night: Trace) -> None:
    first = night.animals[0]
    nasty = TraceAnimal("<i>&'\" 1", "<i>&'\"", *dataclasses.astuple(first)[2:])
    trace = dataclasses.replace(night, animals=(nasty, *night.animals[1:]), title=NASTY)
    pages = [
        run_page(run_result(arms, NASTY), traces=[trace]),
        night_page(trace),
        comparison_page(comparison(arms, [NASTY, NASTY + "b", "c"])),
    ]
    for page in pages:
        text = render(page)
        outline = Outline(text)
        assert NASTY in outline.words
        assert outline.count("img") == 0
        assert "alert(1)</script>" not in text
        assert all(json.loads(s) for s in outline.scripts if s.lstrip().startswith("{"))


@pytest.fixture(scope="module")
def pages(
    arms: dict[str, Outcomes], night: Trace, open_night: Trace, leaning: DifferenceTornado
) -> dict[str, str]:
    return {
        "run": render(run_page(run_result(arms), traces=[night, open_night])),
        "comparison": render(comparison_page(comparison(arms))),
        "comparison told in full": render(
            comparison_page(
                comparison(arms),
                leans=leaning,
                examples=("short <b>", {"typical": night, "worst, best": open_night}),
            )
        ),
        "night": render(night_page(night)),
        "open night": render(night_page(open_night)),
    }


KINDS = ["run", "comparison", "comparison told in full", "night", "open night"]


@pytest.mark.parametrize("kind", KINDS)
def test_answer_picture_table_sources_cautions_in_this_order(
    pages: dict[str, str], kind: str
) -> None:
    words = Outline(pages[kind]).words
    parts = ["The answer", "The numbers", "What it leans on", "Cautions", "How this was made"]
    places = [words.index(part) for part in parts]
    assert places == sorted(places)
    assert pages[kind].index("The answer") < pages[kind].index('class="figure"')
    assert pages[kind].index('class="figure"') < pages[kind].index("The numbers")


@pytest.mark.parametrize("kind", KINDS)
def test_the_standing_caution_is_on_every_page(pages: dict[str, str], kind: str) -> None:
    words = re.sub(r"\s+", " ", Outline(pages[kind]).words)
    assert "Local codes and licensed practice come first." in words
    assert "A strike energy shown here is a caution, never a clearance." in words


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_fetched(pages: dict[str, str], kind: str) -> None:
    outline = Outline(pages[kind])
    for tag, attributes in outline.tags:
        assert tag not in ("iframe", "object", "embed", "base", "audio", "video", "form")
        for name in ("src", "href", "xlink:href", "action", "data", "poster", "srcset"):
            value = attributes.get(name)
            assert value is None or value.startswith(("#", "data:")), (tag, name, value)
    assert not re.search(r"@import|url\((?!#)", pages[kind])
    assert "default-src 'none'" in pages[kind]


@pytest.mark.parametrize("kind", KINDS)
def test_structure_for_readers_and_tools(pages: dict[str, str], kind: str) -> None:
    outline = Outline(pages[kind])
    assert outline.tags[0] == ("html", {"lang": "en"})
    assert outline.count("title") >= 1
    assert outline.count("h1") == 1
    assert outline.count("caption") == outline.count("table")
    images = [a for tag, a in outline.tags if tag == "svg"]
    assert all(a.get("role") == "img" for a in images)
    assert all(a.get("aria-label") or a.get("aria-labelledby") for a in images)
    ids = [a["id"] for _, a in outline.tags if "id" in a]
    assert sorted(ids) == sorted(set(ids))
    named = [a[n] for _, a in outline.tags for n in ("href", "aria-labelledby") if a.get(n)]
    targets = {one.lstrip("#") for value in named for one in str(value).split()}
    assert {t for t in targets if not t.startswith("data:")} <= set(ids)


def test_the_same_result_gives_the_same_page(arms: dict[str, Outcomes]) -> None:
    first, second = (render(run_page(run_result(arms))) for _ in range(2))
    assert first == second


def test_answer_of_a_run_is_its_numbers(arms: dict[str, Outcomes]) -> None:
    result = run_result(arms)
    lead = run_page(result).answer[0]
    mean = float(np.mean(next(iter(arms.values()))["caught"]))
    assert lead.startswith(f"An average night catches {mean:.1f} of 11 animals, ")
    assert "95 % confidence, 400 nights" in lead


def test_answer_of_a_night(night: Trace, open_night: Trace) -> None:
    assert night_answer(night) == ("9 of 11 caught; 1 escaped before it was shut; 1 never went in.")
    assert night_answer(open_night).startswith("Nothing was released. 0 of 11 caught; 10 went in")
    empty = Trace(night.animals, night.corral)
    assert night_answer(empty) == "No animal came."
    failed = Trace(night.animals, night.corral, row={**open_night.row})
    failed.record(1.0, "arrives", animal=0)
    failed.record(2.0, "latch fails")
    assert night_answer(failed).startswith("The latch was pulled and no gate closed. 0 of 11")


def test_matplotlib_and_jinja_wait_until_they_are_needed() -> None:
    script = (
        "import sys, soundergate.report.pages.run, soundergate.report.figures;"
        "assert not {'matplotlib', 'jinja2', 'pandas'} & set(sys.modules), sys.modules.keys()"
    )
    python("-c", script, check=True)


def test_answer_of_a_comparison_says_what_is_settled(arms: dict[str, Outcomes]) -> None:
    outcomes = list(arms.values())
    far = comparison_page(comparison(arms)).answer[0]
    assert "“person on a radio link, waits for the last one” catches the largest share" in far
    assert far.endswith("these nights settle that it is ahead of both others.")
    same = comparison_page(comparison({"a": outcomes[0], "b": outcomes[0]})).answer[0]
    assert same.endswith("but these nights do not settle that it is ahead of the other.")


def test_cautions_are_said_once() -> None:
    assert cautions() == list(STANDING)
    own = "A raised drop gate is a suspended load: block it."
    added = cautions([own, own])
    assert added[0] == STANDING[0]
    assert added.count(own) == 1
    assert len(added) == len(STANDING)  # the gate's own words stand in place of the general ones


def test_units_follow_the_file() -> None:
    us = loads(plain_trap())
    assert units_of(us) == US
    metric = plain_trap('"2 ft wide"').replace("4 ft", "1.2 m").replace("3 ft", "90 cm")
    assert units_of(loads(metric)) == SI
    assert units_of(None) == SI


def test_bodies_by_class_present() -> None:
    bodies = bodies_of(loads(plain_trap()))
    assert list(bodies) == ["sow", "juvenile", "piglet"]
    assert bodies["sow"] > bodies["juvenile"] > bodies["piglet"] > 0.1
    gap = bodies_of(loads(plain_trap()), "gap")
    assert gap["sow"] < bodies["sow"]


def test_sources_lead_with_what_matters_then_with_what_nobody_knows() -> None:
    scenario = loads(plain_trap())
    rows = sources_of(scenario)
    ranged = [e for _, e in defaults_used(scenario) if e.numeric and e.low != e.high]
    weakest = ["assumption", "memory", "common practice", "invented", "handbook", "published"]
    places = [weakest.index(row.origin) for row in rows[: len(ranged)]]
    assert len(ranged) > 20
    assert places == sorted(places)
    assert len(rows) > 30
    asked = [rows[20].name, rows[5].name]
    assert [row.name for row in sources_of(scenario, asked)[:2]] == asked


def test_one_animal_is_not_told_as_a_group(arms: dict[str, Outcomes]) -> None:
    outcomes = Outcomes.concatenate([next(iter(arms.values())).rows(0, 50)])  # a copy
    for name in ("escaped_before", "escaped_during", "escaped_after", "never_entered", "educated"):
        outcomes[name][:] = 0
    for name in ("group_size", "arrived", "caught", "whole_group", "inside_at_release"):
        outcomes[name][:] = 1
    lead, *rest = run_page(from_outcomes(outcomes)).answer
    assert lead.startswith("The one animal is caught on ")
    assert "50 nights" in lead
    assert not any("group" in line for line in (lead, *rest))


def test_a_comparison_is_not_called_after_one_of_its_setups(arms: dict[str, Outcomes]) -> None:
    alike = comparison(arms)
    assert comparison_page(alike).title == "Invented"
    other = loads(plain_trap('"Another"'), "birch.toml")
    last = alike.arms[-1]
    result = dataclasses.replace(last.result, scenario=other)
    mixed = dataclasses.replace(
        alike, arms=[*alike.arms[:-1], dataclasses.replace(last, result=result)]
    )
    page = comparison_page(mixed)
    assert page.title == "A comparison"
    assert '"title": "Another"' in page.scenario_text
    assert comparison_page(mixed, title="Asked").title == "Asked"


def test_what_a_difference_leans_on_is_said_drawn_and_leads_the_list(
    arms: dict[str, Outcomes], leaning: DifferenceTornado
) -> None:
    page = comparison_page(comparison(arms), leans=leaning)
    assert page.answer[-1] == leaning.verdict()
    (picture,) = page.leans_pictures
    assert leaning.sentence() in picture.caption
    assert "the dashed one no difference" in picture.caption
    assert [source.name for source in page.leans_on[:2]] == leaning.matters()
    assert page.leans_on[1].range == "−0.5 to 0.5"


@pytest.mark.parametrize(("count", "open_ones"), [(1, 1), (6, 6), (7, 4), (40, 4)])
def test_a_long_answer_opens_with_one_sentence_and_three_more(count: int, open_ones: int) -> None:
    """The rest is folded away and still on the page."""
    told = [f"Sentence {number}." for number in range(count)]
    text = render(Page(title="t", kind="k", answer=told))
    answer = text[text.index('id="answer-head"') : text.index('class="note"')]
    assert all(f"<p>{one}</p>" in answer or f'class="lead">{one}</p>' in answer for one in told)
    before, _, folded = answer.partition("<details")
    assert before.count("Sentence") == open_ones
    assert folded.count("Sentence") == count - open_ones
    assert bool(folded) == (count > open_ones)
