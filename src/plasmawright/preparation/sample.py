"""What is believed about one blood and one bench, draw by draw: given values with their errors, or a population."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from plasmawright.parameters.sets import ParameterSet
from plasmawright.preparation.protocol import Blood, Collection, Preparation, TubeKind
from plasmawright.science import blood as blood_science
from plasmawright.science.settling import Suspension
from plasmawright.science.tube import Tube

Array = NDArray[np.float64]

KINDS = ("red", "platelet_small", "platelet_middle", "platelet_large", "lymphocyte", "monocyte", "granulocyte")
PLATELETS = slice(1, 4)
WHITES = slice(4, 7)
SIZES_PER_KIND = 5
FEMTOLITRE_M3 = blood_science.CUBIC_METRES_PER_FEMTOLITRE


@dataclass(frozen=True, kw_only=True)
class Sample:
    """One blood in its collection tubes, one row a draw.

    Parameters
    ----------
    blood_ml, anticoagulant_ml
        In each tube, shape (draws,).
    hematocrit_frac, platelets_1e9_per_l, white_cells_1e9_per_l
        Of the undiluted blood, shape (draws,).
    cell_volume_m3
        Mean volume of a cell of each kind, shape (draws, kinds).
    size_m3
        Sizes that share each kind evenly by number, shape (draws, kinds, sizes).
    per_tube_m3
        Volume of each kind in one tube, shape (draws, kinds).
    plasma_density_kg_m3, plasma_viscosity_pa_s
        With anticoagulant, at the temperature of the draw, shape (draws,).
    """

    blood_ml: Array
    anticoagulant_ml: float
    hematocrit_frac: Array
    platelets_1e9_per_l: Array
    white_cells_1e9_per_l: Array
    cell_volume_m3: Array
    size_m3: Array
    per_tube_m3: Array
    density_kg_m3: Array
    plasma_density_kg_m3: Array
    plasma_viscosity_pa_s: Array

    @property
    def draws(self) -> int:
        """How many draws there are."""
        return len(self.blood_ml)


def given_or_population(given: float | None, population: str, parameters: ParameterSet) -> Array:
    """Return ``given`` for every draw, or the population's draws where nothing was given."""
    if given is None:
        return parameters.column(population)
    return np.full(parameters.count, float(given))


def sample_of(preparation: Preparation, parameters: ParameterSet) -> Sample:
    """Return what is believed about the blood of ``preparation`` under ``parameters``."""
    blood, collection = preparation.blood, preparation.collection
    reading = parameters.column
    hematocrit = np.clip(blood.hematocrit_frac * (1 + reading("hematocrit_error_frac")), 0.0, 0.85)
    platelets = blood.platelets_1e9_per_l * (1 + reading("platelet_count_error_frac"))
    whites = given_or_population(blood.white_cells_1e9_per_l, "population_white_cells_1e9_per_l", parameters)
    if blood.white_cells_1e9_per_l is not None:
        whites = whites * (1 + reading("white_count_error_frac"))
    blood_ml = collection.blood_ml * (1 + reading("blood_fill_error_frac"))
    size_m3 = _sizes_m3(blood, parameters)
    cell_m3 = size_m3.mean(axis=2)
    plasma = _plasma(preparation, parameters, blood_ml, hematocrit)
    return Sample(
        blood_ml=blood_ml,
        anticoagulant_ml=collection.anticoagulant_ml,
        hematocrit_frac=hematocrit,
        platelets_1e9_per_l=platelets,
        white_cells_1e9_per_l=whites,
        cell_volume_m3=cell_m3,
        size_m3=size_m3,
        per_tube_m3=_amounts_m3(
            blood,
            parameters,
            blood_ml=blood_ml,
            hematocrit=hematocrit,
            platelets=platelets,
            whites=whites,
            cell_m3=cell_m3,
        ),
        density_kg_m3=_densities(parameters),
        plasma_density_kg_m3=plasma[0],
        plasma_viscosity_pa_s=plasma[1],
    )


def _sizes_m3(blood: Blood, parameters: ParameterSet) -> Array:
    """Return the sizes of each kind; platelets' are the even quantiles of a log-normal, in three thirds by number."""
    mean_fl = given_or_population(
        blood.mean_platelet_volume_fl, "population_mean_platelet_volume_fl", parameters
    ) * parameters.column("platelet_settling_volume_ratio")
    sizes = 3 * SIZES_PER_KIND
    spread = ndtri((np.arange(sizes) + 0.5) / sizes)
    relative = np.exp(parameters.column("platelet_volume_log_sd")[:, None] * spread)
    platelets_fl = mean_fl[:, None] * relative / relative.mean(axis=1, keepdims=True)
    found = np.empty((parameters.count, len(KINDS), SIZES_PER_KIND))
    found[:, PLATELETS] = platelets_fl.reshape(-1, 3, SIZES_PER_KIND)
    for kind, name in ((0, "red_cell"), (4, "lymphocyte"), (5, "monocyte"), (6, "granulocyte")):
        found[:, kind] = parameters.column(f"{name}_volume_fl")[:, None]
    return found * FEMTOLITRE_M3


def _densities(parameters: ParameterSet) -> Array:
    names = ("red_cell", "platelet", "platelet", "platelet", "lymphocyte", "monocyte", "granulocyte")
    return np.stack([parameters.column(f"{name}_density") for name in names], axis=1)


def _plasma(
    preparation: Preparation, parameters: ParameterSet, blood_ml: Array, hematocrit: Array
) -> tuple[Array, Array]:
    """Return density (kg/m3) and viscosity (Pa.s) of the plasma with its anticoagulant."""
    temperature = given_or_population(preparation.blood.temperature_c, "population_temperature_c", parameters)
    if preparation.blood.temperature_c is not None:
        temperature = temperature + parameters.column("temperature_error_c")
    share = np.asarray(
        blood_science.anticoagulant_in_plasma_frac(
            blood_ml=blood_ml,
            anticoagulant_ml=preparation.collection.anticoagulant_ml,
            hematocrit_frac=hematocrit,
        )
    )
    density = blood_science.plasma_density_kg_m3(
        temperature_c=temperature,
        undiluted_22c_kg_m3=parameters.column("plasma_density_22c"),
        per_c_kg_m3=parameters.column("plasma_density_per_c"),
        anticoagulant_kg_m3=parameters.column("anticoagulant_density"),
        anticoagulant_frac=share,
    )
    viscosity = blood_science.plasma_viscosity_pa_s(
        temperature_c=temperature,
        relative_excess=parameters.column("plasma_relative_viscosity_excess"),
        anticoagulant_frac=share,
    )
    return np.asarray(density), viscosity


def _amounts_m3(
    blood: Blood,
    parameters: ParameterSet,
    *,
    blood_ml: Array,
    hematocrit: Array,
    platelets: Array,
    whites: Array,
    cell_m3: Array,
) -> Array:
    lymphocytes = given_or_population(blood.lymphocytes_frac, "population_lymphocytes_frac", parameters)
    monocytes = given_or_population(blood.monocytes_frac, "population_monocytes_frac", parameters)
    granulocytes = np.maximum(1 - lymphocytes - monocytes, 0.0)
    blood_m3 = blood_ml * 1e-6
    amounts = np.empty((parameters.count, len(KINDS)))
    amounts[:, 0] = hematocrit * blood_m3
    amounts[:, PLATELETS] = (platelets / 3 * 1e12 * blood_m3)[:, None] * cell_m3[:, PLATELETS]
    shares = np.stack([lymphocytes, monocytes, granulocytes], axis=1)
    amounts[:, WHITES] = (whites * 1e12 * blood_m3)[:, None] * shares * cell_m3[:, WHITES]
    return amounts


def mobility_m2_per_pa_s(size_m3: Array, viscosity_pa_s: Array) -> Array:
    """Return Stokes' mobility 2 R^2 / (9 mu) of spheres of the given volumes, viscosity one a draw."""
    radius2_m2 = (3 * size_m3 / (4 * np.pi)) ** (2 / 3)
    return np.asarray(2 * radius2_m2 / 9 / viscosity_pa_s.reshape(-1, *[1] * (size_m3.ndim - 1)))


def suspension_of(sample: Sample, parameters: ParameterSet) -> Suspension:
    """Return how the cells of ``sample`` settle in whole blood, with blood's own terms."""
    lone = mobility_m2_per_pa_s(sample.size_m3, sample.plasma_viscosity_pa_s).mean(axis=2)
    lone[:, 0] *= parameters.column("red_cell_aggregation")
    lone[:, PLATELETS] *= parameters.column("platelet_mobility")[:, None]
    zero = np.zeros_like(lone)
    expression, entrainment = zero.copy(), zero.copy()
    expression[:, PLATELETS] = parameters.column("platelet_expression")[:, None]
    entrainment[:, WHITES] = parameters.column("white_cell_entrainment")[:, None]
    packed = np.repeat(parameters.column("packed_other_frac")[:, None], lone.shape[1], axis=1)
    loose = packed.copy()
    packed[:, 0] = parameters.column("packed_red_frac")
    loose[:, 0] = parameters.column("loose_red_frac")
    return Suspension(
        mobility_m2_per_pa_s=lone,
        density_kg_m3=sample.density_kg_m3,
        plasma_density_kg_m3=sample.plasma_density_kg_m3,
        expression=expression,
        entrainment=entrainment,
        packed_frac=packed,
        loose_frac=loose,
        packing_load_pa=parameters.column("packing_load_pa"),
        packing_exponent=parameters.column("packing_exponent"),
        stirring_m2_s=parameters.column("stirring_m2_per_s"),
        hindrance_exponent=float(parameters.column("hindrance_exponent")[0]),
    )


def dilute_drift_s(sample: Sample, parameters: ParameterSet) -> Array:
    """Return the sedimentation coefficient (s) of each size in plasma, shape (draws, kinds, sizes)."""
    mobility = mobility_m2_per_pa_s(sample.size_m3, sample.plasma_viscosity_pa_s)
    mobility[:, PLATELETS] *= parameters.column("platelet_mobility")[:, None, None]
    gap = sample.density_kg_m3 - sample.plasma_density_kg_m3[:, None]
    return np.asarray(mobility * gap[:, :, None])


def tube_of(kind: TubeKind, parameters: ParameterSet) -> Tube:
    """Return the inside of a tube of ``kind``, its bore known to within its error."""
    bore_m = np.maximum(kind.inner_diameter_mm + parameters.column("inner_diameter_error_mm"), 1.0) * 1e-3
    tip_m = (kind.tip_diameter_mm or 0.0) * 1e-3
    return Tube(
        inner_diameter_m=bore_m,
        bottom=kind.bottom,
        cone_height_m=(kind.cone_height_mm or 0.0) * 1e-3,
        tip_diameter_m=np.minimum(tip_m, 0.98 * bore_m),
    )


def filled_m3(sample: Sample, collection: Collection) -> Array:
    """Return what stands in one collection tube, shape (draws,)."""
    return np.asarray((sample.blood_ml + collection.anticoagulant_ml) * 1e-6)
