"""Nights of many worlds in one compiled call: each world's own arrays are handed to the kernel.

A stack is a `NightPlan` and a `Scratch` of arrays with one axis more, the first: that of worlds.
What the kernel gets is what it would get of one world alone, of the same types, so it is compiled
once and plays the same nights.
"""

from __future__ import annotations

from typing import Any

from soundergate.engine.carried import Carried
from soundergate.engine.compiled.decorators import compiled, inlined
from soundergate.engine.kernel.early_table import Table
from soundergate.engine.kernel.night import play_nights
from soundergate.engine.kernel.scratch import Agenda, Clocks, Luck, Night, Scratch
from soundergate.engine.plan import Floats, Ints, NightPlan


@compiled
def play_worlds(
    plans: NightPlan,
    scratches: Scratch,
    number: Ints,
    nobody: Ints,
    seed: int,
    whole: Ints,
    real: Floats,
) -> None:
    """Play the nights ``number`` of each world and fill ``whole`` and ``real``.

    Parameters
    ----------
    plans, scratches : of W worlds
    number : int64[W, C], numbers of the nights, which stand alone
    nobody : int64[0, N]
    seed : int
    whole : int64[W, C, RESULT_INTS], columns R_* of `bounds`
    real : float64[W, C, RESULT_FLOATS], likewise
    """
    of: Any = scratches.night  # records that Python takes for one row, and have many here
    table = scratches.table
    for w in range(number.shape[0]):
        plan = plan_of(plans, w)
        # Built here, since compiled code cannot return a tuple with records in it. Records that
        # several parts know are one and the same, as in `scratch`.
        state, constants = of.state[w], of.constants[w]
        scratch = Scratch(
            Night(
                state,
                constants,
                plan.behaviour[0],
                of.sounders[w],
                of.animals[w],
                plan.openings,
                of.gates[w],
                plan.triggers,
                of.trigger_states[w],
                plan.patches,
                of.patch_states[w],
                Clocks(state, constants, of.clocks.clock[w], of.clocks.waits[w]),
                Luck(state, constants, of.luck.times[w], of.luck.drawn[w]),
                Agenda(of.agenda.due[w], of.agenda.key[w]),
                of.closing[w],
                of.queue[w],
                of.rule[w],
            ),
            Table(
                table.names[w],
                table.stretches[w],
                table.normal_stretches[w],
                table.values[w],
                table.which[w],
                table.tails[w],
            ),
        )
        carried = Carried(number[w], number[w], nobody, nobody)
        play_nights(plan, scratch, carried, seed, whole[w], real[w])


@inlined
def plan_of(plans: NightPlan, w: int) -> NightPlan:
    """Views of one world."""
    return NightPlan(
        plans.class_of[w],
        plans.party_of[w],
        plans.sounder_of[w],
        plans.turn[w],
        plans.size_cdf[w],
        plans.tempo_of[w],
        plans.small[w],
        plans.leads[w],
        plans.mass[w],
        plans.behaviour[w],
        plans.duration_kind[w],
        plans.duration[w],
        plans.entry_speed[w],
        plans.leave_speed[w],
        plans.bucket_speed[w],
        plans.bait_marks[w],
        plans.patches[w],
        plans.openings[w],
        plans.close_time[w],
        plans.close_energy[w],
        plans.rest_time[w],
        plans.rest_energy[w],
        plans.triggers[w],
        plans.trigger_duration_kind[w],
        plans.trigger_duration[w],
        plans.rule[w],
        plans.seen_cdf[w],
        plans.combine_all[w],
    )
