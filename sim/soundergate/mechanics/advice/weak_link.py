"""The likeliest reason for an opening to stay open, in words."""

from __future__ import annotations

from soundergate.mechanics import numbers_in_words as words
from soundergate.mechanics import scatter
from soundergate.mechanics.opening import OpeningSetup

WORTH_NAMING = 0.1
"""Share of tries in which a second link fails that is named beside travel that is too short."""


def weak_link(opening: OpeningSetup) -> str:
    """The likeliest reason for this opening to stay open, in words."""
    if not opening.latch.holds:
        return "the latch, which its own load opens"
    if opening.jams:
        return "the gate, which does not shut at typical friction"
    if opening.trip_travel > opening.pull.stroke:
        return _also("travel, for the puller's stroke ends before the latch is free", opening)
    found, links = opening.odds, _links(opening)
    worst = max(links, key=links.__getitem__)
    empty = found.by_state.get("empty", 1.0)
    if 1.0 - empty > max(links[worst], 1e-4):
        return (
            f"the container's own weight: full it frees the latch in "
            f"{words.percent(found.by_state['full'])} of tries, empty in {words.percent(empty)}"
        )
    if links[worst] < 1e-4:
        return "none found in the steel; dirt, frost and a dead battery are not in these figures"
    return worst.format(words.percent(links[worst]))


def _also(travel: str, opening: OpeningSetup) -> str:
    """Short travel, and what would fail as well if the puller did reach."""
    stays = opening.hold_probability
    frees = scatter.frees(opening.required, opening.available) / stays if stays > 0.0 else 0.0
    others = {
        "the latch, which its own load opens in {} of settings": 1.0 - stays,
        "the pull, which would be too weak in {} of tries": 1.0 - min(frees, 1.0),
    }
    fails = [text.format(words.percent(p)) for text, p in others.items() if p > WORTH_NAMING]
    return "; and ".join([travel, *fails])


def _links(opening: OpeningSetup) -> dict[str, float]:
    """How often each link fails, by a text to be filled with that."""
    found = opening.odds
    misses = 1.0 - found.releases
    links = {
        "the latch, which its own load opens in {} of settings": found.slips,
        "the line's own tension, which draws the latch in {} of settings": found.drawn,
        "the gate, which sticks open in {} of releases": opening.hang_probability,
    }
    if opening.puller != "animal":
        return {"the pull, which is too weak in {} of tries": misses} | links
    if opening.chain.site.containers:
        return {"the container, whose weight is too little in {} of tries": misses} | links
    if not found.by_class:
        return {"the line, which hangs above every back": misses} | links
    return {
        "the push on the line, which is too weak in {} of tries": misses - found.snaps,
        "the line, which breaks before it pulls enough in {} of tries": found.snaps,
    } | links
