"""How full a tube must be, what a short fill does to its anticoagulant, and citrate at a high haematocrit."""

from dataclasses import dataclass
from enum import StrEnum

from plasmawright.parameters.table import rule
from plasmawright.practice.guards import refuse_outside, refuse_unless_positive
from plasmawright.practice.statements import Caution, Status, cited
from plasmawright.science.blood import diluted_share_frac

FILL_REMEDY = "Write the blood of one tube in mL, without the anticoagulant."
HEMATOCRIT_REMEDY = "Write the share of red cells, such as 0.60. A percentage? Divide by 100."


class Base(StrEnum):
    """Which volume a citrate formula was given: the two are not interchangeable."""

    BLOOD = "blood alone"
    TOTAL = "blood and anticoagulant together"


@dataclass(frozen=True, kw_only=True)
class CitrateVolume:
    """A volume of citrate as one published formula gives it, with the base it was given; for coagulation tests."""

    citrate_ml: float
    volume_ml: float
    base: Base
    formula: str
    source: str


def limit_fill_ml(nominal_blood_ml: float) -> tuple[float, float]:
    """Return the least and the most blood a tube may hold and still be called full."""
    refuse_unless_positive("nominal_blood_ml", nominal_blood_ml, FILL_REMEDY)
    tolerance_frac = rule("tube_fill_tolerance_frac").value
    return nominal_blood_ml * (1 - tolerance_frac), nominal_blood_ml * (1 + tolerance_frac)


def anticoagulant_share_frac(*, blood_ml: float, anticoagulant_ml: float) -> float:
    """Return the anticoagulant's share of all that stands in the tube."""
    refuse_unless_positive("blood_ml", blood_ml, FILL_REMEDY)
    remedy = "Write the anticoagulant of one tube in mL; a ratio is not converted."
    refuse_outside("anticoagulant_ml", anticoagulant_ml, low=0, high=100, remedy=remedy)
    return float(1 - diluted_share_frac(blood_ml=blood_ml, anticoagulant_ml=anticoagulant_ml))


def caution_fill(*, nominal_blood_ml: float, blood_ml: float, anticoagulant_ml: float) -> Caution | None:
    """Say what a fill outside the tolerance does to the anticoagulant's share."""
    low_ml, high_ml = limit_fill_ml(nominal_blood_ml)
    share_frac = anticoagulant_share_frac(blood_ml=blood_ml, anticoagulant_ml=anticoagulant_ml)
    if low_ml - 1e-9 <= blood_ml <= high_ml + 1e-9:
        return None
    meant_frac = anticoagulant_share_frac(blood_ml=nominal_blood_ml, anticoagulant_ml=anticoagulant_ml)
    text = (
        f"A tube holds {blood_ml:g} mL of blood; {low_ml:.2f} to {high_ml:.2f} mL count as full. Anticoagulant is "
        f"{share_frac:.1%} of what stands in it, {meant_frac:.1%} was meant. The tube has its own stop and mass."
    )
    return Caution(text=text, source=cited(rule("tube_fill_tolerance_frac")), status=Status.PUBLISHED)


def citrate_a_ml(*, hematocrit_frac: float, blood_ml: float) -> CitrateVolume:
    """Return citrate for a coagulation tube by the formula that takes the blood's volume.

    Notes
    -----
    1.85e-3 (100 − H) V. It corresponds to a reference haematocrit of 40 %.
    """
    _check(hematocrit_frac, blood_ml)
    row = rule("citrate_a_factor")
    return CitrateVolume(
        citrate_ml=row.value * 100 * (1 - hematocrit_frac) * blood_ml,
        volume_ml=blood_ml,
        base=Base.BLOOD,
        formula="1.85e-3 (100 - H) V",
        source=cited(row),
    )


def citrate_b_ml(*, hematocrit_frac: float, volume_ml: float, base: Base) -> CitrateVolume:
    """Return citrate for a coagulation tube by V (100 − H) / (595 − H), and keep which volume it was given.

    With the whole tube's volume it keeps citrate to plasma as at a haematocrit of 45 % in 1:9. It is also printed with
    the blood's volume, which gives less citrate than that; both are computed as printed, and neither is turned into the
    other.
    """
    _check(hematocrit_frac, volume_ml)
    row = rule("citrate_b_offset")
    hematocrit_percent = 100 * hematocrit_frac
    return CitrateVolume(
        citrate_ml=volume_ml * (100 - hematocrit_percent) / (row.value - hematocrit_percent),
        volume_ml=volume_ml,
        base=base,
        formula="V (100 - H) / (595 - H)",
        source=cited(row),
    )


def caution_high_hematocrit(hematocrit_frac: float) -> Caution | None:
    """Warn above 0.55; no anticoagulant volume is changed here."""
    refuse_outside("blood.hematocrit_frac", hematocrit_frac, low=0, high=1, remedy=HEMATOCRIT_REMEDY)
    row = rule("hematocrit_high_frac")
    if hematocrit_frac <= row.value:
        return None
    text = (
        f"Haematocrit {hematocrit_frac:.2f} is above {row.value:g}: there is less plasma, and more anticoagulant for "
        "it. The formulas in print that reduce citrate are for coagulation tests, differ in whether they take the "
        "volume of the blood or of the whole tube, and are not validated for this use; none is applied here. The "
        "clinician decides."
    )
    return Caution(text=text, source=cited(row), status=Status.PUBLISHED)


def _check(hematocrit_frac: float, volume_ml: float) -> None:
    refuse_outside("hematocrit_frac", hematocrit_frac, low=0.05, high=0.85, remedy=HEMATOCRIT_REMEDY)
    refuse_unless_positive("volume_ml", volume_ml, "Write the volume in mL.")
