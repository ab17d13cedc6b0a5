"""The stop-line drill: how closely a hand stops where it means to, by weighing.

Dyed sugar water stands under plain water, as red cells stand under plasma. The plain water was weighed in; it is pulled
off from above until the tip stands where the hand means to stop, and what was pulled is weighed. What is left over the
colour is a height.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy import stats

from plasmawright.errors import Refusal
from plasmawright.practice.bore import water_density_kg_m3
from plasmawright.practice.guards import refuse_outside

PULLS = 10
AIM_MM_MAX = 20.0
MASS_G_MAX = 60.0
WORST_MM = 40.0


@dataclass(frozen=True, kw_only=True)
class Pull:
    """One pull: plain water weighed in, and weighed again once pulled off; ``aimed_mm`` is over the colour."""

    aimed_mm: float
    added_g: float
    taken_g: float
    inner_diameter_mm: float
    temperature_c: float = 22.0


@dataclass(frozen=True, kw_only=True)
class Hand:
    """How one hand stops.

    Parameters
    ----------
    bias_mm
        Mean of where it stopped less where it meant to; negative is nearer the red.
    spread_mm
        Standard deviation about that mean.
    spread_low_mm, spread_high_mm
        Where the spread lies nine times in ten, if pulls scatter as a normal distribution does.
    about_aim_mm
        Root mean square about the aim: what a plan takes for this hand, bias and spread in one.
    """

    pulls: int
    bias_mm: float
    spread_mm: float
    spread_low_mm: float
    spread_high_mm: float
    about_aim_mm: float


def stopped_mm(pull: Pull) -> float:
    """Return how far above the colour the water that is left stands, in mm.

    Raises
    ------
    Refusal
        If a reading is out of range, or more was pulled than was put in.
    """
    refuse_outside("drill.aimed_mm", pull.aimed_mm, low=0.5, high=AIM_MM_MAX, remedy="Aim some mm above the colour.")
    refuse_outside("drill.added_g", pull.added_g, low=0.1, high=MASS_G_MAX, remedy="Weigh the water you put in, in g.")
    refuse_outside("drill.taken_g", pull.taken_g, low=0.0, high=MASS_G_MAX, remedy="Weigh the water you pulled, in g.")
    refuse_outside("drill.bore_mm", pull.inner_diameter_mm, low=4.0, high=60.0, remedy="Measure the tube's bore.")
    left_g = pull.added_g - pull.taken_g
    if left_g < 0:
        raise Refusal(
            "drill.taken_g", pull.taken_g, f"it must be at most the {pull.added_g:g} g put in", "Weigh again."
        )
    left_mm3 = left_g / water_density_kg_m3(pull.temperature_c) * 1e6
    found_mm = left_mm3 / (math.pi * pull.inner_diameter_mm**2 / 4)
    if found_mm > WORST_MM:
        limit = f"the water left would stand {found_mm:.0f} mm high; more than {WORST_MM:g} is no pull"
        raise Refusal("drill.taken_g", pull.taken_g, limit, "Look at the two weights and the bore again.")
    return found_mm


def hand_of(aimed_mm: Sequence[float], got_mm: Sequence[float]) -> Hand:
    """Return how a hand stops from pulls of at least two.

    Notes
    -----
    The interval of the spread is that of a variance: (n-1) s² over the quantiles of chi-square with n-1 degrees.

    Raises
    ------
    Refusal
        If there are fewer than two pulls.
    """
    if len(got_mm) != len(aimed_mm) or len(got_mm) < 2:
        raise Refusal("drill.pulls", len(got_mm), "a spread needs two pulls at least", "Pull again; ten are better.")
    count = len(got_mm)
    off = [got - aimed for got, aimed in zip(got_mm, aimed_mm, strict=True)]
    bias = math.fsum(off) / count
    square = math.fsum((one - bias) ** 2 for one in off)
    low, high = (math.sqrt(square / float(stats.chi2.ppf(chance, count - 1))) for chance in (0.95, 0.05))
    return Hand(
        pulls=count,
        bias_mm=bias,
        spread_mm=math.sqrt(square / (count - 1)),
        spread_low_mm=low,
        spread_high_mm=high,
        about_aim_mm=math.sqrt(math.fsum(one**2 for one in off) / count),
    )


def words_of(hand: Hand) -> str:
    """Return one sentence for the operator: which way they stop, and how evenly."""
    if abs(hand.bias_mm) < hand.spread_mm / math.sqrt(hand.pulls):
        where = "You stop where you mean to"
    else:
        way = "higher than you mean to" if hand.bias_mm > 0 else "nearer the red than you mean to"
        where = f"You stop about {abs(hand.bias_mm):.1f} mm {way}"
    return (
        f"{where}, within {hand.spread_mm:.1f} mm from pull to pull "
        f"(between {hand.spread_low_mm:.1f} and {hand.spread_high_mm:.1f}, nine times in ten)."
    )
