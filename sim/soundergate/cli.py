"""The command line: names, options and help. What a command does stands in `commands`.

Nothing heavy is imported here, so that `soundergate --help` answers at once.
"""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from soundergate.commands import interrupts, surroundings
from soundergate.commands.guard import failed, guarded
from soundergate.commands.options import (
    NEGLIGIBLE,
    CheckOptions,
    Cluster,
    CompareOptions,
    Engine,
    File,
    FileOptions,
    Force,
    Json,
    Keep,
    Level,
    Negligible,
    NightOptions,
    Nights,
    Out,
    Precision,
    Quiet,
    Resume,
    RuleOptions,
    RunFile,
    RunOptions,
    SeasonOptions,
    Security,
    Seed,
    Which,
    Workers,
    Worlds,
    hand_over,
)
from soundergate.commands.parsing import CampaignsForNights, PlainWords, WidthsMayStandAlone

app = typer.Typer(
    name="soundergate",
    cls=PlainWords,
    help=(
        "Plays the night of a corral trap for wild pigs, thousands of times, before the trap is "
        "built: how much of the group is caught, how many get away, and how sure that is."
    ),
    epilog=(
        "A simulated share is no promise, and a strike energy is a caution, never a clearance. "
        "Local codes and licensed practice come first."
    ),
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _print_version(asked: bool) -> None:
    if asked:
        from soundergate import __version__

        typer.echo(__version__)
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool,
        typer.Option(
            "--version", help="Print the version.", callback=_print_version, is_eager=True
        ),
    ] = False,
) -> None:
    """What stands before any command's name."""


@app.command()
@guarded
def example(
    name: Annotated[str | None, typer.Argument(help="Print this one's TOML.")] = None,
    json: Json = False,
) -> None:
    """List the example scenarios, or print one: a file to begin from."""
    from soundergate.commands import listing

    listing.example(name, json)


@app.command(cls=WidthsMayStandAlone)
@guarded
def check(
    ctx: typer.Context,
    file: File,
    pairs: Annotated[
        bool,
        typer.Option(
            "--pairs",
            help="Also try every kind of gate with every kind of latch in each opening: what holds "
            "and releases, how soon a juvenile no longer gets by, and why not if not.",
        ),
    ] = False,
    widths: Annotated[
        str | None,
        typer.Option(
            metavar="[W1,W2,...]",
            help='Also build each opening in these widths, such as "3 ft,4 ft,6 ft"; without '
            "widths, from 3 to 10 ft.",
        ),
    ] = None,
    trade_off: Annotated[
        bool,
        typer.Option(
            "--trade-off",
            help="Also show the load on the latch beside the time to shut: of a top-hinged gate at "
            "several set angles, of a drop gate with several counterweights.",
        ),
    ] = False,
    claims: Annotated[
        bool,
        typer.Option(
            "--claims",
            help="Also test what the trade says of gates and latches by computing it for the first "
            "opening: agree, disagree or depends, with reason and numbers.",
        ),
    ] = False,
    sheet: Annotated[
        bool,
        typer.Option(
            "--sheet",
            help="Print only a sheet to take to the trap: what to measure and how, what to expect "
            "of this trap, and when to worry.",
        ),
    ] = False,
    worlds: Annotated[
        int | None,
        typer.Option(
            help="Plausible worlds (friction, rust, supply, the push of animals) in which to try "
            "the release; 0: none.",
            show_default="200",
        ),
    ] = None,
    out: Out = None,
    force: Force = False,
    json: Json = False,
    quiet: Quiet = False,
) -> int | None:
    """Say whether latch and gate can be relied on. No pigs, no nights.

    The exit code is 1 if, with every unknown at its middle value, an opening of FILE stays set,
    releases and shuts in fewer than 9 of 10 tries, its latch does not hold or its gate does not
    shut; what plausible worlds say and what else is tried does not change it.
    """
    return hand_over("check", CheckOptions, locals())


@app.command()
@guarded
def night(
    ctx: typer.Context,
    file: File,
    seed: Seed = 1,
    number: Annotated[int, typer.Option(help="Which night of the run, from 0.")] = 0,
    out: Out = None,
    force: Force = False,
    json: Json = False,
    quiet: Quiet = False,
) -> int | None:
    """Tell and draw one night: the very night of that number in a run with that seed.

    Without --out or --json the drawing is put beside FILE.
    """
    return hand_over("night", NightOptions, locals())


@app.command()
@guarded
def run(
    ctx: typer.Context,
    file: RunFile,
    worlds: Worlds = None,
    seed: Seed = 1,
    nights: Nights = None,
    precision: Precision = None,
    level: Level = 0.95,
    workers: Workers = None,
    cluster: Cluster = None,
    cluster_security: Security = None,
    engine: Which = Engine.batch,
    out: Out = None,
    keep_nights: Keep = None,
    resume: Resume = False,
    force: Force = False,
    json: Json = False,
    quiet: Quiet = False,
) -> int | None:
    """Play many nights of one setup: what it catches in nine of ten plausible worlds, and why.

    A run.json that --out left is repeated; options that are given stand in place of its own.

    Ctrl-C ends it early and reports the nights that were done.
    """
    return hand_over("run", RunOptions, locals())


@app.command()
@guarded
def compare(
    ctx: typer.Context,
    files: Annotated[
        list[Path],
        typer.Argument(metavar="FILE...", help="Scenario files (TOML), or one run.json."),
    ],
    vary: Annotated[
        list[str] | None,
        typer.Option(
            metavar="KEY=V1,V2,...",
            help='Try these values, such as "opening.width=4 ft,8 ft"; may be repeated.',
        ),
    ] = None,
    against: Annotated[
        str | None, typer.Option(metavar="NAME", help="Compare all with this setup alone.")
    ] = None,
    trial_power: Annotated[
        float | None,
        typer.Option(help="Say how many sounders a field trial needs for this power, such as 0.8."),
    ] = None,
    worlds: Worlds = None,
    negligible: Negligible = NEGLIGIBLE,
    seed: Seed = 1,
    nights: Nights = None,
    precision: Precision = None,
    level: Level = 0.95,
    workers: Workers = None,
    cluster: Cluster = None,
    cluster_security: Security = None,
    engine: Which = Engine.batch,
    out: Out = None,
    keep_nights: Keep = None,
    resume: Resume = False,
    force: Force = False,
    json: Json = False,
    quiet: Quiet = False,
) -> int | None:
    """Play several setups on the same nights: no matter which, one ahead, or on what it depends.

    A run.json that --out left is repeated; options that are given stand in place of its own.
    """
    return hand_over("compare", CompareOptions, locals())


class Wanted(StrEnum):
    """What a release rule is sought for."""

    fraction_caught = "fraction_caught"
    whole_group = "whole_group"


@app.command()
@guarded
def rule(
    ctx: typer.Context,
    file: File,
    measure: Annotated[
        Wanted, typer.Option(help="What the rule is sought for.")
    ] = Wanted.fraction_caught,
    taught_costs: Annotated[
        float,
        typer.Option(
            metavar="PIGS",
            help="A pig that saw the gate close and got away counts as so many lost.",
        ),
    ] = 1.0,
    worlds: Annotated[
        int | None,
        typer.Option(
            help="Plausible worlds in which the rule is judged, 200 nights in each; it is sought "
            "in others. 0: only nights in which every unknown is as it is assumed.",
            show_default="200",
        ),
    ] = None,
    negligible: Negligible = NEGLIGIBLE,
    seed: Seed = 1,
    nights: Nights = None,
    level: Level = 0.95,
    workers: Workers = None,
    out: Out = None,
    force: Force = False,
    json: Json = False,
    quiet: Quiet = False,
) -> int | None:
    """Find when a person at the link should release: a card for the night, and how it does."""
    return hand_over("rule", RuleOptions, locals())


@app.command(cls=CampaignsForNights)
@guarded
def season(
    ctx: typer.Context,
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="Scenario files (TOML).")],
    vary: Annotated[
        list[str] | None,
        typer.Option(
            metavar="KEY=V1,V2,...",
            help="Try these values, such as campaign.set_nights=3,5,10; may be repeated.",
        ),
    ] = None,
    campaigns: Annotated[
        int | None,
        typer.Option(
            help="Campaigns of each setup beside those of plausible worlds.", show_default="10000"
        ),
    ] = None,
    campaigns_a_year: Annotated[
        float | None,
        typer.Option(
            metavar="CAMPAIGNS",
            help="Campaigns a year on the property.",
            show_default="one for each sounder",
        ),
    ] = None,
    worlds: Annotated[
        int | None,
        typer.Option(
            help="Plausible worlds to play, 100 campaigns of each setup in each; 0: only the "
            "campaigns in which every unknown is as it is assumed.",
            show_default="200; 0 with --engine reference",
        ),
    ] = None,
    negligible: Annotated[
        float,
        typer.Option(
            metavar="SHARE",
            help="A difference smaller than this share of the group, or of what a pig costs, does "
            "not matter.",
        ),
    ] = NEGLIGIBLE,
    seed: Seed = 1,
    level: Level = 0.95,
    workers: Workers = None,
    engine: Which = Engine.batch,
    out: Out = None,
    force: Force = False,
    json: Json = False,
    quiet: Quiet = False,
) -> int | None:
    """Play campaigns night after night: what they catch, teach and cost, and what that does to
    the pigs of a property."""
    return hand_over("season", SeasonOptions, locals())


@app.command()
@guarded
def study(
    ctx: typer.Context,
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="Study file (TOML), or its run.json.")
    ],
    seed: Annotated[int | None, typer.Option(help="In place of the file's.")] = None,
    nights: Annotated[int | None, typer.Option(help="In place of the file's.")] = None,
    precision: Precision = None,
    workers: Workers = None,
    cluster: Cluster = None,
    cluster_security: Security = None,
    engine: Which = Engine.batch,
    out: Out = None,
    resume: Resume = False,
    force: Force = False,
    json: Json = False,
    quiet: Quiet = False,
) -> int | None:
    """Play a study file: a comparison written down, so that anyone can repeat it.

    A run.json that --out left is repeated; options that are given stand in place of its own.

    Keys of the file: base (a scenario file), set (values for every arm), nights or precision, seed,
    level, against (the arm to compare with), measures, save_nights, title, circumstances (names
    of the factors that nobody decides: one chooses among setups that meet the same).

    Its tables: [\\[arm]] has a name and set (or a file of its own); [\\[across]] has a name and
    set, and every arm is played again under it; \\[factors] crosses lists of values, as in
    "trigger.distance" = ["12 ft", "22 ft"]; \\[robust] has worlds, nights and only, and plays
    plausible worlds; \\[sensitivity] has method ("morris" or "sobol"), arm, less, samples, nights
    and only, and moves all unknowns at once to see which move the answer most.
    """
    return hand_over("study", FileOptions, locals())


@app.command()
@guarded
def keys(
    names: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[NAME...]",
            help="Only these, such as gate, trigger.person, friction or study; with --template, "
            "kinds of gate, latch and trigger (top-hinged, knee, person), or study.",
        ),
    ] = None,
    template: Annotated[
        bool,
        typer.Option(
            "--template", help="Print a whole file with every default in it, commented out."
        ),
    ] = False,
    json: Json = False,
) -> None:
    """Say what every key of a scenario or study file means, and what may stand there."""
    from soundergate.commands import keys as listing

    listing.keys(names or [], template, json)


@app.command()
@guarded
def sources(
    file: Annotated[
        Path | None,
        typer.Argument(metavar="[FILE]", help="Only what this scenario leaves to the defaults."),
    ] = None,
    id: Annotated[
        list[str] | None,
        typer.Option(metavar="PREFIX", help="Only ids that begin so (entry); may be repeated."),
    ] = None,
    origin: Annotated[
        list[str] | None,
        typer.Option(metavar="ORIGIN", help="Only this origin (assumption); may be repeated."),
    ] = None,
    csv: Annotated[bool, typer.Option("--csv", help="CSV to standard output, no table.")] = False,
    json: Json = False,
) -> None:
    """Say where every default comes from: its range, origin and citation."""
    from soundergate.commands import listing

    listing.sources(file, json, csv, tuple(id or ()), tuple(origin or ()))


@app.command()
@guarded
def schema() -> None:
    """Print the JSON Schema of a scenario file."""
    from soundergate.commands import listing

    listing.schema()


def main() -> None:
    """Run the command that was typed."""
    interrupts.ready()
    surroundings.ready()
    try:
        app()
    except OSError as error:  # help that could not be written
        sys.exit(failed(error))
    finally:
        surroundings.let_go_of_broken()  # or Python ends with a traceback of its own
