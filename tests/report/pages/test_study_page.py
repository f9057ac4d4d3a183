"""A study's page: every arm in a panel, the plausible worlds, and the answer that they give."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from shared.traps import plain_trap
from soundergate.report.pages.page import Page, render, save_pictures, write
from soundergate.report.pages.study import study_page
from soundergate.report.words import answers
from soundergate.scenario.loading import load
from soundergate.studies.study import StudyResult
from soundergate.studies.study import study as run_study
from soundergate.studies.study_file import loads

STUDY = """
title = "Near or far?"
base = "trap.toml"
nights = 120
[[arm]]
name = "near"
set = {trigger.distance = "10 ft"}
[[arm]]
name = "far"
[[across]]
name = "light"
set = {opening.gate.mass = "20 lb"}
[[across]]
name = "heavy"
[robust]
worlds = 20
nights = 20
only = ["entry"]
"""


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> StudyResult:
    folder = tmp_path_factory.mktemp("study")
    (folder / "trap.toml").write_text(plain_trap(sows=2, juveniles=3))
    return run_study(loads(STUDY, folder / "study.toml"))


@pytest.fixture(scope="module")
def page(study: StudyResult) -> Page:
    return study_page(study)


def test_pictures_and_tables_of_a_study(study: StudyResult, page: Page) -> None:
    names = [picture.name for picture in page.pictures]
    assert names[:5] == ["worlds", "worth", "fates", "caught", "filling"]
    assert "difference_whole_group" in names
    captions = [table.caption for table in page.tables]
    assert captions[:4] == [
        "No matter, ahead, or depends",
        "Every setup over plausible worlds",
        "Differences over plausible worlds",
        "What is worth knowing before choosing",
    ]
    worlds = page.tables[2]
    assert study.robust is not None
    assert len(worlds.rows) == len(study.robust.differences) == 6 * 4
    first = study.robust.differences[0]
    assert worlds.rows[0][2] == f"{100 * first.share:.0f} %"
    assert page.data["robust"]["worlds"] == 20
    text = render(page)
    assert "That is over 20 plausible worlds" in text
    assert "near, light" in text


@pytest.mark.slow
def test_named_pictures_are_saved_each_once(page: Page, tmp_path: Path) -> None:
    few = [page.pictures[0], dataclasses.replace(page.pictures[1], name="")]
    page = dataclasses.replace(page, pictures=few)
    assert write(page, tmp_path / "report.html") == tmp_path / "report.html"
    assert [path.name for path in save_pictures(page, tmp_path)] == ["worlds.png"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["report.html", "worlds.png"]
    assert (tmp_path / "worlds.png").read_bytes().startswith(b"\x89PNG")
    page.pictures, page.leans_pictures = [], [dataclasses.replace(page.pictures[1], name="last")]
    both = save_pictures(page, tmp_path, ("png", "svg"))
    assert [path.name for path in both] == ["last.png", "last.svg"]


def test_every_arm_s_defaults_are_listed_once(page: Page) -> None:
    """Arms of this study that set the distance or the mass do not lean on its default."""
    names = [source.name for source in page.leans_on]
    assert len(set(names)) == len(names)
    assert "opening.1.gate.friction" in names
    distance = [s for s in page.leans_on if s.name == "trigger.distance"]
    assert len(distance) == 1
    assert distance[0].note.startswith("Only in “far, light” and “far, heavy”.")
    bends = next(s for s in page.leans_on if s.name == "trigger.bends")
    assert "setups" not in bends.note


def test_what_is_worth_knowing_leads_the_list(study: StudyResult, page: Page) -> None:
    assert study.robust is not None
    shown = [one.unknown for one in study.robust.worth() if one.shown]
    listed = [source.name for source in page.leans_on]
    if shown:
        assert listed[0] == shown[0]
    one = study_page(study, matters=["entry.clock"])
    assert one.leans_on[0].name == "entry.clock"
    assert "those that move the answer most first" in one.leans_intro


def test_the_answer_of_a_study_tells_the_worlds_before_the_defaults(study: StudyResult) -> None:
    lines = answers.study_answer(study)
    plain = answers.comparison_answer(study.comparison)
    tally, best, *rest = lines
    assert tally == (
        "Of all 6 pairs of setups it is left open. So few worlds cannot show more of so many "
        "pairs: play 46 or more."
    )
    assert best == study.robust.choice_sentences[0]
    assert rest[1] == study.robust.pair_sentences[0]
    assert any(line.startswith("That is over 20 plausible worlds") for line in lines)
    assert lines[-len(plain) + 1 :] == plain[1:]
    assert lines[-len(plain)].startswith("With every unknown at its middle value: “")
    assert lines[-len(plain) - 1] == study.robust.pair_sentences[-1]
    assert answers.study_answer(StudyResult(study.study, study.comparison)) == plain


def test_only_what_was_compared_counts_as_settled(study: StudyResult, tmp_path) -> None:
    (tmp_path / "trap.toml").write_text(plain_trap(sows=2, juveniles=3))
    text = STUDY.split("[robust]")[0].replace("nights = 120", 'nights = 120\nagainst = "far"')
    one = run_study(loads(text, tmp_path / "study.toml"))
    best = answers.comparison_answer(one.comparison)[0]
    assert best.startswith("“far, ")
    assert "settle that it is ahead of its counterpart" in best


def test_an_arm_is_traced_as_it_was_played(study: StudyResult) -> None:
    from soundergate.report.pages.study import arm_traces

    traces = arm_traces(study.comparison)
    assert list(traces) == [arm.name for arm in study.comparison.arms]
    caught = [trace.row["caught"] for trace in traces["far, heavy"]]
    again = run_study(study.study.model_copy(update={"save_nights": True, "robust": None}))
    assert again.comparison["far, heavy"].outcomes is not None
    assert caught == again.comparison["far, heavy"].outcomes["caught"][: len(caught)].tolist()
    assert np.ptp(caught) > 0
    assert load(study.study.path.parent / "trap.toml").sounder.size == 5
