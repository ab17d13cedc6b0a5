"""Units of blood counts and haemoglobin, each conversion named once and guarded against a slip of a thousand.

1e9/L is 1e3/µL and 1e6/mL. Red cells are printed in 1e12/L, white cells and platelets in 1e9/L.
"""

from plasmawright.parameters.table import rule
from plasmawright.practice.guards import refuse_outside

PER_UL_PER_1E9_PER_L = 1e3
PER_ML_PER_1E9_PER_L = 1e6
PRODUCT_PLATELETS_1E9_PER_L = (50.0, 10_000.0)
BLOOD_PLATELETS_1E9_PER_L = (1.0, 3000.0)
PLATELETS_REMEDY = "Counts are in 1e9/L: divide a count per µL by 1000, such as 1200 for 1 200 000/µL."


def checked_product_platelets_1e9_per_l(platelets_1e9_per_l: float) -> float:
    """Return the count of a platelet-rich plasma; refuses what lies outside 50 to 10 000, as a slip does."""
    low, high = PRODUCT_PLATELETS_1E9_PER_L
    refuse_outside("prp_platelets_1e9_per_l", platelets_1e9_per_l, low=low, high=high, remedy=PLATELETS_REMEDY)
    return platelets_1e9_per_l


def checked_blood_platelets_1e9_per_l(platelets_1e9_per_l: float) -> float:
    """Return the count of undiluted blood; refuses what no living person's blood holds."""
    low, high = BLOOD_PLATELETS_1E9_PER_L
    refuse_outside("blood.platelets_1e9_per_l", platelets_1e9_per_l, low=low, high=high, remedy=PLATELETS_REMEDY)
    return platelets_1e9_per_l


def per_ul(count_1e9_per_l: float) -> float:
    """Return a count per microlitre."""
    return count_1e9_per_l * PER_UL_PER_1E9_PER_L


def per_ml(count_1e9_per_l: float) -> float:
    """Return a count per millilitre."""
    return count_1e9_per_l * PER_ML_PER_1E9_PER_L


def from_per_ul_1e9_per_l(count_per_ul: float) -> float:
    """Return a count per microlitre in 1e9/L; check the result with one of the guards above."""
    return count_per_ul / PER_UL_PER_1E9_PER_L


def red_cells_1e9_per_l(red_cells_1e12_per_l: float) -> float:
    """Return a red-cell count in the unit of platelets and white cells."""
    return red_cells_1e12_per_l * 1000.0


def checked_hemoglobin_g_per_dl(hemoglobin_g_per_dl: float) -> float:
    """Return the haemoglobin; refuses what is probably in g/L."""
    remedy = "Write g/dL, such as 14.2: divide g/L by 10, multiply mmol/L by 1.61."
    refuse_outside("hemoglobin_g_per_dl", hemoglobin_g_per_dl, low=2, high=25, remedy=remedy)
    return hemoglobin_g_per_dl


def hemoglobin_g_per_l(hemoglobin_g_per_dl: float) -> float:
    """Return haemoglobin in g/L."""
    return checked_hemoglobin_g_per_dl(hemoglobin_g_per_dl) * 10.0


def hemoglobin_mmol_per_l(hemoglobin_g_per_dl: float) -> float:
    """Return haemoglobin in mmol/L, counted per iron."""
    return hemoglobin_g_per_l(hemoglobin_g_per_dl) / rule("hemoglobin_g_per_l_per_mmol").value


def hemoglobin_from_g_per_l_g_per_dl(hemoglobin_g_per_l: float) -> float:
    """Return haemoglobin given in g/L in g/dL; refuses what is probably in g/dL already."""
    remedy = "Write g/L, such as 142: multiply g/dL by 10."
    refuse_outside("hemoglobin_g_per_l", hemoglobin_g_per_l, low=26, high=250, remedy=remedy)
    return hemoglobin_g_per_l / 10.0


def hemoglobin_from_mmol_per_l_g_per_dl(hemoglobin_mmol_per_l: float) -> float:
    """Return haemoglobin given in mmol/L (per iron) in g/dL."""
    remedy = "Write mmol/L counted per iron, such as 8.8."
    refuse_outside("hemoglobin_mmol_per_l", hemoglobin_mmol_per_l, low=1.25, high=15.5, remedy=remedy)
    return hemoglobin_mmol_per_l * rule("hemoglobin_g_per_l_per_mmol").value / 10.0
