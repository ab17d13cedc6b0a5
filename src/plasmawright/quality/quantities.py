"""What a published experiment measures, read off an outcome: one value a draw."""

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from plasmawright.errors import Refusal
from plasmawright.preparation.prediction import Outcome

Array = NDArray[np.float64]


def _share(outcome: Outcome, part: str) -> Array:
    products = outcome.products
    rich, poor, lost = products["prp"], products["ppp"], products["lost_in_handling"]
    if rich is None or poor is None or lost is None:
        raise Refusal("steps", "one spin", "the quantity speaks of a second spin", "Choose another quantity.")
    pooled = rich["platelets_1e9"] + poor["platelets_1e9"] + lost["platelets_1e9"]
    return np.asarray({"rich": rich, "poor": poor}[part]["platelets_1e9"] / pooled)


def _product(outcome: Outcome, name: str) -> Array:
    product = outcome.products["prp"]
    if product is None:
        raise Refusal("steps", "no product", "the quantity speaks of a product", "Choose another quantity.")
    return product[name]


def _plasma_share(outcome: Outcome) -> Array:
    first = outcome.after_first_spin
    return np.asarray(first["plasma_above_cells_ml"] / first["filled_ml"])


def _white_cells_1e9(outcome: Outcome) -> Array:
    return np.asarray(_product(outcome, "white_cells_1e9_per_l") * _product(outcome, "volume_ml") * 1e-3)


def _trapped_platelets(outcome: Outcome) -> Array:
    """Return the platelets' concentration in the plasma left with the cells over that in the plasma drawn."""
    left = outcome.products["left_with_cells"]
    if left is None:
        raise Refusal("steps", "nothing left", "the quantity speaks of what is left", "Choose another quantity.")
    trapped_ml = left["volume_ml"] * (1 - outcome.after_first_spin["bed_hematocrit_frac"])
    return np.asarray(left["platelets_1e9"] / trapped_ml * 1e3 / _product(outcome, "platelets_1e9_per_l"))


QUANTITIES: Mapping[str, Callable[[Outcome], Array]] = {
    "first_recovery_frac": lambda outcome: outcome.after_first_spin["recovery_frac"],
    "first_left_frac": lambda outcome: np.asarray(1 - outcome.after_first_spin["recovery_frac"]),
    "second_recovery_frac": lambda outcome: _share(outcome, "rich"),
    "product_recovery_frac": lambda outcome: _product(outcome, "recovery_frac"),
    "product_fold": lambda outcome: _product(outcome, "fold"),
    "poor_share_frac": lambda outcome: _share(outcome, "poor"),
    "plasma_share_frac": _plasma_share,
    "bed_hematocrit_frac": lambda outcome: outcome.after_first_spin["bed_hematocrit_frac"],
    "mid_bed_hematocrit_frac": lambda outcome: outcome.after_first_spin["mid_bed_hematocrit_frac"],
    "mean_platelet_volume_ratio": lambda outcome: outcome.after_first_spin["mean_platelet_volume_ratio"],
    "plasma_red_cells_1e12_per_l": lambda outcome: _product(outcome, "red_cells_1e12_per_l"),
    "plasma_white_cells_1e9_per_l": lambda outcome: _product(outcome, "white_cells_1e9_per_l"),
    "plasma_white_cells_1e9": _white_cells_1e9,
    "plasma_platelets_1e9_per_l": lambda outcome: _product(outcome, "platelets_1e9_per_l"),
    "trapped_platelet_ratio": _trapped_platelets,
}
"""By name. Names that begin with ``plasma_`` and speak of cells are of what was drawn after a single spin."""

RECOVERIES = ("first_recovery_frac", "first_left_frac", "second_recovery_frac", "product_recovery_frac")
