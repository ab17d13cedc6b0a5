"""Platelets in a product against the platelets that were drawn: recovery, fold, dose, purity and their ceiling.

``blood_platelets_1e9_per_l`` is always the count of the undiluted blood, ``blood_ml`` the blood without anticoagulant.
"""

from plasmawright.errors import Refusal
from plasmawright.parameters.table import Kind, rule
from plasmawright.practice.guards import refuse_outside, refuse_unless_positive
from plasmawright.practice.statements import Caution, Limit, Status, cited
from plasmawright.practice.units import red_cells_1e9_per_l

ML_PER_L = 1000.0
# A number typed back from a rounded print is not a claim to more than was drawn.
ROUNDING_FRAC = 1e-6


def dose_1e9(*, volume_ml: float, platelets_1e9_per_l: float) -> float:
    """Return the platelets in a volume, in billions."""
    return volume_ml * platelets_1e9_per_l / ML_PER_L


def fold(*, platelets_1e9_per_l: float, blood_platelets_1e9_per_l: float) -> float:
    """Return the product's count over the undiluted blood's."""
    refuse_unless_positive(
        "blood_platelets_1e9_per_l", blood_platelets_1e9_per_l, "Write the undiluted blood's count in 1e9/L."
    )
    return platelets_1e9_per_l / blood_platelets_1e9_per_l


def recovery_frac(
    *, blood_ml: float, blood_platelets_1e9_per_l: float, volume_ml: float, platelets_1e9_per_l: float
) -> float:
    """Return the share of the drawn platelets that are in the product.

    Raises
    ------
    Refusal
        If the product holds more than was drawn.
    """
    drawn_1e9 = ceiling_dose_1e9(blood_ml=blood_ml, blood_platelets_1e9_per_l=blood_platelets_1e9_per_l)
    product_1e9 = dose_1e9(volume_ml=volume_ml, platelets_1e9_per_l=platelets_1e9_per_l)
    refuse_dose_beyond_ceiling(
        dose_1e9=product_1e9, blood_ml=blood_ml, blood_platelets_1e9_per_l=blood_platelets_1e9_per_l
    )
    return min(1.0, product_1e9 / drawn_1e9)


def purity_frac(*, platelets_1e9_per_l: float, red_cells_1e12_per_l: float, white_cells_1e9_per_l: float) -> float:
    """Return platelets over platelets, red and white cells; red cells are turned to 1e9/L here and nowhere else."""
    cells = platelets_1e9_per_l + red_cells_1e9_per_l(red_cells_1e12_per_l) + white_cells_1e9_per_l
    refuse_unless_positive("cells", cells, "Write at least the product's platelets.")
    return platelets_1e9_per_l / cells


def ceiling_fold(*, blood_ml: float, final_ml: float) -> float:
    """Return the fold at which not one drawn platelet would be missing: no method can pass it."""
    refuse_unless_positive("blood_ml", blood_ml, "Write the blood drawn in mL, without anticoagulant.")
    refuse_unless_positive("final_ml", final_ml, "Write the product's final volume in mL.")
    return blood_ml / final_ml


def ceiling_dose_1e9(*, blood_ml: float, blood_platelets_1e9_per_l: float) -> float:
    """Return all the platelets that were drawn, in billions."""
    refuse_unless_positive("blood_ml", blood_ml, "Write the blood drawn in mL, without anticoagulant.")
    refuse_unless_positive(
        "blood_platelets_1e9_per_l", blood_platelets_1e9_per_l, "Write the undiluted blood's count in 1e9/L."
    )
    return dose_1e9(volume_ml=blood_ml, platelets_1e9_per_l=blood_platelets_1e9_per_l)


def refuse_fold_beyond_ceiling(*, fold: float, blood_ml: float, final_ml: float) -> None:
    """Refuse a claimed fold that more blood than was drawn would have been needed for."""
    refuse_outside("fold", fold, low=0, high=1e6, remedy="Write the product's count over the undiluted blood's.")
    most = ceiling_fold(blood_ml=blood_ml, final_ml=final_ml)
    if fold > most * (1 + ROUNDING_FRAC):
        limit = (
            f"{blood_ml:g} mL of blood in {final_ml:g} mL can reach {most:.4g} times whole blood at most "
            f"({blood_ml:g} / {final_ml:g}, with not one platelet lost)"
        )
        remedy = f"Check both volumes; {fold:.4g} times would need {fold * final_ml:.4g} mL of blood."
        raise Refusal("fold", fold, limit, remedy)


def refuse_dose_beyond_ceiling(*, dose_1e9: float, blood_ml: float, blood_platelets_1e9_per_l: float) -> None:
    """Refuse a claimed number of platelets that is more than was drawn."""
    remedy = "Write the platelets in billions."
    refuse_outside("platelets_1e9", dose_1e9, low=0, high=1e6, remedy=remedy)
    most = ceiling_dose_1e9(blood_ml=blood_ml, blood_platelets_1e9_per_l=blood_platelets_1e9_per_l)
    if dose_1e9 > most * (1 + ROUNDING_FRAC):
        limit = f"{blood_ml:g} mL of blood at {blood_platelets_1e9_per_l:g} x10^9/L hold {most:.4g} billion platelets"
        needed_ml = dose_1e9 / blood_platelets_1e9_per_l * ML_PER_L
        remedy = f"Check units, dilution and volumes; {dose_1e9:.4g} billion would need {needed_ml:.4g} mL of blood."
        raise Refusal("platelets_1e9", dose_1e9, limit, remedy)


def refuse_beyond_ceiling(
    *, blood_ml: float, blood_platelets_1e9_per_l: float, final_ml: float, platelets_1e9_per_l: float
) -> None:
    """Refuse a product whose count in its volume is more than was drawn: C_prp V_prp above C_wb V_wb.

    Raises
    ------
    Refusal
        With the arithmetic in words.
    """
    remedy = "Write the product's count in 1e9/L, dilution undone."
    refuse_outside("prp_platelets_1e9_per_l", platelets_1e9_per_l, low=0, high=1e6, remedy=remedy)
    most_fold = ceiling_fold(blood_ml=blood_ml, final_ml=final_ml)
    drawn_1e9 = ceiling_dose_1e9(blood_ml=blood_ml, blood_platelets_1e9_per_l=blood_platelets_1e9_per_l)
    claimed_1e9 = dose_1e9(volume_ml=final_ml, platelets_1e9_per_l=platelets_1e9_per_l)
    if claimed_1e9 > drawn_1e9 * (1 + ROUNDING_FRAC):
        limit = (
            f"{final_ml:g} mL of it would hold {claimed_1e9:.4g} billion platelets, and {blood_ml:g} mL of blood at "
            f"{blood_platelets_1e9_per_l:g} x10^9/L hold {drawn_1e9:.4g} billion"
        )
        most = blood_platelets_1e9_per_l * most_fold
        remedy = f"Check units, dilution and volumes; at most {most:.4g} x10^9/L is possible."
        raise Refusal("prp_platelets_1e9_per_l", platelets_1e9_per_l, limit, remedy)


def limit_final_volume(*, fold: float, blood_ml: float, recovery_frac: float = 1.0) -> Limit:
    """Return the largest final volume for which ``fold`` times whole blood can be true.

    With ``recovery_frac`` 1 it is the physical ceiling: twenty times whole blood, of 60 mL, needs 3 mL or less.
    """
    refuse_unless_positive("fold", fold, "Write the product's count over the undiluted blood's.")
    refuse_unless_positive("blood_ml", blood_ml, "Write the blood drawn in mL, without anticoagulant.")
    _check_recovery(recovery_frac)
    most_ml = blood_ml * recovery_frac / fold
    words = (
        f"{fold:g} times whole blood from {blood_ml:g} mL can be true for a final volume of {most_ml:.3g} mL or less "
        f"({blood_ml:g} x {recovery_frac:g} / {fold:g}), with {recovery_frac:.0%} of the platelets recovered"
    )
    return Limit(value=most_ml, unit="mL", words=words, source="no platelet is made: arithmetic", kind=Kind.DEFINED)


def blood_needed_ml(*, dose_1e9: float, blood_platelets_1e9_per_l: float, recovery_frac: float) -> float:
    """Return the blood that yields a number of platelets at a recovery."""
    refuse_unless_positive("platelets_1e9", dose_1e9, "Write the platelets wished, in billions.")
    refuse_unless_positive(
        "blood_platelets_1e9_per_l", blood_platelets_1e9_per_l, "Write the undiluted blood's count in 1e9/L."
    )
    _check_recovery(recovery_frac)
    return dose_1e9 / (blood_platelets_1e9_per_l * recovery_frac) * ML_PER_L


def scalp_volume_ml(area_cm2: float) -> tuple[float, float]:
    """Return the least and the most volume that is usual for an area of scalp; volume only, no promise of effect."""
    _check_area(area_cm2)
    return rule("scalp_low_ml_per_cm2").value * area_cm2, rule("scalp_high_ml_per_cm2").value * area_cm2


def caution_scalp_volume(*, volume_ml: float, area_cm2: float) -> Caution | None:
    """Say when a volume lies outside what is usual for an area of scalp."""
    refuse_unless_positive("volume_ml", volume_ml, "Write the volume in mL.")
    low_ml, high_ml = scalp_volume_ml(area_cm2)
    if low_ml <= volume_ml * (1 + ROUNDING_FRAC) and volume_ml <= high_ml * (1 + ROUNDING_FRAC):
        return None
    text = (
        f"{volume_ml:g} mL over {area_cm2:g} cm² is {volume_ml / area_cm2:.3f} mL/cm²; {low_ml:.3g} to {high_ml:.3g} "
        "mL are usual for this area. The clinician decides."
    )
    return Caution(text=text, source=cited(rule("scalp_low_ml_per_cm2")), status=Status.PUBLISHED)


def _check_area(area_cm2: float) -> None:
    refuse_outside("area_cm2", area_cm2, low=0.1, high=1000, remedy="Measure length by width of the area, in cm.")


def _check_recovery(recovery_frac: float) -> None:
    remedy = "Write a share, such as 0.70. A percentage? Divide by 100."
    refuse_outside("recovery_frac", recovery_frac, low=0.001, high=1, remedy=remedy)
