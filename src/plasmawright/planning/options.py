"""Every number of tubes and every time at once: what each would give, in a few array operations."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plasmawright.parameters.table import value
from plasmawright.planning.goal import Goal
from plasmawright.planning.soft import MINUTES, Soft

Array = NDArray[np.float64]

# The share of pooled platelets a hard spin is reckoned to leave above while options are compared.
LEFT_FRAC = 0.05
CHANCE_AIM = 0.9


@dataclass(frozen=True, kw_only=True)
class Options:
    """Chances by number of tubes (from 1) and time, shape (tubes, minutes).

    ``objective`` is the chance that every wish is met; where nothing was wished, that the product reaches the count
    it is sized for. ``chance_volumes`` is the chance that all volumes can be filled.
    """

    objective: Array
    chance_volumes: Array

    def best_minutes(self, tubes: int) -> int:
        """Return the index of the shortest time within half a point of the best for this many tubes."""
        row = self.objective[tubes - 1]
        return int(np.argmax(row >= row.max() - 0.005))


def options_of(goal: Goal, soft: Soft, *, tubes_max: int, leave_ml: float) -> Options:
    """Return the chances of every option."""
    parameters = soft.setting.parameters
    weights = parameters.weights / parameters.weights.sum()
    handling = parameters.column("handling_frac")
    left_ml = leave_ml * (1 + parameters.column("leave_error_frac"))
    needed = goal.needed_1e9_per_l
    if needed is None:
        needed = value("fold_without_wish") * float(np.median(soft.setting.sample.platelets_1e9_per_l))
    objective, volumes = np.empty((2, tubes_max, len(MINUTES)))
    for tubes in range(1, tubes_max + 1):
        for at, seen in enumerate(soft.seen):
            pooled_ml = tubes * seen.plasma_ml
            count = tubes * seen.platelets_1e9 * (1 - LEFT_FRAC) * handling / left_ml * 1e3
            # what is over must fill the platelet-poor sites
            filled = pooled_ml - left_ml >= goal.poor_ml
            volumes[tubes - 1, at] = float(weights @ filled)
            objective[tubes - 1, at] = float(weights @ (filled & (count >= needed)))
    return Options(objective=objective, chance_volumes=volumes)


def fewest_tubes(options: Options) -> int:
    """Return the fewest tubes whose chance is high enough; where none is, those with the best chance.

    A wish that cannot be met is no reason to draw all there is: among chances within a point of the best the fewest
    tubes are taken.
    """
    best = options.objective.max(axis=1)
    enough = np.flatnonzero(best >= CHANCE_AIM)
    if len(enough):
        return int(enough[0]) + 1
    return int(np.argmax(best >= best.max() - 0.01)) + 1 if best.max() > 0.01 else len(best)
