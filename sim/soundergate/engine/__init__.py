"""One night, two ways: keyed draws, a readable SimPy reference and a compiled batch twin."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from soundergate.engine.carried import Carried
    from soundergate.engine.outcomes import Outcomes
    from soundergate.engine.plan import NightPlan

ENGINES = ("batch", "reference")


def play(
    plan: NightPlan, seed: int, first: int, count: int, engine: str = "batch", **options: Any
) -> Outcomes:
    """Play nights ``first`` to ``first + count - 1`` of the run with this seed.

    Both engines give the same row for the same (seed, night), to the bit.

    Raises
    ------
    ValueError
        If ``engine`` is not one of `ENGINES`.
    """
    if engine == "batch":
        from soundergate.engine.kernel.batch import play_batch

        return play_batch(plan, seed, first, count, **options)
    if engine == "reference":
        from soundergate.engine.reference.night import play_reference

        return play_reference(plan, seed, first, count)
    raise unknown_engine(engine)


def play_carried(plan: NightPlan, seed: int, nights: Carried, engine: str = "batch") -> Outcomes:
    """Play nights of campaigns, and fill in ``nights.after``: what each animal takes from them.

    Both engines give the same, to the bit.

    Raises
    ------
    ValueError
        If ``engine`` is not one of `ENGINES`.
    """
    if engine == "batch":
        from soundergate.engine.kernel.batch import play_carried_batch

        return play_carried_batch(plan, seed, nights)
    if engine == "reference":
        from soundergate.engine.reference.night import play_carried_reference

        return play_carried_reference(plan, seed, nights)
    raise unknown_engine(engine)


def unknown_engine(engine: str) -> ValueError:
    return ValueError(f"engine {engine!r} is not one of {', '.join(ENGINES)}")
