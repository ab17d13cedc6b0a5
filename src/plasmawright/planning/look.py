"""Short spin, look, finish: the interface that is seen says how many minutes to add."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from plasmawright.parameters.table import value
from plasmawright.planning.build import RAMPS_MIN, Choice
from plasmawright.planning.goal import Goal
from plasmawright.planning.hard import Hard
from plasmawright.planning.plan import Look, Plan
from plasmawright.planning.soft import MINUTES, RECOVERY_PER_MIN_FRAC, Seen, Soft, looked_at
from plasmawright.preparation.run import platelets_1e9

Array = NDArray[np.float64]

FIRST_PART = 0.6
SIGHTS = 3
# A second run-up and run-down is worth this many minutes at speed.
RAMP_WORTH_MIN = 0.5


def look_choice(goal: Goal, soft: Soft, chosen: Plan, hard: Hard) -> Choice:
    """Return the plan of looking half-way: for each third of what may be seen, the minutes that serve it best.

    The draws are split by the interface they would show; each part gets the time that is best for its own members.
    What is seen thus stands in for what is not known of this blood.
    """
    first_min = float(max(MINUTES[0], np.floor(chosen.soft_minutes * FIRST_PART)))
    first = soft.at(first_min)
    sample = soft.setting.sample
    entered = platelets_1e9(sample.per_tube_m3, sample)
    recovery = np.stack([seen.platelets_1e9 / entered for seen in soft.seen], axis=1)
    worth = recovery - RECOVERY_PER_MIN_FRAC * MINUTES
    after = MINUTES >= first_min + 1 + RAMP_WORTH_MIN
    edges = np.quantile(first.interface_m, np.linspace(0, 1, SIGHTS + 1)[1:-1])
    part = np.searchsorted(edges, first.interface_m)
    at = np.zeros(sample.draws, dtype=int)
    then: list[tuple[float | None, float]] = []
    for sight in range(SIGHTS):
        members = part == sight
        best = int(np.argmax(np.where(after, worth[members].mean(axis=0), -np.inf)))
        at[members] = best
        up_to_mm = float(np.round(edges[sight] * 2e3) / 2) if sight < SIGHTS - 1 else None
        then.append((up_to_mm, float(max(round(MINUTES[best] - first_min - RAMP_WORTH_MIN), 1))))
    extra = float(np.mean([minutes for _, minutes in then])) + value("look_min") + RAMPS_MIN
    return Choice(
        tubes=chosen.tubes,
        minutes=first_min,
        seen=_picked(soft, at, goal),
        hard=hard,
        look=Look(expected_interface_mm=first.interface_m * 1e3, then=tuple(then)),
        look_minutes=extra,
    )


def _picked(soft: Soft, at: NDArray[np.int_], goal: Goal) -> Seen:
    """Return one tube in which each draw stands at a time of its own."""
    stacked = np.stack([seen.bench.content.phi for seen in soft.seen])
    content = replace(soft.seen[0].bench.content, phi=np.ascontiguousarray(stacked[at, np.arange(len(at))]))
    bench = replace(soft.seen[0].bench, content=content)
    return looked_at(bench, float(np.median(MINUTES[at])), soft.setting, goal.margin_mm)
