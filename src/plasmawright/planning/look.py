"""Short spin, look, finish: the interface that is seen says how many minutes to add."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from plasmawright.parameters.table import value
from plasmawright.planning.build import ramps_min
from plasmawright.planning.goal import Goal
from plasmawright.planning.hard import Hard
from plasmawright.planning.options import Options
from plasmawright.planning.plan import Look, Plan
from plasmawright.planning.soft import Seen, Soft, looked_at
from plasmawright.planning.syringe import Choice
from plasmawright.preparation.run import platelets_1e9

Array = NDArray[np.float64]

FIRST_PART = 0.6
SIGHTS = 3


def look_choice(goal: Goal, soft: Soft, options: Options, chosen: Plan, hard: Hard) -> Choice:
    """Return the plan of looking half-way: for each third of what may be seen, the minutes that serve it best.

    The draws are split by the interface they would show; each part gets the time that meets the wishes for most of its
    own members, and of equal ones the time that recovers most. What is seen thus stands in for what is not known of
    this blood.
    """
    at_first = max(int(np.searchsorted(soft.minutes, chosen.soft_minutes * FIRST_PART)), 0)
    first = soft.seen[at_first]
    entered = platelets_1e9(soft.setting.sample.per_tube_m3, soft.setting.sample)
    recovery = np.stack([seen.platelets_1e9 / entered for seen in soft.seen])
    met = options.met[chosen.tubes - 1]
    edges = np.quantile(first.interface_m, np.linspace(0, 1, SIGHTS + 1)[1:-1])
    part = np.searchsorted(edges, first.interface_m)
    at = np.zeros(soft.setting.sample.draws, dtype=int)
    then: list[tuple[float | None, float]] = []
    for sight in range(SIGHTS):
        members = part == sight
        worth = met[:, members].mean(axis=1) + 1e-3 * recovery[:, members].mean(axis=1)
        best = at_first + int(np.argmax(worth[at_first:]))
        at[members] = best
        up_to_mm = float(np.round(edges[sight] * 2e3) / 2) if sight < SIGHTS - 1 else None
        then.append((up_to_mm, _added_min(float(soft.minutes[best] - first.minutes))))
    longest = max(minutes for _, minutes in then)
    extra = value("look_min") + (longest + ramps_min() if longest else 0.0)
    return Choice(
        tubes=chosen.tubes,
        minutes=first.minutes,
        seen=_picked(soft, at, goal),
        hard=hard,
        look=Look(expected_interface_mm=first.interface_m * 1e3, then=tuple(then)),
        look_minutes=extra,
    )


def _added_min(wanted_min: float) -> float:
    """Return the minutes to dial for a second spin: its own ramps already do a third of their length."""
    return max(round(wanted_min - ramps_min() / 3), 1.0) if wanted_min > 0 else 0.0


def _picked(soft: Soft, at: NDArray[np.int_], goal: Goal) -> Seen:
    """Return one tube in which each draw stands at a time of its own."""
    stacked = np.stack([seen.bench.content.phi for seen in soft.seen])
    content = replace(soft.seen[0].bench.content, phi=np.ascontiguousarray(stacked[at, np.arange(len(at))]))
    bench = replace(soft.seen[0].bench, content=content)
    return looked_at(bench, float(np.median(soft.minutes[at])), soft.setting, goal.margin_mm)
