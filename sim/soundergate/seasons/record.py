"""What a season leaves on disk, so that it can be repeated: campaigns, summary, season.json."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from soundergate.files import write_text
from soundergate.studies.cells import safe_frame
from soundergate.studies.record import scenario_json, write_json
from soundergate.studies.store.versions import drawn_with, versions

if TYPE_CHECKING:
    import pandas as pd

    from soundergate.seasons.season import SeasonResult
    from soundergate.seasons.worlds.result import SeasonWorlds


def write_season(
    out: Path, result: SeasonResult, engine: str, over: SeasonWorlds | None = None
) -> list[Path]:
    """Write campaigns.csv (one row a setup and campaign), summary.csv and season.json; over
    plausible worlds also worlds.csv (one row a world)."""
    written = [out / "campaigns.csv", out / "summary.csv"]
    setups = safe_frame(result.table).to_csv(lineterminator="\n")
    rows = safe_frame(campaigns(result)).to_csv(index=False, lineterminator="\n")
    write_text(written[0], rows)
    write_text(written[1], setups)
    if over is not None:
        written.append(out / "worlds.csv")
        over.to_worlds_csv(written[-1])
    record = {
        "command": "season",
        **result.to_json(),
        "worlds": None if over is None else over.to_json(),
        "engine": engine,
        "scenarios": {s.name: scenario_json(s.scenario) for s in result.setups},
        "versions": versions(),
        "drawn_with": drawn_with(),
    }
    return [*written, write_json(out / "season.json", record)]


def campaigns(result: SeasonResult) -> pd.DataFrame:
    """One row a setup and campaign: number, then the columns of `Campaigns`."""
    import pandas as pd

    frames = []
    for setup in result.setups:
        frame = pd.DataFrame(setup.course.campaigns.columns())
        frame.insert(0, "campaign", range(len(frame)))
        frame.insert(0, "setup", setup.name)
        frames.append(frame)
    return pd.concat(frames, ignore_index=True)
