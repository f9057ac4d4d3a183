"""Options that commands share, and what was typed as one object a command.

The fields of an object are the options of the command by their names.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from importlib import import_module
from pathlib import Path
from typing import Annotated, Any

import typer

from soundergate.studies.worlds.negligible import NEGLIGIBLE


class Engine(StrEnum):
    """The two ways to play a night, equal to the bit."""

    batch = "batch"
    reference = "reference"


File = Annotated[Path, typer.Argument(metavar="FILE", help="Scenario file (TOML).")]
RunFile = Annotated[
    Path, typer.Argument(metavar="FILE", help="Scenario file (TOML), or the run.json of a run.")
]
Seed = Annotated[int, typer.Option(help="The same seed plays the same nights.")]
Nights = Annotated[
    int | None,
    typer.Option(
        help="Nights to play beside those of plausible worlds; with --precision, at most so many.",
        show_default="10000",
    ),
]
Precision = Annotated[
    str | None,
    typer.Option(
        metavar="HALF-WIDTH",
        help="Play until ranges are this narrow: 0.01 (of the share caught) or caught=0.1,...",
    ),
]
Level = Annotated[float, typer.Option(help="Confidence level of every range.")]
Workers = Annotated[
    int | None,
    typer.Option(
        help="Cores of this computer; the answer does not depend on it.", show_default="all"
    ),
]
Cluster = Annotated[
    str | None,
    typer.Option(
        metavar="ADDRESS",
        help="Play on the workers of a Dask scheduler, tcp://HOST:PORT or tls://HOST:PORT.",
    ),
]
Security = Annotated[
    Path | None,
    typer.Option(
        metavar="FILE",
        help="Certificates for a cluster at tls://...: YAML under Dask's own names, "
        "distributed.comm.tls.ca-file, client.cert and client.key.",
    ),
]
Which = Annotated[Engine, typer.Option(help="How nights are played; both give the same nights.")]
Out = Annotated[Path | None, typer.Option(metavar="DIR", help="Folder for files and pictures.")]
Force = Annotated[bool, typer.Option("--force", help="Write into --out though it is not empty.")]
Resume = Annotated[
    bool, typer.Option("--resume", help="Go on with the run in --out where it was stopped.")
]
Keep = Annotated[
    bool | None,
    typer.Option(
        "--keep-nights/--sums-only",
        help="Write every night to --out, or only what they sum up to.",
        show_default="nights, up to a million",
    ),
]
Worlds = Annotated[
    int | None,
    typer.Option(
        help="Plausible worlds to play, 200 nights in each; 0: only the nights in which every "
        "unknown is as it is assumed.",
        show_default="200; 0 with --engine reference",
    ),
]
Negligible = Annotated[
    float,
    typer.Option(
        metavar="SHARE",
        help="A difference smaller than this share of the group does not matter.",
    ),
]
Json = Annotated[bool, typer.Option("--json", help="JSON to standard output, no table.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="Only the table or JSON; cautions stay.")]


@dataclass(frozen=True, kw_only=True)
class Options:
    """What several commands share. See `soundergate.cli` for what each one means."""

    given: frozenset[str] = frozenset()
    """Names of the options that were typed; the others have their usual value."""
    seed: int = 1
    nights: int | None = None
    precision: str | Mapping[str, float] | None = None
    workers: int | None = None
    engine: str = "batch"
    level: float = 0.95
    out: Path | None = None
    force: bool = False
    json: bool = False
    quiet: bool = False
    resume: bool = False
    cluster: str | None = None
    cluster_security: Path | None = None
    keep_nights: bool | None = None


@dataclass(frozen=True, kw_only=True)
class FileOptions(Options):
    """Of a command on one file."""

    file: Path


@dataclass(frozen=True, kw_only=True)
class RunOptions(FileOptions):
    worlds: int | None = None


@dataclass(frozen=True, kw_only=True)
class CheckOptions(FileOptions):
    pairs: bool = False
    widths: str | None = None
    trade_off: bool = False
    claims: bool = False
    sheet: bool = False
    worlds: int | None = None

    @property
    def asks_more(self) -> bool:
        """Whether more than the verdict is asked for."""
        return self.pairs or self.widths is not None or self.trade_off or self.claims


@dataclass(frozen=True, kw_only=True)
class NightOptions(FileOptions):
    number: int = 0


@dataclass(frozen=True, kw_only=True)
class CompareOptions(Options):
    files: Sequence[Path]
    vary: Sequence[str] = ()
    against: str | None = None
    trial_power: float | None = None
    worlds: int | None = None
    negligible: float = NEGLIGIBLE


@dataclass(frozen=True, kw_only=True)
class RuleOptions(FileOptions):
    measure: str = "fraction_caught"
    taught_costs: float = 1.0
    worlds: int | None = None
    negligible: float = NEGLIGIBLE


@dataclass(frozen=True, kw_only=True)
class SeasonOptions(Options):
    files: Sequence[Path]
    vary: Sequence[str] = ()
    campaigns: int | None = None
    campaigns_a_year: float | None = None
    worlds: int | None = None
    negligible: float = NEGLIGIBLE


def hand_over(command: str, kind: type[Options], typed: Mapping[str, Any]) -> int | None:
    """Hand what was typed, parameters by name, to the module of a command as its options."""
    ctx = typed["ctx"]
    given = frozenset(
        name
        for name in ctx.params
        if (source := ctx.get_parameter_source(name)) is not None and source.name == "COMMANDLINE"
    )
    values: dict[str, Any] = {
        name: value.value if isinstance(value, StrEnum) else value
        for name, value in typed.items()
        if name != "ctx" and value is not None
    }
    options = kind(given=given, **values)
    _refuse(options)
    doing = import_module(f"soundergate.commands.{command}")
    code: int | None = doing.command(options)
    return code


def _refuse(options: Options) -> None:
    """What is wrong by itself is said at once, and not after the engine has been loaded."""
    from soundergate.studies.estimates.stopping import check_nights
    from soundergate.studies.seeds import check_seed

    check_nights(options.nights)
    check_seed(options.seed)
    if options.cluster is not None:
        from soundergate.engine.work.cluster_address import check_address

        check_address(options.cluster)
