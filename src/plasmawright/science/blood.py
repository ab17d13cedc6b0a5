"""Blood with anticoagulant in it: dilution, plasma, and the way between counts and volume fractions.

Anticoagulant dilutes every count, but it stays in the plasma: what counts for settling is its share of the plasma.
Nothing here turns one ratio of anticoagulant into another.
"""

import numpy as np
from numpy.typing import NDArray

from plasmawright.science.tube import Numbers

CUBIC_METRES_PER_FEMTOLITRE = 1e-18


def diluted_share_frac(*, blood_ml: Numbers, anticoagulant_ml: Numbers) -> Numbers:
    """Return the blood's share of the tube: every count of the blood is multiplied by it."""
    return blood_ml / (blood_ml + anticoagulant_ml)


def anticoagulant_in_plasma_frac(*, blood_ml: Numbers, anticoagulant_ml: Numbers, hematocrit_frac: Numbers) -> Numbers:
    """Return the share of the plasma's volume that is anticoagulant."""
    return anticoagulant_ml / (anticoagulant_ml + blood_ml * (1 - hematocrit_frac))


def plasma_ceiling_ml(*, blood_ml: Numbers, anticoagulant_ml: Numbers, hematocrit_frac: Numbers) -> Numbers:
    """Return all the plasma there is, anticoagulant included, were every cell packed without a gap."""
    return blood_ml * (1 - hematocrit_frac) + anticoagulant_ml


def water_viscosity_pa_s(temperature_c: Numbers) -> NDArray[np.float64]:
    """Return the viscosity of water, 0 to 40 °C.

    Notes
    -----
    Kestin, Sokolov and Wakeham, J Phys Chem Ref Data 1978;7:941, equation 15 (coefficients from memory); good to
    0.5 % there.
    """
    below_c = 20.0 - np.asarray(temperature_c, dtype=float)
    power = below_c / (116.0 - below_c) * (1.2364 - 1.37e-3 * below_c + 5.7e-6 * below_c**2)
    return np.asarray(1.002e-3 * 10.0**power)


def plasma_viscosity_pa_s(
    *, temperature_c: Numbers, relative_excess: Numbers, anticoagulant_frac: Numbers
) -> NDArray[np.float64]:
    """Return the viscosity of plasma with anticoagulant: water's, raised in proportion to the share of plasma."""
    return np.asarray(water_viscosity_pa_s(temperature_c) * (1 + relative_excess * (1 - anticoagulant_frac)))


def plasma_density_kg_m3(
    *,
    temperature_c: Numbers,
    undiluted_22c_kg_m3: Numbers,
    per_c_kg_m3: Numbers,
    anticoagulant_kg_m3: Numbers,
    anticoagulant_frac: Numbers,
) -> Numbers:
    """Return the density of plasma with anticoagulant, mixed by volume; linear in temperature about 22 °C."""
    undiluted = undiluted_22c_kg_m3 + per_c_kg_m3 * (temperature_c - 22.0)
    return undiluted * (1 - anticoagulant_frac) + anticoagulant_kg_m3 * anticoagulant_frac


def volume_frac(*, count_1e9_per_l: Numbers, cell_volume_fl: Numbers) -> Numbers:
    """Return the volume fraction of ``count_1e9_per_l`` cells of the given mean volume (1e12 per m3 for 1e9 per L)."""
    return count_1e9_per_l * 1e12 * cell_volume_fl * CUBIC_METRES_PER_FEMTOLITRE


def count_1e9_per_l(*, volume_frac: Numbers, cell_volume_fl: Numbers) -> Numbers:
    """Return the count that fills ``volume_frac``: the inverse of :func:`volume_frac`."""
    return volume_frac / (1e12 * cell_volume_fl * CUBIC_METRES_PER_FEMTOLITRE)
