"""What a plan means for this person: cautions, limits of the draw, and the classes its product would fall into."""

import numpy as np

from plasmawright.parameters.table import rule
from plasmawright.planning.plan import Plan
from plasmawright.planning.visit import Product, Visit
from plasmawright.practice.cautions import (
    caution_anaemia_cutoff,
    caution_child,
    caution_concentration,
    caution_draw,
    caution_low_hemoglobin,
    caution_low_platelets,
    caution_old_count,
)
from plasmawright.practice.classification import (
    classify_delong_2012,
    classify_magalon_2016,
    classify_mishra_2012,
    classify_red_cells,
    classify_white_cells,
)
from plasmawright.practice.dose import limit_final_volume
from plasmawright.practice.person import (
    blood_volume_lemmens_ml,
    blood_volume_nadler_ml,
    child_blood_volume_ml,
    limits_of_draw,
)
from plasmawright.practice.product import Activation, ProductCells
from plasmawright.practice.statements import Caution, Class, present
from plasmawright.practice.tubes import caution_high_hematocrit
from plasmawright.preparation.prediction import six_digits
from plasmawright.preparation.sample import Sample

# The claim of the trade that is set against the arithmetic of the ceiling.
TRADE_FOLD = 20.0


def total_blood_volume_ml(visit: Visit) -> float:
    """Return the lower of the two adult formulas, since both err upwards in some; a child's own figure below 18."""
    person = visit.patient
    if person.age_years < rule("adult_age_years").value:
        return child_blood_volume_ml(weight_kg=person.weight_kg, age_years=person.age_years)
    if person.weight_kg < rule("adult_formula_weight_kg_min").value:
        return blood_volume_lemmens_ml(weight_kg=person.weight_kg, height_cm=person.height_cm)
    return min(
        blood_volume_nadler_ml(sex=person.sex_for_blood_volume, weight_kg=person.weight_kg, height_cm=person.height_cm),
        blood_volume_lemmens_ml(weight_kg=person.weight_kg, height_cm=person.height_cm),
    )


def cautions_of(visit: Visit, plan: Plan) -> tuple[Caution, ...]:
    """Return the cautions about this person and this plan, each with its source."""
    person, blood = visit.patient, visit.blood
    limits = limits_of_draw(
        age_years=person.age_years,
        weight_kg=person.weight_kg,
        height_cm=person.height_cm,
        hematocrit_frac=blood.hematocrit_frac,
        max_blood_ml=visit.bench.max_blood_ml or visit.bench.tubes_at_hand * visit.bench.blood_ml,
    )
    found: list[Caution | None] = [caution_child(person.age_years)]
    if blood.hemoglobin_g_per_dl is not None:
        found.append(
            caution_anaemia_cutoff(
                hemoglobin_g_per_dl=blood.hemoglobin_g_per_dl,
                sex=person.sex_for_blood_volume,
                age_years=person.age_years,
            )
        )
        found.append(caution_low_hemoglobin(blood.hemoglobin_g_per_dl))
    if blood.platelets_1e9_per_l is not None:
        found.append(caution_low_platelets(blood.platelets_1e9_per_l))
    if blood.hematocrit_frac is not None:
        found.append(caution_high_hematocrit(blood.hematocrit_frac))
    if blood.counted_days_ago is not None:
        found.append(caution_old_count(counted_days_ago=blood.counted_days_ago))
    found.append(caution_concentration(float(np.median(plan.rich_1e9_per_l))))
    draw = caution_draw(draw_ml=plan.blood_ml, total_blood_volume_ml=total_blood_volume_ml(visit), limits=limits)
    return (*draw, *present(found))


def classes_of(visit: Visit, plan: Plan, sample: Sample) -> tuple[Class, ...]:
    """Return the classes the predicted product would fall into, at the middle of its draws; nothing is counted."""
    cells = ProductCells(
        platelets_1e9_per_l=six_digits(float(np.median(plan.rich_1e9_per_l))),
        red_cells_1e12_per_l=six_digits(float(np.median(plan.rich_red_1e12_per_l))),
        white_cells_1e9_per_l=six_digits(float(np.median(plan.rich_white_1e9_per_l))),
    )
    platelets = six_digits(float(np.median(sample.platelets_1e9_per_l)))
    whites = six_digits(float(np.median(sample.white_cells_1e9_per_l)))
    injected_ml = visit.volume_ml(Product.PRP)
    return (
        classify_magalon_2016(
            dose_1e9=six_digits(cells.platelets_1e9_per_l * injected_ml / 1e3),
            recovery_frac=six_digits(float(np.median(plan.recovery_frac))),
            cells=cells,
            activation=Activation.NONE,
        ),
        classify_delong_2012(
            cells=cells,
            blood_platelets_1e9_per_l=platelets,
            blood_white_cells_1e9_per_l=whites,
            activation=Activation.NONE,
        ),
        classify_mishra_2012(
            cells=cells,
            blood_platelets_1e9_per_l=platelets,
            blood_white_cells_1e9_per_l=whites,
            activation=Activation.NONE,
        ),
        classify_white_cells(cells=cells, blood_white_cells_1e9_per_l=whites),
        classify_red_cells(cells.red_cells_1e12_per_l),
    )


def ceiling_words(plan: Plan) -> str:
    """Return what the ceiling means, and for which final volumes the trade's twenty times could be true."""
    limit = limit_final_volume(fold=TRADE_FOLD, blood_ml=plan.blood_ml)
    return (
        f"No platelet is made: {plan.blood_ml:g} mL of blood in {plan.leave_ml:.1f} mL can be at most "
        f"{plan.blood_ml / plan.leave_ml:.1f} times the blood's count. {limit.words}."
    )
