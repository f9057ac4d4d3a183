"""Times of a night for its reader: since the first pig came, and since the trap was set."""

from __future__ import annotations

from soundergate.engine.trace.labels import clock
from soundergate.engine.trace.trace import Trace


def anyone_came(trace: Trace) -> bool:
    return any(event.kind == "arrives" for event in trace.events)


def told(trace: Trace, time: float) -> str:
    """Minutes and seconds since the first pig came, or the clock of a night on which none did."""
    return minutes(time - trace.first_arrival) if anyone_came(trace) else clock(time)


def minutes(seconds: float) -> str:
    """290.3 s as "4 min 50.3 s"; before the first pig came it is negative."""
    tenths = round(abs(seconds) * 10)
    whole, tenths = divmod(tenths, 600)
    sign = "−" if seconds < 0 and (whole or tenths) else ""
    return f"{sign}{whole} min {tenths / 10:.1f} s"


def short_clock(seconds: float) -> str:
    """Time since the trap was set as h:mm, the minute that has begun."""
    whole = int(seconds // 60)
    return f"{whole // 60}:{whole % 60:02d}"


def when(trace: Trace, time: float) -> str:
    """Both, as a clause: "4 min 50.3 s after the first pig came (2:39 after the set)"."""
    if not anyone_came(trace):
        return f"{clock(time)} after the trap was set"
    return f"{told(trace, time)} after the first pig came ({short_clock(time)} after the set)"
