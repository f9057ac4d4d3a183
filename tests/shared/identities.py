"""What is true of every night, whatever is played."""

from __future__ import annotations

import numpy as np

from soundergate.engine.codes import FATES
from soundergate.engine.outcomes import COLUMNS, Outcomes


def check_identities(nights: Outcomes) -> None:
    """Raise AssertionError, naming the first bad night, if the counts cannot be true together.

    Every animal has exactly one fate; nobody is counted who did not come; ``whole_group`` and
    ``released`` agree with the counts and the release time.
    """
    arrived, size = nights["arrived"], nights["group_size"]
    rules = {
        "the fates of a night add up to group_size": sum(nights[f] for f in FATES) == size,
        "arrived is at most group_size": arrived <= size,
        "animals that did not arrive never entered": nights["never_entered"] >= size - arrived,
        "inside_at_release is at most arrived": nights["inside_at_release"] <= arrived,
        "educated is at most group_size": nights["educated"] <= size,
        "struck is at most group_size": nights["struck"] <= size,
        "whole_group means caught = group_size": nights["whole_group"]
        == ((nights["caught"] == size) & (size > 0)),
        "a released night has a release time": ~nights["released"]
        | np.isfinite(nights["release_s"]),
    }
    for name, kind in COLUMNS:
        if kind == "i8":
            rules[f"{name} is not negative"] = nights[name] >= 0
        elif kind == "f8":
            rules[f"{name} is not negative"] = ~(nights[name] < 0)
    for rule, holds in rules.items():
        if not np.all(holds):
            first = int(np.flatnonzero(~np.asarray(holds))[0])
            row = {name: nights[name][first].item() for name, _ in COLUMNS}
            raise AssertionError(f"night {row['night']} breaks the rule that {rule}: {row}")
