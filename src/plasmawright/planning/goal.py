"""What a visit asks of its product, and what is believed about its blood."""

from dataclasses import dataclass, replace
from math import hypot

import numpy as np

from plasmawright.parameters.sets import ParameterSet
from plasmawright.parameters.table import rows, value
from plasmawright.planning.visit import Product, Tolerance, Visit, WhiteCells
from plasmawright.practice.person import SexForBloodVolume
from plasmawright.preparation.protocol import Blood, Collection, Preparation

# A count is fully adrift, by the person's own variation, after four weeks.
DRIFT_DAYS = 28.0


@dataclass(frozen=True, kw_only=True)
class Goal:
    """What the product must be, over all sites.

    Parameters
    ----------
    volume_ml
        Of platelet-rich plasma at the sites, without what is added for losses.
    needed_1e9_per_l
        The count that meets every wish, since all sites share one product; ``None`` where nothing was wished.
    poor_ml
        Of platelet-poor plasma at the sites with their dead spaces.
    red_cells_1e12_per_l
        The wish for the product; ``None`` where there is none.
    """

    volume_ml: float
    needed_1e9_per_l: float | None
    poor_ml: float
    red_cells_1e12_per_l: float | None
    white_cells: WhiteCells
    margin_mm: float

    def at_margin(self, margin_mm: float) -> "Goal":
        """Return the goal with the stop where a person wants it."""
        return replace(self, margin_mm=margin_mm)


def goal_of(visit: Visit) -> Goal:
    """Return what ``visit`` asks for."""
    rich = visit.sites_for(Product.PRP)
    poor = visit.sites_for(Product.PPP)
    wishes = [site.platelets_1e9 / site.volume_ml * 1e3 for site in rich if site.platelets_1e9 is not None]
    low = visit.patient.red_cell_tolerance is Tolerance.LOW
    red = visit.limits.red_cells_1e12_per_l
    if red is None and low:
        red = value("red_cells_where_little_tolerated_1e12_per_l")
    return Goal(
        volume_ml=visit.volume_ml(Product.PRP),
        needed_1e9_per_l=max(wishes) if wishes else None,
        poor_ml=visit.volume_ml(Product.PPP) + value("dead_space_ml") * len(poor),
        red_cells_1e12_per_l=red,
        white_cells=visit.limits.white_cells,
        margin_mm=margin_mm(visit),
    )


def margin_mm(visit: Visit) -> float:
    """Return how far above the red that is seen the hand stops, to half a millimetre, never nearer than rounding.

    Two standard deviations of a known hand and a millimetre for the interface; the trade's 3 mm for an unknown one.
    """
    spread = visit.bench.stop_spread_mm
    margin = value("starting_margin_mm") if spread is None else 1.0 + 2.0 * spread
    if visit.patient.red_cell_tolerance is Tolerance.LOW:
        margin += value("low_tolerance_margin_mm")
    if visit.rotor.angle_deg < 90:
        margin += value("fixed_angle_margin_mm")
    return float(np.ceil(margin * 2 - 1e-9) / 2)


def left_over_sum_ml(visit: Visit, *, second_tubes: int) -> list[tuple[str, float]]:
    """Return what is left over the pellet, as the sum that is printed: sites, dead spaces, film, count sample."""
    found = [
        (f"{site.name}{'' if site.side == 'none' else f' ({site.side})'}", site.volume_ml)
        for site in visit.sites_for(Product.PRP)
    ]
    needles = len(found)
    found.append((f"dead space of {needles} syringe{'s' if needles > 1 else ''}", needles * value("dead_space_ml")))
    found.append(
        (f"film in {second_tubes} tube{'s' if second_tubes > 1 else ''}", second_tubes * value("wall_film_ml"))
    )
    found.append(("sample for counting", value("count_sample_ml")))
    return found


def base_preparation(visit: Visit) -> Preparation:
    """Return the visit's blood in one of its tubes, with no steps yet; what was not counted stands at its centre."""
    blood, bench = visit.blood, visit.bench
    hematocrit = blood.hematocrit_frac if blood.hematocrit_frac is not None else value(hematocrit_row(visit))
    platelets = blood.platelets_1e9_per_l
    return Preparation(
        blood=Blood(
            hematocrit_frac=hematocrit,
            platelets_1e9_per_l=platelets if platelets is not None else value("population_platelets_1e9_per_l"),
            white_cells_1e9_per_l=blood.white_cells_1e9_per_l,
            lymphocytes_frac=blood.lymphocytes_frac,
            monocytes_frac=blood.monocytes_frac,
            mean_platelet_volume_fl=blood.mean_platelet_volume_fl,
            temperature_c=bench.temperature_c,
        ),
        collection=Collection(
            tubes=1, blood_ml=bench.blood_ml, anticoagulant_ml=bench.anticoagulant_ml, tube=bench.tube
        ),
        rotor=visit.rotor,
        steps=(),
        tubes=visit.tubes,
    )


def hematocrit_row(visit: Visit) -> str:
    """Return the row that stands in where no haematocrit was counted."""
    female = visit.patient.sex_for_blood_volume is SexForBloodVolume.FEMALE
    return "population_hematocrit_female_frac" if female else "population_hematocrit_male_frac"


def stretched(visit: Visit, parameters: ParameterSet) -> ParameterSet:
    """Return the draws with the errors of reading and of the hand stretched to what this visit knows of them."""
    wanted = {
        "hematocrit_error_frac": _count_spread(
            "hematocrit_error_frac", "hematocrit_drift_frac", hematocrit_row(visit), visit.blood.hematocrit_frac, visit
        ),
        "platelet_count_error_frac": _count_spread(
            "platelet_count_error_frac",
            "platelet_count_drift_frac",
            "population_platelets_1e9_per_l",
            visit.blood.platelets_1e9_per_l,
            visit,
        ),
    }
    hand_mm = visit.bench.stop_spread_mm
    own_mm = rows()["stop_error_mm"].spread if hand_mm is None else hand_mm
    # the grid's error of recovery, told as an error of the stop, is added to the hand's
    wanted["stop_error_mm"] = hypot(own_mm, value("grid_error_as_stop_mm"))
    columns = {}
    for name, spread in wanted.items():
        row = rows()[name]
        stretched_to = row.value + (parameters.column(name) - row.value) * spread / row.spread
        # a share cannot fall to nothing however little is known
        columns[name] = np.clip(stretched_to, -0.7, 1.5) if name.endswith("_frac") else stretched_to
    return parameters.replaced(**columns)


def _count_spread(error: str, drift: str, population: str, counted: float | None, visit: Visit) -> float:
    """Return the relative uncertainty of a count: its own error and its age, or the population's."""
    if counted is None:
        row = rows()[population]
        return row.spread / row.value
    age = min((visit.blood.counted_days_ago or 0.0) / DRIFT_DAYS, 1.0)
    return hypot(rows()[error].spread, rows()[drift].spread * age**0.5)
