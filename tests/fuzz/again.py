"""Play cases of the fuzz again: python tests/fuzz/again.py SEED [HOW MANY] [KIND].

One seed prints its inputs and what comes of them. Several seeds from there on print what failed,
and at the end how many were refused and played, by kind and temper, and which took longest.
"""

from __future__ import annotations

import sys
import time
import traceback
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1]))

from fuzz_cases import case
from fuzz_check import verdict
from fuzz_watch import watched


def one(seed: int) -> int:
    """A single case, told in full."""
    found = case(seed)
    print(found)
    print("---")
    print(verdict(found))
    return 0


def many(seed: int, count: int, kind: str) -> int:
    """So many cases from a seed on."""
    tally: Counter[tuple[str, ...]] = Counter()
    times: list[tuple[float, int]] = []
    failed = 0
    for number in range(seed, seed + count):
        made = case(number)
        if kind not in ("", made.kind):
            continue
        started = time.process_time()
        try:
            with watched(made):
                came = verdict(made)
        except Exception as error:
            failed += 1
            last = traceback.extract_tb(error.__traceback__)[-1]
            where = f"{Path(last.filename).name}:{last.lineno}"
            print(f"{number} {made.kind} {made.temper} {where} {type(error).__name__}: "
                  f"{str(error)[:300]}", flush=True)  # fmt: skip
            came = "failed"
        times.append((time.process_time() - started, number))
        tally[made.kind, made.temper, came] += 1
    for key, times_seen in sorted(tally.items()):
        print(*key, times_seen)
    played = sum(n for key, n in tally.items() if key[2] == "played")
    print(f"{played} played, {failed} failed, {sum(t for t, _ in times):.1f} s of processor time")
    print("longest:", ", ".join(f"{n} {t:.2f} s" for t, n in sorted(times)[:-9:-1]))
    return 1 if failed else 0


if __name__ == "__main__":
    if not sys.argv[1:]:
        sys.exit(__doc__)
    first = int(sys.argv[1])
    if len(sys.argv) == 2:
        sys.exit(one(first))
    sys.exit(many(first, int(sys.argv[2]), (*sys.argv, "")[3]))
