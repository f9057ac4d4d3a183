"""`study`: a question written down as a file, played and left in a folder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import islice
from typing import TYPE_CHECKING, Any

from soundergate.commands import compare, console, outputs, repeat
from soundergate.commands.options import FileOptions
from soundergate.commands.progress import progress
from soundergate.commands.workplace import ended_early, workplace
from soundergate.scenario.errors import shortened

if TYPE_CHECKING:
    from soundergate.studies.repeat import Record
    from soundergate.studies.study_schema import StudyFile


_FAILED_TOLD = 5


def command(options: FileOptions) -> int | None:
    """Play a study file, or repeat what a run.json says; what is given stands in its place."""
    from soundergate.report.tables.worlds import sensitivity_table
    from soundergate.report.words.answers import study_answer
    from soundergate.studies.study import study as run_study

    asked, record, options = _asked(options)
    with workplace(options) as at:
        with progress("nights", options.quiet, at.waiting) as tell:
            study = run_study(
                asked,
                nights=options.nights,
                precision=options.precision,
                seed=options.seed if "seed" in options.given else None,
                workers=options.workers,
                engine=options.engine,
                progress=tell,
                executor=at.executor,
                store=at.store,
                record=record,
            )
        if asked.title and not options.quiet:
            console.tell(asked.title)
        compare.show(study.comparison, study_answer(study), study.to_json(), options)
        if study.sensitivity is not None and not options.json:
            console.print_table(sensitivity_table(study.sensitivity))
        _tell_failed(study.failed)
        if study.interrupted:
            return ended_early(at.out)
        if at.out is not None:
            outputs.write_study(at.out, study, options)
    return None


def _tell_failed(failed: Mapping[str, str]) -> None:
    """The first few arms that could not be played, and how many more there are."""
    for name, reason in islice(failed.items(), _FAILED_TOLD):
        console.tell(f"Not played: {shortened(name)}: {shortened(reason, 250)}")
    if (more := len(failed) - _FAILED_TOLD) > 0:
        console.tell(f"Not played: {more:,} more, which --json names.")


def _asked(options: FileOptions) -> tuple[StudyFile, Record | None, FileOptions]:
    """The study, the record that it comes from if any, and options with the engine settled."""
    from soundergate.studies.repeat import AskedStudy
    from soundergate.studies.study_file import load, repeated

    record = repeat.record_of([options.file], "study")
    if record is None:
        return load(options.file), None, options
    assert isinstance(record.asked, AskedStudy)
    asked = repeated(record)
    then = asked.model_dump() | {"engine": record.asked.engine}
    repeat.say(record, repeat.replacements(*_both(then, options)), options)
    engine = options.engine if "engine" in options.given else record.asked.engine
    return asked, record, replace(options, engine=engine)


def _both(then: Mapping[str, Any], options: FileOptions) -> tuple[dict[str, Any], dict[str, Any]]:
    """Seed, nights, precision and engine as they were and as they are to be."""
    were = {name: then[name] for name in ("seed", "nights", "precision", "engine")}
    are = dict(were)
    if options.nights is not None or options.precision is not None:
        are |= {"nights": options.nights, "precision": options.precision}
    return were, are | {
        name: getattr(options, name) for name in ("seed", "engine") if name in options.given
    }
