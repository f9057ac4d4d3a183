"""`study`: a question written down as a file, played and left in a folder."""

from __future__ import annotations

from pathlib import Path

from soundergate.commands import compare, console, outputs
from soundergate.commands.options import Options
from soundergate.commands.workplace import say_how_to_go_on, workplace


def command(file: Path, seed: int | None, options: Options) -> None:
    """Play a study file; ``seed`` and options that are given stand in place of the file's."""
    from soundergate.report.answers import study_answer
    from soundergate.study.study_file import load, run_study

    asked = load(file)
    with workplace(options) as at:
        with console.progress("nights", options.quiet) as tell:
            study = run_study(
                asked,
                nights=options.nights,
                precision=options.precision,
                seed=seed,
                workers=options.workers,
                engine=options.engine,
                progress=tell,
                executor=at.executor,
                store=at.store,
            )
        if asked.title and not options.quiet:
            console.tell(asked.title)
        compare.show(study.comparison, study_answer(study), study.to_json(), options)
        for name, reason in study.failed.items():
            console.tell(f"Not played: {name}: {reason}")
        if at.out is not None:
            outputs.write_study(at.out, study, options)
    if study.comparison.interrupted:
        say_how_to_go_on(at.out, options)
