"""One option carried through to the syringe: withdrawal, hard spin, leave volume, resuspension."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plasmawright.parameters.table import value
from plasmawright.planning.goal import Goal, left_over_sum_ml
from plasmawright.planning.hard import Hard
from plasmawright.planning.plan import Look
from plasmawright.planning.soft import Seen, Soft
from plasmawright.planning.visit import Visit
from plasmawright.preparation.protocol import RemoveSupernatant, Resuspend, Spin, Stop, Withdraw
from plasmawright.preparation.run import platelets_1e9, remove_supernatant, resuspend, spin, withdraw
from plasmawright.preparation.sample import WHITES
from plasmawright.science.settling_kernel import RED

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Choice:
    """What distinguishes one plan from another."""

    tubes: int
    minutes: float
    seen: Seen
    hard: Hard
    look: Look | None = None
    look_minutes: float = 0.0
    wish_share: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Syringe:
    """What is in hand at the end, one value a draw: ``rich`` is the product, ``poor`` what was taken off it."""

    leave_ml: float
    leave_ml_sum: tuple[tuple[str, float], ...]
    pooled_ml: Array
    second_tube_g: float
    rich_ml: Array
    rich_1e9: Array
    red_1e12_per_l: Array
    white_1e9_per_l: Array
    poor_ml: Array
    poor_1e9: Array

    @property
    def rich_1e9_per_l(self) -> Array:
        """The product's count."""
        return np.asarray(self.rich_1e9 / self.rich_ml * 1e3)

    @property
    def poor_1e9_per_l(self) -> Array:
        """The count of the platelet-poor plasma; 0 where there is none."""
        there = self.poor_ml > 1e-6
        return np.where(there, self.poor_1e9 / np.where(there, self.poor_ml, 1.0) * 1e3, 0.0)

    def fills(self, goal: Goal) -> NDArray[np.bool_]:
        """Return in which draws every volume can be filled."""
        return np.asarray((self.poor_ml >= goal.poor_ml) & (self.rich_ml >= goal.volume_ml))

    def share_filled(self, goal: Goal) -> Array:
        """Return the share of the platelet-poor volume that can be filled."""
        return np.minimum(self.poor_ml / goal.poor_ml, 1.0) if goal.poor_ml > 0 else np.ones_like(self.poor_ml)


def fill_syringe(visit: Visit, goal: Goal, soft: Soft, choice: Choice) -> Syringe:
    """Withdraw, pool, spin hard, take off the platelet-poor plasma and bring the pellet back."""
    setting, sample = soft.setting, soft.setting.sample
    summed = left_over_sum_ml(visit, second_tubes=choice.hard.tubes)
    leave_ml = sum(ml for _, ml in summed)
    drawing = Withdraw(
        stop=Stop.ABOVE_CELLS_MM,
        value=goal.margin_mm,
        pool_into=visit.bench.second_tube,
        pool_tubes=choice.hard.tubes,
    )
    pooled = withdraw(replace(choice.seen.bench, tubes=choice.tubes), drawing, setting)
    spun = spin(pooled, Spin(rpm=choice.hard.rpm, minutes=choice.hard.minutes), setting)
    done = resuspend(remove_supernatant(spun, RemoveSupernatant(leave_ml=leave_ml), setting), Resuspend(), setting)
    rich_ml = done.content.filled_m3 * done.tubes * 1e6
    amounts = done.content.amounts_m3 * done.tubes
    cells = amounts / sample.cell_volume_m3 / (rich_ml * 1e-3)[:, None]
    nothing = np.zeros(sample.draws)
    return Syringe(
        leave_ml=leave_ml,
        leave_ml_sum=tuple(summed),
        pooled_ml=pooled.content.filled_m3 * pooled.tubes * 1e6,
        second_tube_g=float(np.median(pooled.content.filled_m3)) * value("pooled_plasma_density_kg_m3") * 1e3,
        rich_ml=rich_ml,
        rich_1e9=platelets_1e9(amounts, sample),
        red_1e12_per_l=cells[:, RED] / 1e12,
        white_1e9_per_l=cells[:, WHITES].sum(axis=1) / 1e9,
        poor_ml=nothing if done.poor is None else done.poor.volume_m3 * 1e6,
        poor_1e9=nothing if done.poor is None else platelets_1e9(done.poor.amounts_m3, sample),
    )
