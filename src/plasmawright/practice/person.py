"""How much blood a person has, and how much of it may be drawn."""

import math
from collections.abc import Sequence
from enum import StrEnum

from plasmawright.errors import Refusal
from plasmawright.parameters.table import Kind, Sourced, rule
from plasmawright.practice.guards import refuse_outside, refuse_unless_positive
from plasmawright.practice.statements import Limit, cited

ML_PER_L = 1000.0
PARTS_OF_NADLER = ("per_cubic_metre", "per_kg", "constant")
# Lowest weight of each row of the table; a weight between two rows takes the lower one.
THREE_MONTHS_FROM_KG = (46, 41, 36, 31, 26, 21, 16, 11, 6, 0)


class SexForBloodVolume(StrEnum):
    """Which of the two published formulas for adults is used; asked for nothing else."""

    FEMALE = "female"
    MALE = "male"


class ChildsTime(StrEnum):
    """The time over which a child's draws are added up."""

    SINGLE = "single"
    DAY = "day"
    MONTH = "month"


CHILDS_TIME_WORDS = {
    ChildsTime.SINGLE: "in one draw",
    ChildsTime.DAY: "in 24 hours",
    ChildsTime.MONTH: "in 30 days",
}


def checked_weight_kg(weight_kg: float) -> float:
    """Return ``weight_kg``; refuses what no person weighs."""
    remedy = "Write the weight in kilograms, such as 68; 1 lb is 0.4536 kg."
    refuse_outside("patient.weight_kg", weight_kg, low=2, high=400, remedy=remedy)
    return weight_kg


def checked_height_cm(height_cm: float) -> float:
    """Return ``height_cm``; refuses what no person measures."""
    remedy = "Write the height in centimetres, such as 171; 1.71 m is 171."
    refuse_outside("patient.height_cm", height_cm, low=40, high=260, remedy=remedy)
    return height_cm


def body_mass_index_kg_m2(*, weight_kg: float, height_cm: float) -> float:
    """Return weight over height squared; refuses an index that points to a slip in one of the two."""
    index_kg_m2 = checked_weight_kg(weight_kg) / (checked_height_cm(height_cm) / 100) ** 2
    remedy = "Check weight and height: one of them is probably in another unit."
    refuse_outside("patient.body_mass_index", index_kg_m2, low=8, high=120, remedy=remedy)
    return index_kg_m2


def blood_volume_nadler_ml(*, sex: SexForBloodVolume, weight_kg: float, height_cm: float) -> float:
    """Return an adult's total blood volume by height and weight; overestimates in obesity.

    Raises
    ------
    Refusal
        If weight or height is unphysical, or the person is lighter than the formula allows.

    Notes
    -----
    V = a h³ + b w + c, in litres, metres and kilograms.

    References
    ----------
    ``nadler1962`` in parameters/references.toml.
    """
    body_mass_index_kg_m2(weight_kg=weight_kg, height_cm=height_cm)
    least_kg = rule("adult_formula_weight_kg_min").value
    if weight_kg < least_kg:
        limit = f"the formula for adults holds from {least_kg:g} kg"
        raise Refusal("patient.weight_kg", weight_kg, limit, "Use a figure per kilogram for the child's age.")
    word = {SexForBloodVolume.MALE: "men", SexForBloodVolume.FEMALE: "women"}[sex]
    per_m3, per_kg, constant = (rule(f"nadler_{word}_{part}").value for part in PARTS_OF_NADLER)
    return (per_m3 * (height_cm / 100) ** 3 + per_kg * weight_kg + constant) * ML_PER_L


def blood_volume_lemmens_ml(*, weight_kg: float, height_cm: float) -> float:
    """Return an adult's total blood volume indexed by body mass index, also right for heavy people.

    Notes
    -----
    V/w = 70 mL/kg / √(BMI / 22).

    References
    ----------
    ``lemmens2006`` in parameters/references.toml.
    """
    index_kg_m2 = body_mass_index_kg_m2(weight_kg=weight_kg, height_cm=height_cm)
    return weight_kg * lemmens_ml_per_kg(index_kg_m2)


def lemmens_ml_per_kg(body_mass_index: float) -> float:
    """Return the blood volume per kilogram at a body mass index in kg/m²."""
    return rule("lemmens_ml_per_kg").value / math.sqrt(body_mass_index / rule("lemmens_reference_index").value)


def share_of_blood_frac(*, draw_ml: float, total_blood_volume_ml: float) -> float:
    """Return the share of the person's blood a draw takes.

    Raises
    ------
    Refusal
        If either volume is not positive, or the draw is more than the person has.
    """
    refuse_unless_positive("max_blood_ml", draw_ml, "Write the blood to draw in mL.")
    refuse_unless_positive("total_blood_volume_ml", total_blood_volume_ml, "Work it out from weight and height.")
    if draw_ml > total_blood_volume_ml:
        limit = f"the person has about {total_blood_volume_ml:.0f} mL of blood"
        raise Refusal("max_blood_ml", draw_ml, limit, "Write the blood to draw in mL.")
    return draw_ml / total_blood_volume_ml


def limit_draw_outer(weight_kg: float) -> Limit:
    """Return the donors' cap for one draw: an outer alarm, far above what is drawn for plasma."""
    row = rule("draw_outer_ml_per_kg")
    return _limit(row, row.value * checked_weight_kg(weight_kg), "one draw, samples included (outer alarm)")


def limit_draw_three_months(*, weight_kg: float, hematocrit_frac: float | None) -> Limit | None:
    """Return the review board's maximum over three months; None below the haematocrit the table holds for.

    An unknown haematocrit is taken as high enough, since the table speaks of healthy persons. A weight between two
    rows takes the lower row: the table is in whole kilograms, and this choice is ours.
    """
    checked_weight_kg(weight_kg)
    if hematocrit_frac is not None and hematocrit_frac < rule("draw_three_months_hematocrit_frac_min").value:
        return None
    name = "above_50_kg"
    if weight_kg <= 50:
        name = f"from_{next(start for start in THREE_MONTHS_FROM_KG if weight_kg >= start)}_kg"
    row = rule(f"draw_three_months_ml_{name}")
    return _limit(row, row.value, "all draws of three months together, healthy person")


def limit_draw_per_weight(weight_kg: float) -> Limit:
    """Return the research rule for children, and for adults who are not healthy or weigh less than 50 kg."""
    row, most = rule("draw_child_ml_per_kg"), rule("draw_child_ml")
    value_ml = min(most.value, row.value * checked_weight_kg(weight_kg))
    return _limit(row, value_ml, "all draws of eight weeks together, in research with children")


def limit_draw_child(*, total_blood_volume_ml: float, over: ChildsTime) -> Limit:
    """Return a child's limit as a share of its total blood volume: 3 % at once, 5 % a day, 10 % in 30 days."""
    refuse_unless_positive("total_blood_volume_ml", total_blood_volume_ml, "Work it out from the child's weight.")
    row = rule(f"draw_child_{over}_frac")
    return _limit(row, row.value * total_blood_volume_ml, f"a child, {CHILDS_TIME_WORDS[over]}")


def limit_draw_clinic(max_blood_ml: float) -> Limit:
    """Return the clinic's own maximum for this visit."""
    refuse_unless_positive("bench.max_blood_ml", max_blood_ml, "Write the most blood this visit may take, in mL.")
    words = "this visit, set by the clinic"
    return Limit(value=max_blood_ml, unit="mL", words=words, source="the clinic", kind=Kind.ASSUMED)


def child_blood_volume_ml(*, weight_kg: float, age_years: float) -> float:
    """Return a child's total blood volume from the printed figures per kilogram, the lower one from ten years on.

    Between six and ten years the figures run in a straight line, which is our choice.
    """
    young, old = rule("child_blood_1_to_6_years_ml_per_kg").value, rule("child_blood_10_years_ml_per_kg").value
    share = min(max((age_years - 6) / 4, 0.0), 1.0)
    return checked_weight_kg(weight_kg) * (young + share * (old - young))


def limits_of_draw(
    *, age_years: float, weight_kg: float, height_cm: float, hematocrit_frac: float | None, max_blood_ml: float
) -> tuple[Limit, ...]:
    """Return every limit of one draw that applies to this person, the clinic's own first."""
    found = [limit_draw_clinic(max_blood_ml), limit_draw_outer(weight_kg)]
    three_months = limit_draw_three_months(weight_kg=weight_kg, hematocrit_frac=hematocrit_frac)
    if three_months is not None:
        found.append(three_months)
    if age_years < rule("adult_age_years").value:
        body_mass_index_kg_m2(weight_kg=weight_kg, height_cm=height_cm)
        blood_ml = child_blood_volume_ml(weight_kg=weight_kg, age_years=age_years)
        found.append(limit_draw_per_weight(weight_kg))
        found += [limit_draw_child(total_blood_volume_ml=blood_ml, over=over) for over in ChildsTime]
    return tuple(found)


def lowest(limits: Sequence[Limit]) -> Limit:
    """Return the limit that binds first; the earlier one of two that are equal."""
    return min(limits, key=lambda limit: limit.value)


def _limit(row: Sourced, value_ml: float, words: str) -> Limit:
    return Limit(value=value_ml, unit="mL", words=words, source=cited(row), kind=row.kind)
