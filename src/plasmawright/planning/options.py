"""Every number of tubes and every time at once: what each would give, in a few array operations."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plasmawright.parameters.table import value
from plasmawright.planning.goal import Goal
from plasmawright.planning.soft import RECOVERY_PER_MIN_FRAC, WHOLE_MINUTES_MIN, Soft
from plasmawright.preparation.run import platelets_1e9

Array = NDArray[np.float64]

# The share of pooled platelets a hard spin is reckoned to leave above while options are compared.
LEFT_FRAC = 0.05
CHANCE_AIM = 0.9
CHANCE_EVEN = 0.5


@dataclass(frozen=True, kw_only=True)
class Options:
    """What every number of tubes (from 1) and every time would give.

    Parameters
    ----------
    minutes
        The times, ascending.
    met
        Whether each draw meets every wish, or where nothing was wished reaches the count the draw is sized for; shape
        (tubes, minutes, draws).
    score
        What options are compared by, shape (tubes, minutes): the chance that all is met; where no option makes that
        likely, the share of what is wished that is reached in the mean, which is then all that can be traded.
    by_share
        Whether ``score`` is that share.
    recovery
        Mean share of the drawn platelets in the plasma, shape (minutes,).
    """

    minutes: Array
    met: NDArray[np.bool_]
    score: Array
    by_share: bool
    recovery: Array

    def best_minutes(self, tubes: int) -> float:
        """Return the time with the best score for so many tubes; among equals the one that recovers most."""
        worth = self.score[tubes - 1] + self.recovery - RECOVERY_PER_MIN_FRAC * self.minutes
        return float(self.minutes[int(np.argmax(np.where(self.whole, worth, -np.inf)))])

    @property
    def whole(self) -> NDArray[np.bool_]:
        """Which times make a whole spin."""
        return np.asarray(self.minutes >= WHOLE_MINUTES_MIN)


def options_of(goal: Goal, soft: Soft, *, tubes_max: int, leave_ml: float) -> Options:
    """Return what every option would give."""
    parameters = soft.setting.parameters
    weights = parameters.weights / parameters.weights.sum()
    handling = parameters.column("handling_frac")
    left_ml = leave_ml * (1 + parameters.column("leave_error_frac"))
    needed = needed_1e9_per_l(goal, soft)
    shape = (tubes_max, len(soft.seen), parameters.count)
    filled, share = np.empty(shape), np.empty(shape)
    for tubes in range(1, tubes_max + 1):
        for at, seen in enumerate(soft.seen):
            count = tubes * seen.platelets_1e9 * (1 - LEFT_FRAC) * handling / left_ml * 1e3
            # what is over must fill the platelet-poor sites
            over_ml = np.maximum(tubes * seen.plasma_ml - left_ml, 0.0)
            filled[tubes - 1, at] = np.minimum(over_ml / goal.poor_ml, 1.0) if goal.poor_ml > 0 else over_ml > 0
            share[tubes - 1, at] = np.minimum(count / needed, 1.0)
    met = (filled >= 1) & (share >= 1)
    chance = met @ weights
    by_share = bool(chance.max() < CHANCE_EVEN)
    entered = platelets_1e9(soft.setting.sample.per_tube_m3, soft.setting.sample)
    return Options(
        minutes=soft.minutes,
        met=met,
        score=(filled * share) @ weights if by_share else chance,
        by_share=by_share,
        recovery=np.array([float(weights @ (seen.platelets_1e9 / entered)) for seen in soft.seen]),
    )


def needed_1e9_per_l(goal: Goal, soft: Soft) -> float:
    """Return the count a draw is sized for: what the wishes ask, or the usual fold where nothing was wished."""
    if goal.needed_1e9_per_l is not None:
        return goal.needed_1e9_per_l
    return value("fold_without_wish") * float(np.median(soft.setting.sample.platelets_1e9_per_l))


def fewest_tubes(options: Options) -> int:
    """Return the fewest tubes whose chance is high enough, or those of the best chance where none is.

    A wish that is out of reach is no reason to draw less than all that may be drawn.
    """
    best = options.score[:, options.whole].max(axis=1)
    enough = np.flatnonzero(best >= CHANCE_AIM)
    if len(enough) and not options.by_share:
        return int(enough[0]) + 1
    return int(np.argmax(best >= best.max() - 0.01)) + 1
