"""What `--out` leaves in a folder beside the numbers: pictures and a page to hand on."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from soundergate.commands import console, interrupts
from soundergate.commands.options import Options
from soundergate.commands.progress import progress
from soundergate.files import together, write_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from soundergate.engine.trace.trace import Trace
    from soundergate.mechanics.opening import Setup
    from soundergate.report.pages.page import Page
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.compare import Comparison
    from soundergate.studies.estimate import RunResult
    from soundergate.studies.study import StudyResult
    from soundergate.studies.trial_size import TrialSize
    from soundergate.studies.worlds.one_setup import OverWorlds
    from soundergate.studies.worlds.robust_result import RobustComparison
    from soundergate.studies.worlds.tornado import DifferenceTornado, Tornado

Leans = TypeVar("Leans")

_TRACED = 24
"""Nights of a run that are played again to draw how the trap fills."""

_SEARCHED = 2000
"""Nights among which those that are shown are looked for, where the run did not keep its own."""

_SCREEN_NIGHTS, _LEAN_NIGHTS = 300, 2000
"""Nights on which every default is tried at both ends, and on which the ten that matter are."""


@contextmanager
def all_at_once() -> Iterator[None]:
    """What is written in the block appears when it ends; a stop before then leaves none of it."""
    with together():
        yield
    interrupts.keeps(interrupts.DONE)


def write_run(
    out: Path, result: RunResult, options: Options, over: OverWorlds | None, worlds: int
) -> None:
    """nights.csv.gz, summary.csv, worlds.csv, run.json, pictures and report.html of one setup."""
    from soundergate.mechanics.setup import solve
    from soundergate.report.pages.run import run_page
    from soundergate.studies import record

    scenario = result.scenario
    assert scenario is not None
    leans = leans_on(result, options) if over is None else None
    told = leans.to_json() if leans is not None else None
    asked = _asked(result, options) | {"worlds": worlds}
    extra = {"engine": options.engine, "leans_on": told, "asked": asked}
    with all_at_once():
        written = record.write_run(out, result, extra, over)
        traces, examples = _traces(scenario, result), _examples(scenario, result)
        page = run_page(result, solve(scenario), traces, leans=leans, examples=examples, over=over)
        written += write_page(out / "report.html", page)
    say_written(out, written, options)


def _asked(result: RunResult | Comparison, options: Options) -> dict[str, object]:
    """What to ask for to play the same again (`studies.repeat.Asked`)."""
    from soundergate.studies.estimates.stopping import DEFAULT_NIGHTS

    runs = [arm.result for arm in result.arms] if hasattr(result, "arms") else [result]
    until = result.precision is not None
    return {
        "seed": result.seed,
        "nights": options.nights or (None if until else DEFAULT_NIGHTS),
        "precision": result.precision,
        "level": result.level,
        "engine": options.engine,
        "keep_nights": all(run.night_parts is not None for run in runs),
    }


def leans_on(result: RunResult, options: Options) -> Tornado | None:
    """Which defaults move the share caught most, on no more nights than the run itself.

    None when the file leaves nothing to the defaults.
    """
    from soundergate.studies.worlds.one_at_a_time import tornado

    if result.scenario is None:
        return None
    leans = _played("what it leans on", partial(tornado, result.scenario), result, options)
    if leans is not None:
        _tell_leans("Defaults that move the answer most", leans, leans.sentence(), options)
    return leans


def _played(
    what: str, tornado: Callable[..., Leans], of: RunResult | Comparison, options: Options
) -> Leans | None:
    """A tornado on the nights of a result; None if nothing is left to defaults."""
    from soundergate.studies.errors import StudyError

    try:
        with progress(what, options.quiet) as tell:
            return tornado(
                nights=min(_LEAN_NIGHTS, of.nights),
                screen=min(_SCREEN_NIGHTS, of.nights),
                seed=of.seed,
                level=of.level,
                workers=options.workers,
                progress=tell,
            )
    except StudyError:
        return None


def _tell_leans(lead: str, leans: Tornado, rest: str, options: Options) -> None:
    if not options.quiet:
        from soundergate.studies.worlds.phrases import named

        known = "; ".join(named(name) for name in leans.matters()) or "none is shown to move it"
        console.tell(f"{lead}: {known}. {rest}")


def write_comparison(
    out: Path,
    comparison: Comparison,
    options: Options,
    trials: Sequence[TrialSize] = (),
    asked: Mapping[str, object] | None = None,
    over: RobustComparison | None = None,
) -> None:
    """summary.csv, differences.csv, worlds.csv, run.json, pictures and report.html of setups."""
    from soundergate.report.pages.comparison import comparison_page
    from soundergate.report.pages.study import put_worlds
    from soundergate.report.tables.trial import trial_table
    from soundergate.studies import record

    leans = difference_leans_on(comparison, options) if over is None else None
    told = leans.to_json() if leans is not None else None
    extra: dict[str, object] = {"engine": options.engine, "leans_on": told}
    extra["asked"] = _asked(comparison, options) | dict(asked or {})
    if trials:
        extra["trial"] = [size.to_json() for size in trials]
    with all_at_once():
        written = record.write_comparison(out, comparison, extra, over)
        page = comparison_page(
            comparison, _setups(comparison), leans=leans, examples=_arm_examples(comparison)
        )
        if over is not None:
            put_worlds(page, over, comparison)
        if trials:
            page.tables = [*page.tables, trial_table(trials)]
        written += write_page(out / "report.html", page)
    say_written(out, written, options)


def difference_leans_on(comparison: Comparison, options: Options) -> DifferenceTornado | None:
    """Which defaults move the first difference most, on no more nights than the comparison itself.

    None when there is no difference, or when nothing is left to the defaults.
    """
    from soundergate.studies.arms import Arm
    from soundergate.studies.worlds.one_at_a_time import difference_tornado

    arms = {arm.name: arm.result.scenario for arm in comparison.arms}
    if not comparison.differences or None in arms.values():
        return None
    first = comparison.differences[0]
    one, other = (Arm(name, arms[name]) for name in (first.a, first.b))  # type: ignore[arg-type]
    tornado = partial(difference_tornado, one, other, first.measure)
    leans = _played("what the difference leans on", tornado, comparison, options)
    if leans is not None:
        lead = f"Defaults that move the difference between {first.a} and {first.b} most"
        _tell_leans(lead, leans, f"{leans.verdict()} {leans.sentence()}", options)
    return leans


def write_study(out: Path, study: StudyResult, options: Options) -> None:
    """The same of a study file; what it leans on is drawn where no worlds were played."""
    from soundergate.report.pages.study import study_page

    with all_at_once():
        written = study.write(out, options.engine)
        comparison = study.comparison
        leans = difference_leans_on(comparison, options) if study.robust is None else None
        page = study_page(
            study, _setups(comparison), leans=leans, examples=_arm_examples(comparison)
        )
        # pictures of many arms are large as vectors, and a study is kept
        written += write_page(out / "report.html", page, ("png",))
    say_written(out, written, options)


def write_night(out: Path, trace: Trace, scenario: Scenario, options: Options) -> None:
    """events.csv, pictures and night.html of one night."""
    from soundergate.mechanics.setup import solve
    from soundergate.report.pages.night import night_page
    from soundergate.studies.cells import safe_frame

    events = safe_frame(trace.table).to_csv(index=False, lineterminator="\n")
    with all_at_once():
        written = [write_text(out / "events.csv", events)]
        page = night_page(trace, scenario, solve(scenario))
        written += write_page(out / "night.html", page)
    say_written(out, written, options)


def write_gates(
    out: Path,
    setup: Setup,
    scenario: Scenario,
    options: Options,
    more: Mapping[str, Figure],
    page: Page,
) -> None:
    """A picture of each gate: to scale, its pulls, its closing; whatever else was drawn; and
    report.html."""
    with all_at_once():
        written = _saved(out, {**_gates(setup, scenario), **more})
        written += write_page(out / "report.html", page, ())
    say_written(out, written, options)


def night_picture(trace: Trace, scenario: Scenario) -> Figure:
    """One night drawn, in the units the scenario is written in."""
    from soundergate.report.figures.night import night_figure
    from soundergate.report.pages.subject import units_of

    return night_figure(trace, units_of(scenario))


def say_written(out: Path, written: Iterable[Path], options: Options) -> None:
    """Name the files that were written."""
    if not options.quiet:
        names = sorted(path.name for path in written)
        console.tell(f"Written to {out}: {', '.join(names)}")


def write_page(path: Path, page: Page, formats: Sequence[str] = ("png", "svg")) -> list[Path]:
    """A page and, beside it, its pictures."""
    from soundergate.report.pages import page as html

    return [html.write(page, path), *html.save_pictures(page, path.parent, formats)]


def _traces(scenario: Scenario, result: RunResult) -> list[Trace]:
    """The first nights of the run."""
    from soundergate.engine.trace.one_night import trace_night

    return [trace_night(scenario, result.seed, n) for n in range(min(_TRACED, result.nights))]


def _arm_examples(comparison: Comparison) -> tuple[str, dict[str, Trace]] | None:
    """Nights of the arm that catches the largest share of its group."""
    best = max(comparison.arms, key=lambda arm: arm.result["fraction_caught"].estimate)
    if best.result.scenario is None or not comparison.nights:
        return None
    return best.name, _examples(best.result.scenario, best.result)


def _examples(scenario: Scenario, result: RunResult) -> dict[str, Trace]:
    """A typical night, the worst and the best, by what they are.

    Of all nights where the run kept them, else of the first, which are played again for it.
    """
    from soundergate.engine.trace.one_night import trace_night
    from soundergate.report.pages.chosen_nights import chosen_nights
    from soundergate.studies.players import player

    outcomes = result.outcomes
    if outcomes is None:
        outcomes = player(scenario)(result.seed, 0, min(result.nights, _SEARCHED))
    chosen = chosen_nights(outcomes)
    return {what: trace_night(scenario, result.seed, night) for night, what in chosen.items()}


def _setups(comparison: Comparison) -> dict[str, Setup]:
    from soundergate.mechanics.setup import solve

    return {
        arm.name: solve(arm.result.scenario)
        for arm in comparison.arms
        if arm.result.scenario is not None
    }


def _gates(setup: Setup, scenario: Scenario) -> dict[str, Figure]:
    """One figure an opening, those with the very same solution drawn once."""
    from soundergate.report.figures.gate import gate_figure
    from soundergate.report.pages.subject import bodies_of, units_of

    return {
        f"gate_{index + 1}": gate_figure(
            opening, bodies_of(scenario, opening.curve.measure), units_of(scenario)
        )
        for index, opening in setup.different()
    }


def _saved(out: Path, drawn: dict[str, Figure]) -> list[Path]:
    from soundergate.report import style

    return [path for name, figure in drawn.items() for path in style.save(figure, out / name)]
