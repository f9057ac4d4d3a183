"""The cautions that stand in every report, and those that the setup at hand adds."""

from __future__ import annotations

from collections.abc import Iterable

STANDING = (
    "Local codes and licensed practice come first. Law on trapping, moving, killing, carcasses and "
    "radio equipment differs by place: follow it, and the advice of your agency or of a licensed "
    "operator, whatever stands on this page.",
    "A raised gate is a suspended load: block it before anyone works or reaches under it, and keep "
    "children, helpers and dogs out of the opening.",
    "Trapped pigs are dangerous and can carry disease. Check a set trap at least daily, or more "
    "often where the law says so, and release animals that are not meant to be caught.",
    "Compressed air and charged batteries hold energy when everything is switched off.",
    "A strike energy shown here is a caution, never a clearance.",
    "A simulated share is no promise: it rests on the values listed on this page, many of which "
    "nobody has measured.",
)


def cautions(added: Iterable[str] = ()) -> list[str]:
    """The standing cautions, then what the setup adds, each said once.

    What a gate says of suspended loads or a puller of compressed air stands in place of the
    general words.
    """
    own = list(dict.fromkeys(added))
    covered = {
        "suspended load": any("suspended load" in text for text in own),
        "Compressed air": any("ompressed air" in text for text in own),
    }
    general = [
        text for text in STANDING if not any(key in text and said for key, said in covered.items())
    ]
    return [general[0], *own, *general[1:]]
