"""From what was read under a lens or on an analyser to a count of the undiluted sample."""

import math
from dataclasses import dataclass

from plasmawright.errors import Refusal
from plasmawright.parameters.table import rule
from plasmawright.practice.guards import refuse_outside, refuse_unless_positive
from plasmawright.practice.statements import Caution, Status, cited
from plasmawright.practice.units import checked_hemoglobin_g_per_dl

HAEMOCYTOMETER_DEPTH_MM = 0.1
DILUTION_REMEDY = "Write how many times the sample was diluted: 5 for one part in five."


@dataclass(frozen=True, kw_only=True)
class CitrateCorrection:
    """A count read in citrated blood, both ways it is corrected; the exact one is the one to use."""

    exact_1e9_per_l: float
    habit_1e9_per_l: float
    words: str


@dataclass(frozen=True, kw_only=True)
class ChamberCount:
    """A count made in a chamber, with the least uncertainty counting alone can have, as a share of it."""

    count_per_ul: float
    counting_error_frac: float


@dataclass(frozen=True, kw_only=True)
class SmearEstimate:
    """An estimate from a smear, kept with the factor it was made with: it is not a count."""

    count_per_ul: float
    factor_per_ul: float
    source: str


def citrate_correction(*, measured_1e9_per_l: float, blood_ml: float, citrate_ml: float) -> CitrateCorrection:
    """Return a count read in citrated blood, freed of the citrate's dilution.

    ``measured_1e9_per_l`` is what the analyser printed for blood that stood with ``citrate_ml`` in it.
    """
    refuse_unless_positive("measured_1e9_per_l", measured_1e9_per_l, "Write what the analyser printed, in 1e9/L.")
    refuse_unless_positive("blood_ml", blood_ml, "Write the blood in the tube in mL, without the citrate.")
    refuse_unless_positive("citrate_ml", citrate_ml, "Write the citrate in the tube in mL; a ratio is not converted.")
    factor, habit = (blood_ml + citrate_ml) / blood_ml, rule("citrate_habit_factor").value
    words = (
        f"{measured_1e9_per_l:g} x10^9/L in {citrate_ml:g} mL citrate with {blood_ml:g} mL blood is "
        f"{measured_1e9_per_l * factor:.1f} (times {factor:.3f}, exact for this tube, used here); the laboratory habit "
        f"of times {habit:g} gives {measured_1e9_per_l * habit:.1f}."
    )
    return CitrateCorrection(
        exact_1e9_per_l=measured_1e9_per_l * factor, habit_1e9_per_l=measured_1e9_per_l * habit, words=words
    )


def smear_estimate(*, platelets_per_field: float, factor_per_ul: float | None = None) -> SmearEstimate:
    """Return platelets per microlitre from the mean of ten fields at 100x oil.

    ``factor_per_ul`` is the laboratory's own factor (15 000 to 20 000); the published one when left out.
    """
    remedy = "Write the mean of ten fields at 100x oil."
    refuse_outside("platelets_per_field", platelets_per_field, low=0, high=200, remedy=remedy)
    row = rule("smear_factor_per_ul")
    factor = row.value if factor_per_ul is None else factor_per_ul
    remedy = "Write the microscope's own factor, from 15 000 to 20 000 on most."
    refuse_outside("factor_per_ul", factor, low=5000, high=50_000, remedy=remedy)
    source = cited(row) if factor_per_ul is None else "the laboratory's own factor"
    return SmearEstimate(count_per_ul=platelets_per_field * factor, factor_per_ul=factor, source=source)


def counting_error_frac(cells: int) -> float:
    """Return the coefficient of variation of counting ``cells`` at random: one over the root of their number."""
    if cells < 1:
        raise Refusal("cells", cells, "at least one cell must be counted", "Count more squares, or dilute less.")
    return 1 / math.sqrt(cells)


def chamber_count(*, cells: int, dilution_fold: float, area_mm2: float) -> ChamberCount:
    """Return the count of the undiluted sample from a chamber 0.1 mm deep.

    ``cells`` lie on ``area_mm2`` in all: five squares of 0.04 mm² are 0.2.
    """
    error_frac = counting_error_frac(cells)
    refuse_outside("dilution_fold", dilution_fold, low=1, high=10_000, remedy=DILUTION_REMEDY)
    refuse_outside("area_mm2", area_mm2, low=0.0025, high=20, remedy="Add up the squares counted, in mm².")
    count_per_ul = cells * dilution_fold / (area_mm2 * HAEMOCYTOMETER_DEPTH_MM)
    return ChamberCount(count_per_ul=count_per_ul, counting_error_frac=error_frac)


def undiluted_1e9_per_l(*, read_1e9_per_l: float, dilution_fold: float, linear_limit_1e9_per_l: float) -> float:
    """Return the count of the undiluted sample.

    ``dilution_fold`` is 5 for one part in five; 1 when nothing was added. ``linear_limit_1e9_per_l`` stands in the
    analyser's papers.

    Raises
    ------
    Refusal
        If the analyser was read above its linear limit, where the number means nothing.
    """
    refuse_outside("dilution_fold", dilution_fold, low=1, high=10_000, remedy=DILUTION_REMEDY)
    refuse_unless_positive("read_1e9_per_l", read_1e9_per_l, "Write what the analyser printed, in 1e9/L.")
    remedy = "Write it in 1e9/L from the analyser's papers."
    refuse_unless_positive("linear_limit_1e9_per_l", linear_limit_1e9_per_l, remedy)
    if read_1e9_per_l > linear_limit_1e9_per_l:
        limit = f"it is above the linear limit of {linear_limit_1e9_per_l:g} x10^9/L"
        raise Refusal("read_1e9_per_l", read_1e9_per_l, limit, "Dilute and recount.")
    return read_1e9_per_l * dilution_fold


def refuse_clumped_count(*, platelets_1e9_per_l: float, clumps_flagged: bool) -> None:
    """Refuse a count on which an analyser or an eye saw clumps: it is too low, and nobody knows by how much.

    Raises
    ------
    Refusal
        If ``clumps_flagged``, whatever the number.
    """
    if clumps_flagged:
        remedy = "Look at a smear and recount in citrate, corrected for its dilution."
        raise Refusal("platelets_1e9_per_l", platelets_1e9_per_l, "a count with a clump flag is not usable", remedy)


def expected_hematocrit_frac(hemoglobin_g_per_dl: float) -> float:
    """Return the haematocrit that the rule of three expects of a haemoglobin."""
    return 3 * checked_hemoglobin_g_per_dl(hemoglobin_g_per_dl) / 100


def caution_rule_of_three(*, hemoglobin_g_per_dl: float, hematocrit_frac: float) -> Caution | None:
    """Flag a haematocrit that does not fit the haemoglobin: a question about the data, not about the person."""
    row = rule("rule_of_three_frac")
    expected_frac = expected_hematocrit_frac(hemoglobin_g_per_dl)
    if abs(hematocrit_frac - expected_frac) <= row.value + 1e-9:
        return None
    text = (
        f"Haematocrit {hematocrit_frac:.2f} does not fit haemoglobin {hemoglobin_g_per_dl:.1f} g/dL (the rule of three "
        f"expects about {expected_frac:.2f}, within {row.value:g}). Check both entries; small or pale red cells, fatty "
        "or haemolysed samples break the rule too."
    )
    return Caution(text=text, source=cited(row), status=Status.COMMON_PRACTICE)
