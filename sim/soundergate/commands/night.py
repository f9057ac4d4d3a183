"""`night`: one night of a run, told event by event and drawn."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from soundergate.commands import console, outputs
from soundergate.commands.options import NightOptions, Options
from soundergate.commands.workplace import prepare
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import load

if TYPE_CHECKING:
    from soundergate.engine.trace.trace import Trace


def command(options: NightOptions) -> None:
    """The night of that number in the run with the same seed."""
    from soundergate.api import night
    from soundergate.report.words.answers import night_answer, night_end

    scenario, number = load(options.file), options.number
    out = prepare(options.out, options.force)
    trace = night(scenario, number, options.seed)
    if not options.quiet:
        console.tell(f"Night {number} of seed {trace.seed}: {night_answer(trace)}")
        if ending := night_end(trace):
            console.tell(ending)
        console.tell("One night is an example; `soundergate run` says how often it goes this way.")
    _show(trace, options)
    if out is not None:
        outputs.write_night(out, trace, scenario, options)
    elif not options.json:
        _draw_beside(options.file, trace, outputs.night_picture(trace, scenario), options)


def _show(trace: Trace, options: Options) -> None:
    if options.json:
        console.print_json(_data(trace))
        return
    from soundergate.report.tables.nights import event_table

    console.print_table(event_table(trace))


def _data(trace: Trace) -> dict[str, Any]:
    """The night for other programs: SI units, times in s since the trap was set."""
    return {
        "night": trace.night,
        "seed": trace.seed,
        "outcome": trace.row,
        "fates": dict(zip((a.label for a in trace.animals), trace.fates, strict=True)),
        "animals": trace.animals,
        "events": trace.in_order(),
    }


def _draw_beside(file: Path, trace: Trace, picture: Any, options: Options) -> None:
    """Without `--out` the drawing stands beside the scenario file, under a name of its own."""
    from soundergate.report import style

    stem = file.parent / f"{file.stem}_night_{trace.night}_seed_{trace.seed}"
    try:
        (path,) = style.save(picture, stem, formats=("png",))
    except OSError as error:
        raise ScenarioError(
            f"the drawing cannot be written: {error.strerror or error}",
            file=str(stem),
            hint="give a folder with --out",
        ) from None
    if not options.quiet:
        console.tell(f"Drawn in {path}")
