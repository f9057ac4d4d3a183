"""The options that several commands share, gathered into one value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path


@dataclass(frozen=True)
class Options:
    """What the user asked for besides the file. See `soundergate.cli` for what each one means."""

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


@dataclass(frozen=True)
class Given:
    """Options as typed: None where the usual value holds, or that of the run to be repeated."""

    seed: int | None = None
    level: float | None = None
    engine: str | None = None

    def over(self, options: Options) -> Options:
        """The options with what was typed in their place."""
        typed = {name: value for name, value in vars(self).items() if value is not None}
        return replace(options, **typed)
