"""The options that several commands share, gathered into one value."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Options:
    """What the user asked for besides the file. See `soundergate.cli` for what each one means."""

    seed: int = 1
    nights: int | None = None
    precision: str | None = None
    workers: int | None = None
    engine: str = "batch"
    level: float = 0.95
    out: Path | None = None
    force: bool = False
    json: bool = False
    quiet: bool = False
    resume: bool = False
    cluster: str | None = None
    keep_nights: bool | None = None
