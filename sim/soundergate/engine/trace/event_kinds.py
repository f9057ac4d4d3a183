"""States of an animal and kinds of event: what a night that is written down is made of."""

from __future__ import annotations

AWAY = "away"
OUTSIDE = "outside"
WAITING = "waiting"
CROSSING_IN = "crossing in"
INSIDE = "inside"
FEEDING = "feeding"
WALKING_OUT = "walking out"
BOLTING = "bolting"
CROSSING_OUT = "crossing out"
GONE = "gone"
ESCAPED = "escaped"
CAUGHT = "caught"

STATES = (
    AWAY,
    OUTSIDE,
    WAITING,
    CROSSING_IN,
    INSIDE,
    FEEDING,
    WALKING_OUT,
    BOLTING,
    CROSSING_OUT,
    GONE,
    ESCAPED,
    CAUGHT,
)
INSIDE_STATES = frozenset({INSIDE, FEEDING, WALKING_OUT, BOLTING, CAUGHT})
"""States in which an animal stands inside the fence, clear of every opening."""

# What each kind of event does to the state of the animal it names; None leaves it as it was.
# "turns back" depends on the way the animal was going and is handled in `states`.
STATE_AFTER: dict[str, str | None] = {
    "arrives": OUTSIDE,
    "comes to the opening": WAITING,
    "steps in": CROSSING_IN,
    "is inside": INSIDE,
    "touches the line": None,
    "reaches the bait": None,
    "finds no room at the bait": None,
    "feeds": FEEDING,
    "heads out": WALKING_OUT,
    "waits to leave": WALKING_OUT,
    "finds no way out": INSIDE,
    "steps out": CROSSING_OUT,
    "is out": OUTSIDE,
    "goes away": GONE,
    "freezes": INSIDE,
    "bolts": BOLTING,
    "turns back": None,
    "is struck": None,
    "line breaks": None,
    "stays near": OUTSIDE,
    "comes back": OUTSIDE,
    "opens the gate": GONE,
    "climbs out": GONE,
    "roots under": GONE,
    "slips out": GONE,
    "follows by the gate": GONE,
    "follows by the hole": GONE,
}
ANIMAL_KINDS = frozenset(STATE_AFTER)
TRAP_KINDS = frozenset(
    {
        "gate propped",
        "gate moves",
        "gate shut",
        "lock fails",
        "bait level",
        "visit ends",
        "trigger acts",
        "latch fails",
        "person starts watching",
        "person decides",
        "command sent",
        "command arrives",
        "container falls",
        "counter decides",
        "trap check",
    }
)
KINDS = ANIMAL_KINDS | TRAP_KINDS
BREAKOUTS = {
    "opens the gate": "opened the gate",
    "climbs out": "climbed out",
    "roots under": "rooted under",
    "slips out": "slipped out",
    "follows by the gate": "followed by the gate",
    "follows by the hole": "followed by the hole",
}
"""How one that is shut in gets out, and the same told afterwards."""
BAIT_LEVELS = ("100 to 75 %", "75 to 50 %", "50 to 25 %", "25 to 0 %", "gone")
"""What the integer bait level of an event stands for."""
