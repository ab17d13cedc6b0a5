"""What a clinician should weigh when a visit is planned: each caution with its source and how binding it is.

A caution states a number beside a published or chosen one. It names no disease, and on every medicine it is silent.
"""

from collections.abc import Sequence
from enum import StrEnum

from plasmawright.parameters.table import Kind, references, rule
from plasmawright.practice.guards import refuse_outside
from plasmawright.practice.person import ChildsTime, SexForBloodVolume, share_of_blood_frac
from plasmawright.practice.statements import Caution, Limit, Status, cited
from plasmawright.practice.units import checked_blood_platelets_1e9_per_l, checked_hemoglobin_g_per_dl, per_ul

CLINICIAN_DECIDES = "The clinician decides."
NO_DATA_ON_PREGNANCY = "Pregnancy: there are no data on this procedure in pregnancy or while breast-feeding."


class Trimester(StrEnum):
    """Third of a pregnancy, counted in weeks from the last period: to 13, to 27, after."""

    FIRST = "first"
    SECOND = "second"
    THIRD = "third"


def caution_anaemia_cutoff(
    *, hemoglobin_g_per_dl: float, sex: SexForBloodVolume, age_years: float, pregnancy: Trimester | None = None
) -> Caution | None:
    """Say when haemoglobin lies below the World Health Organization's 2024 cut-off for the person's group.

    None below six months of age, for which there is no cut-off, and at or above the cut-off.
    """
    checked_hemoglobin_g_per_dl(hemoglobin_g_per_dl)
    _check_age(age_years)
    group = _group(sex=sex, age_years=age_years, pregnancy=pregnancy)
    if group is None:
        return None
    name, words = group
    row = rule(f"who_hemoglobin_{name}_g_per_dl")
    if hemoglobin_g_per_dl >= row.value:
        return None
    text = (
        f"Haemoglobin {hemoglobin_g_per_dl:.1f} g/dL is below the cut-off of {row.value:.1f} g/dL for {words}, not "
        f"adjusted for altitude or smoking. A draw takes red cells too. {CLINICIAN_DECIDES}"
    )
    return Caution(text=text, source=cited(row), status=Status.PUBLISHED)


def caution_low_hemoglobin(hemoglobin_g_per_dl: float, *, limit_g_per_dl: float | None = None) -> Caution | None:
    """Say when haemoglobin lies below 10 g/dL, or the clinic's own limit: a caution of its own beside the cut-offs."""
    checked_hemoglobin_g_per_dl(hemoglobin_g_per_dl)
    row = rule("hemoglobin_relative_g_per_dl")
    limit = row.value if limit_g_per_dl is None else limit_g_per_dl
    if hemoglobin_g_per_dl >= limit:
        return None
    text = (
        f"Haemoglobin {hemoglobin_g_per_dl:.1f} g/dL is below {limit:g} g/dL, a relative reason against drawing blood "
        f"for this. {CLINICIAN_DECIDES}"
    )
    status = Status.PUBLISHED if limit == row.value else Status.CLINIC_CHOICE
    return Caution(text=text, source=cited(row), status=status)


def caution_low_platelets(
    platelets_1e9_per_l: float, *, relative_1e9_per_l: float | None = None, critical_1e9_per_l: float | None = None
) -> Caution | None:
    """Say when the blood's platelets lie below 100 x10^9/L (10^5/µL), or below what is often called critical.

    A clinic's own limits stand in the place of the two when it has chosen any.
    """
    checked_blood_platelets_1e9_per_l(platelets_1e9_per_l)
    row, critical_row = rule("platelets_relative_1e9_per_l"), rule("platelets_critical_1e9_per_l")
    relative = row.value if relative_1e9_per_l is None else relative_1e9_per_l
    critical = critical_row.value if critical_1e9_per_l is None else critical_1e9_per_l
    if platelets_1e9_per_l >= relative:
        return None
    given = f"Platelets {platelets_1e9_per_l:g} x10^9/L ({per_ul(platelets_1e9_per_l):.0f}/µL)"
    if platelets_1e9_per_l < critical:
        text = (
            f"{given} are below {critical:g} x10^9/L, often taken as critical by local rule and then as a reason "
            f"against the procedure. {CLINICIAN_DECIDES}"
        )
        return Caution(text=text, source=cited(critical_row), status=Status.CLINIC_CHOICE)
    text = (
        f"{given} are below {relative:g} x10^9/L ({f'{per_ul(relative):,.0f}'.replace(',', ' ')}/µL), a relative "
        f"reason against it; the product holds fewer platelets too. {CLINICIAN_DECIDES}"
    )
    status = Status.PUBLISHED if relative == row.value else Status.CLINIC_CHOICE
    return Caution(text=text, source=cited(row), status=status)


def caution_old_count(*, counted_days_ago: float, days_max: float | None = None) -> Caution | None:
    """Say when the blood count is older than the clinic allows; a week when the clinic has not chosen."""
    remedy = "Write the days since the blood count, 0 for today."
    refuse_outside("blood.counted_days_ago", counted_days_ago, low=0, high=36_525, remedy=remedy)
    row = rule("count_age_days_max")
    most = row.value if days_max is None else days_max
    if counted_days_ago <= most:
        return None
    text = (
        f"The blood count is {counted_days_ago:g} days old; this clinic counts on {most:g} days. The plan's "
        "intervals are wider for it: a new count narrows them."
    )
    source = cited(row) if days_max is None else "the clinic"
    return Caution(text=text, source=source, status=Status.CLINIC_CHOICE)


def caution_pregnancy(pregnancy: Trimester | None) -> Caution | None:
    """Say that there are no data on pregnancy."""
    if pregnancy is None:
        return None
    text = f"{NO_DATA_ON_PREGNANCY} {CLINICIAN_DECIDES}"
    return Caution(text=text, source=references()["trade"].text, status=Status.COMMON_PRACTICE)


def caution_child(age_years: float) -> Caution | None:
    """Say which limits hold for a child; they are narrower than an adult's."""
    _check_age(age_years)
    adult = rule("adult_age_years")
    if age_years >= adult.value:
        return None
    per_kg, most = rule("draw_child_ml_per_kg"), rule("draw_child_ml")
    once, day, month = (rule(f"draw_child_{over}_frac").value for over in ChildsTime)
    text = (
        f"Below {adult.value:g} years a child's draw limits apply: {per_kg.value:g} mL/kg and at most {most.value:g} "
        f"mL in eight weeks; {once:.0%} of the blood at once, {day:.0%} in 24 hours, {month:.0%} in 30 days. "
        f"{CLINICIAN_DECIDES}"
    )
    return Caution(
        text=text, source=f"{cited(per_kg)}; {cited(rule('draw_child_single_frac'))}", status=Status.PUBLISHED
    )


def caution_draw(*, draw_ml: float, total_blood_volume_ml: float, limits: Sequence[Limit]) -> tuple[Caution, ...]:
    """Say every limit a draw passes, and the share of the person's blood it takes; empty when it passes none."""
    share_frac = share_of_blood_frac(draw_ml=draw_ml, total_blood_volume_ml=total_blood_volume_ml)
    return tuple(
        Caution(
            text=(
                f"{draw_ml:g} mL is {share_frac:.1%} of this person's blood and above {limit.value:.4g} mL, the "
                f"limit for {limit.words}. {CLINICIAN_DECIDES}"
            ),
            source=limit.source,
            status=Status.CLINIC_CHOICE if limit.kind is Kind.ASSUMED else Status.PUBLISHED,
        )
        for limit in limits
        if draw_ml > limit.value + 1e-9
    )


def caution_concentration(platelets_1e9_per_l: float) -> Caution | None:
    """Say softly that a product is above what cells in a dish did best at; never a reason to refuse a plan."""
    row = rule("concentration_advisory_1e9_per_l")
    if platelets_1e9_per_l <= row.value:
        return None
    text = (
        f"{platelets_1e9_per_l:.0f} x10^9/L is above {row.value:g} x10^9/L. Tendon cells in a dish did worse at much "
        "higher concentrations in one study and better in another; this is laboratory evidence only."
    )
    return Caution(text=text, source=cited(row), status=Status.CLINIC_CHOICE)


def _check_age(age_years: float) -> None:
    remedy = "Write the age in years; 18 months is 1.5."
    refuse_outside("patient.age_years", age_years, low=0, high=120, remedy=remedy)


def _group(*, sex: SexForBloodVolume, age_years: float, pregnancy: Trimester | None) -> tuple[str, str] | None:
    if pregnancy is not None:
        return f"{pregnancy}_trimester", f"the {pregnancy} trimester of pregnancy"
    if age_years >= 15:
        men = sex is SexForBloodVolume.MALE
        return ("men", "men from 15 years") if men else ("women", "women from 15 years, not pregnant")
    groups = (
        (12, "12_to_14_years", "12 to 14 years"),
        (5, "5_to_11_years", "5 to 11 years"),
        (2, "2_to_4_years", "24 to 59 months"),
        (0.5, "6_to_23_months", "6 to 23 months"),
    )
    return next(((name, words) for from_years, name, words in groups if age_years >= from_years), None)
