"""One night, two ways: keyed draws, a readable SimPy reference and a compiled batch twin.

`plan` is what both read, `outcomes` what both leave; `build` makes the plan. What keeps the two
equal to the bit, and every night repeatable:

- A draw is a pure function of (seed, night, animal, purpose, how-many-th). There is no stream to
  get out of step: another gate leaves every animal's own luck as it was. A new use of chance gets a
  new purpose at the end of those in `codes`; old numbers never change.
- State is integer and rates are tables. Between events nothing changes that a rate depends on. Sums
  over animals are whole micrograms and micrometres, because a float sum depends on its order.
- A process has one clock, (t0, H0, speed), and is due when it reaches a threshold that was drawn
  once. An event makes all its changes, lets waiting animals into the room that came free, and
  settles once; a clock moves only if its speed differs, and nothing else moves a clock.
- Ties are settled by (time, rank of the event, number of the animal), never by the order of
  scheduling. What is superseded is ignored, and nothing is ever interrupted.
- At night there are only +, -, comparison and functions that both engines share (`luck`, `rules`,
  `place`): x*x and never `**`; exponentials and logarithms of `luck.elementary`, since those of a
  platform round as they like; no fastmath, no parallel sums, no division by zero. What a plan holds
  was made by SciPy and `math` and may differ in the last bit between platforms.
- What most animals draw, the kernel draws together at the start of a night (`kernel.early`); it is
  the same number under the same name.
- Work is cut by night number, so the number of workers cannot show.
- Plans of many worlds are laid side by side and played in one call (`stack`, `kernel.stacked`); the
  kernel gets of each world the very arrays that it would get of one played alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

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


def play_stack(
    plans: Sequence[NightPlan],
    seed: int,
    first: Sequence[int],
    count: int,
    engine: str = "batch",
) -> list[Outcomes]:
    """Play ``count`` nights in each of W worlds, from number ``first[w]`` on in world w.

    Gives the Outcomes of each world, to the bit those of `engine.play`. The batch engine plays
    worlds of one shape in one call, the reference engine one world after another.

    Raises
    ------
    ValueError
        If ``engine`` is not one of `ENGINES`, or ``first`` has another length.
    """
    if len(first) != len(plans):
        raise ValueError(f"{len(first)} first nights for {len(plans)} worlds")
    if engine == "batch":
        from soundergate.engine.kernel.batch import play_stack_batch

        return play_stack_batch(plans, seed, first, count)
    return [play(plan, seed, at, count, engine) for plan, at in zip(plans, first, strict=True)]


def unknown_engine(engine: str) -> ValueError:
    return ValueError(f"engine {engine!r} is not one of {', '.join(ENGINES)}")
