"""The text of a study of two setups, which many tests play."""

from __future__ import annotations


def arm(name: str, **values: str) -> str:
    """An arm; ``values`` by path, with `__` for the dot: ``trigger__distance="12 ft"``."""
    inside = ", ".join(f'{path.replace("__", ".")} = "{value}"' for path, value in values.items())
    return f'[[arm]]\nname = "{name}"\n' + (f"set = {{{inside}}}\n" if inside else "")


def near_and_far(
    head: str,
    more: str = "",
    *,
    near: str = "12 ft",
    far: str | None = "22 ft",
    worlds: tuple[int, int] | None = (20, 20),
    only: str = "",
) -> str:
    """A study of a line hung near and far; ``head`` leads it and ``more`` follows the two arms.

    ``worlds`` are how many and how many nights each; ``only`` is the part that is drawn in them.
    """
    apart = {} if far is None else {"trigger__distance": far}
    text = f"{head}\n" + arm("near", trigger__distance=near) + arm("far", **apart) + more
    if worlds is None:
        return text
    drawn = f'only = ["{only}"]\n' if only else ""
    return text + f"[robust]\nworlds = {worlds[0]}\nnights = {worlds[1]}\n{drawn}"
