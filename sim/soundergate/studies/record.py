"""What a run leaves on disk, so that it can be repeated: nights, summary, and run.json.

Nothing written depends on the clock, so the same run writes the same bytes.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from soundergate.engine.outcomes import write_nights
from soundergate.files import write_text
from soundergate.studies.cells import shown
from soundergate.studies.compare import Comparison
from soundergate.studies.estimate import RunResult
from soundergate.studies.store.identity import digest_of
from soundergate.studies.store.versions import drawn_with, register_digest, versions

if TYPE_CHECKING:
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.worlds.one_setup import OverWorlds
    from soundergate.studies.worlds.robust_result import RobustComparison


def write_run(
    out: Path,
    result: RunResult,
    extra: Mapping[str, Any] | None = None,
    over: OverWorlds | None = None,
) -> list[Path]:
    """Write nights.csv.gz (if the nights were kept), summary.csv and run.json into ``out``.

    With plausible worlds also worlds.csv, and their nights behind the others, told apart by the
    column `world`, which is 0 where every unknown is as it is assumed.
    """
    found = None if over is None else over.found
    out.mkdir(parents=True, exist_ok=True)
    written = []
    if (parts := result.night_parts) is not None:
        written.append(out / "nights.csv.gz")
        kept = None if found is None or found.nights_kept is None else found.nights_kept[""]
        write_nights(written[-1], parts, kept or {})
    written.append(out / "summary.csv")
    result.to_summary_csv(written[-1])
    if found is not None:
        written.append(out / "worlds.csv")
        found.to_worlds_csv(written[-1])
    record = {
        "command": "run",
        **result.to_json(),
        "worlds": None if over is None else over.to_json(),
        **dict(extra or {}),
        "scenario": scenario_json(result.scenario),
        "register": register_digest(),
        "versions": versions(),
        "drawn_with": drawn_with(),
    }
    written.append(write_record(out / "run.json", record))
    return written


def write_comparison(
    out: Path,
    comparison: Comparison,
    extra: Mapping[str, Any] | None = None,
    over: RobustComparison | None = None,
) -> list[Path]:
    """Write summary.csv, differences.csv, run.json, and nights_ARM.csv.gz for arms that kept
    theirs, into ``out``; with plausible worlds also worlds.csv."""
    out.mkdir(parents=True, exist_ok=True)
    written = []
    for arm, stem in zip(comparison.arms, file_stems(comparison), strict=True):
        if (parts := arm.result.night_parts) is not None:
            written.append(out / f"nights_{stem}.csv.gz")
            write_nights(written[-1], parts)
    written.append(out / "summary.csv")
    comparison.to_summary_csv(written[-1])
    written.append(out / "differences.csv")
    comparison.to_differences_csv(written[-1])
    if over is not None:
        written.append(out / "worlds.csv")
        over.to_worlds_csv(written[-1])
    record = {
        "command": "compare",
        **comparison.to_json(),
        "worlds": None if over is None else over.to_json(),
        **dict(extra or {}),
        "scenarios": {a.name: scenario_json(a.result.scenario) for a in comparison.arms},
        "register": register_digest(),
        "versions": versions(),
        "drawn_with": drawn_with(),
    }
    written.append(write_record(out / "run.json", record))
    return written


def file_stems(comparison: Comparison) -> list[str]:
    """A short different file name part for each arm: its name in plain letters."""
    return _stems([arm.name for arm in comparison.arms])


def _stems(names: Sequence[str]) -> list[str]:
    stems: list[str] = []
    for name in names:
        plain = re.sub(r"[^a-z0-9.]+", "-", name.lower()).strip("-.")[:60] or "arm"
        stem, number = plain, 1
        while stem in stems:
            number += 1
            stem = f"{plain}-{number}"
        stems.append(stem)
    return stems


def scenario_json(scenario: Scenario | None) -> dict[str, Any] | None:
    """A scenario as it was written and as it was resolved, defaults filled in."""
    if scenario is None:
        return None
    return {
        "source": shown(
            Path(scenario.source).name
        ),  # the name alone: folders differ between machines
        "as_written": scenario.raw,
        "resolved": scenario.resolved(),
    }


def write_record(path: Path, record: Mapping[str, Any]) -> Path:
    """Write a record with a digest of itself, which shows later whether it was edited."""
    told = plain(record)
    return write_json(path, told | {"digest": own_digest(told)})


def own_digest(record: Mapping[str, Any]) -> str:
    """Of all that a record says but its digest, in the order of its keys' names."""
    rest = {key: value for key, value in record.items() if key != "digest"}
    return digest_of(json.dumps(rest, sort_keys=True))


def write_json(path: Path, data: Mapping[str, Any]) -> Path:
    """Write strict JSON (RFC 8259), as `plain` has it."""
    text = json.dumps(plain(data), indent=2, ensure_ascii=False, allow_nan=False)
    return write_text(path, text + "\n")


def plain(value: Any) -> Any:
    """The value in types that JSON has; nan and infinity, which it has not, become None."""
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(item) for item in value]
    if isinstance(value, bool | int | str) or value is None:
        return value
    if hasattr(value, "item"):  # a NumPy scalar
        return plain(value.item())
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if hasattr(value, "__dataclass_fields__"):
        return {name: plain(getattr(value, name)) for name in value.__dataclass_fields__}
    return str(value)
