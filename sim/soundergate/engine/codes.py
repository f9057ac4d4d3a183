"""Whole numbers that both engines share: states, event ranks, draw purposes, kinds.

Ranks settle ties: of two events at the same instant the lower rank goes first, then the lower
animal, opening or trigger number. Bodies move before rates fire, and a person's look comes last,
so that it sees everything which happened at that instant.
"""

from __future__ import annotations

# Where an animal is.
AWAY, OUTSIDE, WAIT_IN, CROSS_IN, WALK_IN, AT_BAIT, FEEDING = 0, 1, 2, 3, 4, 5, 6
WALK_OUT, WAIT_OUT, CROSS_OUT, STILL, BOLTING, GONE, FLED = 7, 8, 9, 10, 11, 12, 13
STATE_NAMES = (
    "away", "outside", "waiting to enter", "crossing in", "walking in", "at the bait", "feeding",
    "walking out", "waiting to leave", "crossing out", "still", "bolting", "gone", "fled",
)  # fmt: skip

INSIDE_STATES = (WALK_IN, AT_BAIT, FEEDING, WALK_OUT, WAIT_OUT, STILL, BOLTING)
"""Inside the fence and not in an opening."""

# Event ranks; each is also the event's kind.
PROP_ENDS, STRUCK, SHUT, MOVES, CROSSED, AT_OPENING, TOUCHES, REACHES, FEEDS = range(9)
ARRIVES, TRIES, LEAVES, SEEKS, BAIT_LEVEL, BUCKET, CALMED = range(9, 16)
COMES_BACK, BREAKS_OUT, VISIT_ENDS, FALSE_RELEASE, WATCHES, REFRESHES = range(16, 22)
DWELT, COMMAND, LOOKS, CHECKED = range(22, 26)
RANK_BITS = 12
RANK_STEP = 1 << RANK_BITS
"""Priority of an event is rank * RANK_STEP + number of its animal, opening or trigger."""

SLOT_BITS = 12
SLOT_STEP = 1 << SLOT_BITS
"""The batch engine's key of an event is priority * SLOT_STEP + the slot that it is kept in."""
BLOCK = 16
"""The batch engine goes through slots in whole blocks, several at a time where it can."""
LAST = 2**63 - 1
NEVER = 0x7FF0000000000000
"""The bits of an infinite time."""

# What became of an animal: the outcome columns, of which each animal counts in exactly one.
FATES = ("caught", "escaped_before", "escaped_during", "escaped_after", "never_entered")
CAUGHT, ESCAPED_BEFORE, ESCAPED_DURING, ESCAPED_AFTER, NEVER_ENTERED = FATES

# What a gate is doing.
OPEN, CLOSING, PROPPED, CLOSED, HUNG, ONE_WAY = range(6)

# How a captive got out.
(BY_GATE, BY_CLIMBING, BY_ROOTING, BY_SLIPPING, BY_RAISED_GATE, BY_HOLE) = range(1, 7)
BREAKOUT_WORDS = (
    "", "opens the gate", "climbs out", "roots under", "slips out", "follows by the gate",
    "follows by the hole",
)  # fmt: skip
MOST_LOOKS = 64
"""One that stays near the trap comes back to it so many times at most, and then once more as it
leaves: a night has an end even if that takes no time."""

# What a draw is for (the purpose word of the counter).
(D_FIRST, D_OFFSET, D_SPREAD, D_FRAILTY, D_BODY, D_ENTRY, D_STAY, D_LINGER, D_CHOICE,
 D_CROSS_IN, D_CROSS_OUT, D_HEAD_IN, D_HEAD_OUT, D_TRAVEL, D_WALK_BACK, D_RETURN, D_OUTING,
 D_BOLT, D_TURN, D_PROP, D_STRUCK_OUT, D_PATIENCE, D_FALSE, D_BUCKET, D_NEED, D_PULL, D_HANG,
 D_DELAY, D_AWAKE, D_ALERT, D_SEEN, D_REACTION, D_COMMAND, D_DROPOUT, D_COUNT_IN,
 D_COUNT_OUT, D_WILLING, D_LATE, D_TRY, D_CLIMB, D_ROOT, D_SLIP, D_SIZE,
 D_LEARN, D_MOVE, D_STIFF, D_LINE, D_AIM, D_OUTING_WAY, D_PATCH, D_PLACE, D_SEEK, D_RETRY,
 D_WAY_OUT, D_FROM, D_NEAR, D_OPEN_WAY, D_WAY_STAYS, D_FOLLOW) = range(1, 60)  # fmt: skip
# A block of the generator holds two numbers, so two that are needed together share a purpose:
# D_SPREAD 0 arrival within the subgroup, 1 shyness; D_BODY 0 mass, 1 scatter of lengths, then
# 2 strength; D_STAY 2 s leaving and 2 s + 1 dwell of stay s; D_BOLT 0 whether, 1 when; D_HANG
# 0 whether the gate hangs, 1 whether its lock fails; D_OUTING the pause before an outing and how
# far it may go.
FIRST, SECOND = 0, 1
"""How-many-th of the draws of a purpose, where there are no more than two."""
NOBODY = 0
"""Number of what is neither an animal nor an opening nor a trigger."""
MOST_EVENTS = 1_000_000
"""Events of a night, beyond which it is taken to have no end: ordinary ones have 30 to 30,000."""
OWN_BLOCKS = 1024
"""Added to a purpose for draws made by rejection, which take whole blocks."""

AS_DRAWN, ABSENT, WILLING, WARY = range(4)
"""What an animal brings to a night: as its own draws say; not there (any more); there and willing
to enter; there and wary, so that it never tries."""
WAS_THERE, WAS_CAUGHT, WAS_HELD, WAS_WITNESS, WAS_WARY, WAS_INSIDE = 1, 2, 4, 8, 16, 32
"""What it takes from one, added up: there at all, caught, inside when the gate was let go, within
sight of that, wary all night, and inside at any time."""

# Kinds of distribution (scenario.distributions holds the meaning of a and b).
FIXED, EXPONENTIAL, LOGNORMAL, GAMMA, WEIBULL, UNIFORM = range(6)
DISTRIBUTION_CODES = {
    "fixed": FIXED, "exponential": EXPONENTIAL, "lognormal": LOGNORMAL,
    "gamma": GAMMA, "weibull": WEIBULL, "uniform": UNIFORM,
}  # fmt: skip

# Rows of the plan's table of durations.
(T_FIRST, T_OFFSET, T_SPREAD, T_ENTRY, T_LEAVE, T_CROSS, T_HEADWAY, T_TRAVEL, T_DWELL, T_OUTING,
 T_PATIENCE, T_BOLT, T_PROP, T_FALSE, T_FRAILTY, T_STRENGTH, T_TRY, T_CLIMB, T_ROOT,
 T_LATE, T_RETRY, T_NEAR, T_HOLE, T_RAISED, T_FOLLOW) = range(25)  # fmt: skip
DURATION_ROWS = 25

# Kinds of trigger.
LINE, BAIT, COUNTER, PERSON, NONE = range(5)
TRIGGER_CODES = {"line": LINE, "bait": BAIT, "counter": COUNTER, "person": PERSON, "none": NONE}

# Rows of a trigger's own distributions.
X_BUCKET, X_ALERT, X_REACTION, X_COMMAND = range(4)
TRIGGER_DURATIONS = 4

SEEKS_A_STAY = 1024
"""Draws of seek n of stay s have number s * SEEKS_A_STAY + n, and come round after these."""

BAIT_LEVELS = 5
"""100 to 75 %, 75 to 50 %, 50 to 25 %, below 25 %, gone (or the visit is over)."""
SPENT = BAIT_LEVELS - 1

PARTIES_A_SOUNDER = 256
"""Subgroups of sounder s draw as number s * PARTIES_A_SOUNDER + subgroup."""

DEPARTURES_KEPT = 256
"""More departures than this within one window are not remembered; leaving is long since capped."""
