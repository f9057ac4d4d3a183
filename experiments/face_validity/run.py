"""Published figures beside simulated ones: fills results_demo/face_validity.

python experiments/face_validity/run.py            # everything, some minutes
python experiments/face_validity/run.py --reduced  # a few nights of each, to see that it works
"""

from __future__ import annotations

import argparse
import csv
import math
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

from face_validity import late_entry, others, width
from face_validity.common import Row

OUT = Path(__file__).parents[2] / "results_demo" / "face_validity"


@dataclass(frozen=True)
class Sizes:
    """How much is played: nights at the defaults, worlds, nights a world, simulated trials."""

    nights: int
    timed: int
    worlds: int
    world_nights: int
    trials: int


FULL = Sizes(nights=8000, timed=600, worlds=80, world_nights=200, trials=200)
REDUCED = Sizes(nights=400, timed=60, worlds=4, world_nights=30, trials=30)


def rows(s: Sizes) -> list[Row]:
    """Every comparison, in the order of the table."""
    return [
        *late_entry.rows(s.nights, s.worlds, s.world_nights),
        *width.timed_rows(s.timed, s.worlds, s.world_nights, s.trials),
        width.power_row(s.timed, s.trials),
        width.counted_row(s.nights, s.worlds, s.world_nights),
        others.flow(s.timed, s.worlds, max(5, s.world_nights // 10)),
        others.strength(s.timed, s.worlds, s.world_nights),
        others.wariness(s.nights, s.worlds, s.world_nights),
        others.panels(s.nights),
        *others.without_comparison(),
    ]


def write_csv(found: Sequence[Row], path: Path) -> None:
    """One row a comparison; numbers to six digits, nan empty."""
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, list(found[0].cells()), lineterminator="\n")
        writer.writeheader()
        for row in found:
            writer.writerow({name: _cell(value) for name, value in row.cells().items()})


def _cell(value: Any) -> Any:
    if isinstance(value, float):
        return "" if math.isnan(value) else f"{value:.6g}"
    return value


_HEADS = (
    "comparison",
    "role",
    "published",
    "simulated at the defaults",
    "plausible worlds",
    "verdict",
)


def write_table(found: Sequence[Row], s: Sizes, path: Path) -> None:
    """The same for readers, in Markdown."""
    lines = [
        "# Face validity: published figures beside simulated ones",
        "",
        "Made by `python experiments/face_validity/run.py`; what each row means, and how far it",
        "goes, stands in `experiments/face_validity/README.md`. Nothing was tuned to agree.",
        "Intervals are 95 %; plausible worlds are the middle 95 % of "
        f"{s.worlds} draws from the register's ranges.",
        "",
        f"| {' | '.join(_HEADS)} |",
        f"|{' --- |' * len(_HEADS)}",
    ]
    lines += [
        f"| {row.id} ({row.unit}) | {row.role} | {_span(row, 'published')} | "
        f"{_span(row, 'simulated')} | {_worlds(row)} | {row.verdict} |"
        for row in found
    ]
    lines += ["", "## Remarks", ""]
    for row in found:
        says = f"Published: {row.published_says}. " if row.published_says else ""
        remark = row.remark[:1].upper() + row.remark[1:]
        lines.append(f"- **{row.id}**: {row.quantity}. {says}{remark}. *{row.source}.*")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _span(row: Row, name: str) -> str:
    value, low, high = (getattr(row, name + end) for end in ("", "_low", "_high"))
    if math.isnan(value):
        return "no number" if name == "published" else "none"
    text = f"{value:.3g}"
    return text if math.isnan(low) else f"{text} ({low:.3g} to {high:.3g})"


def _worlds(row: Row) -> str:
    return f"{row.worlds_low:.3g} to {row.worlds_high:.3g}" if row.worlds else "not drawn"


def draw(found: Sequence[Row], path: Path) -> None:
    """One panel a comparison with numbers on both sides."""
    import matplotlib.pyplot as plt

    from soundergate.report import style

    shown = [r for r in found if r.worlds and not math.isnan(r.published)]
    with style.sheet():
        figure, panels = plt.subplots(
            len(shown), 1, figsize=(style.WIDTH, 0.95 * len(shown)), layout="constrained"
        )
        for ax, row in zip(panels, shown, strict=True):
            bars = [
                (row.published, row.published_low, row.published_high, style.ORANGE, "s"),
                (row.simulated, row.simulated_low, row.simulated_high, style.BLUE, "o"),
                (math.nan, row.worlds_low, row.worlds_high, style.MUTED, ""),
            ]
            for k, (value, low, high, colour, mark) in enumerate(bars):
                ax.plot([low, high], [-k, -k], "|-", color=colour, linewidth=2, markersize=7)
                ax.plot(value, -k, mark or "none", color=colour, markersize=5)
            ax.set_yticks([0, -1, -2], ["published", "simulated", "plausible worlds"])
            ax.set_ylim(-2.6, 0.6)
            ax.set_title(f"{row.id} ({row.unit}): {row.role}", fontsize=8)
            ax.tick_params(labelsize=7)
            ax.margins(x=0.08)
            ax.grid(axis="x")
    style.save(figure, path)
    plt.close(figure)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--reduced", action="store_true", help="few nights, another folder")
    parser.add_argument("--out", type=Path, default=None)
    asked = parser.parse_args()
    sizes = REDUCED if asked.reduced else FULL
    out = asked.out or (Path("face_validity_reduced") if asked.reduced else OUT)
    out.mkdir(parents=True, exist_ok=True)
    found = rows(sizes)
    write_csv(found, out / "face_validity.csv")
    write_table(found, sizes, out / "README.md")
    draw(found, out / "face_validity")
    print((out / "README.md").read_text(encoding="utf-8"))


if __name__ == "__main__":
    main()
