"""Units, corrections and counts against worked examples; each row's own source stands beside it."""

import pytest
from hypothesis import given
from hypothesis import strategies as some

from plasmawright.errors import OutOfRange, Refusal
from plasmawright.practice.counts import (
    caution_rule_of_three,
    chamber_count,
    citrate_correction,
    counting_error_frac,
    expected_hematocrit_frac,
    refuse_clumped_count,
    smear_estimate,
    undiluted_1e9_per_l,
)
from plasmawright.practice.units import (
    checked_product_platelets_1e9_per_l,
    from_per_ul_1e9_per_l,
    hemoglobin_from_g_per_l_g_per_dl,
    hemoglobin_from_mmol_per_l_g_per_dl,
    hemoglobin_g_per_l,
    hemoglobin_mmol_per_l,
    per_ml,
    per_ul,
)


def test_a_count_per_litre_reads_the_same_per_microlitre_and_per_millilitre() -> None:
    # C053, definition, exact
    assert per_ul(250) == 250_000
    assert per_ml(250) == 2.5e8
    assert from_per_ul_1e9_per_l(250_000) == 250


def test_haemoglobin_reads_the_same_in_three_units() -> None:
    # C051, 1 mmol/L = 1.6114 g/dL (memory), within 0.01
    assert hemoglobin_g_per_l(15.0) == pytest.approx(150)
    assert hemoglobin_mmol_per_l(15.0) == pytest.approx(9.31, abs=0.01)
    assert hemoglobin_from_g_per_l_g_per_dl(150) == pytest.approx(15.0)
    assert hemoglobin_from_mmol_per_l_g_per_dl(9.309) == pytest.approx(15.0, abs=0.01)


def test_haemoglobin_in_another_unit_is_refused_and_not_converted() -> None:
    with pytest.raises(OutOfRange, match="divide g/L by 10"):
        hemoglobin_g_per_l(150)
    with pytest.raises(OutOfRange, match="multiply g/dL by 10"):
        hemoglobin_from_g_per_l_g_per_dl(15)


@given(some.floats(50, 10_000))
def test_no_product_count_and_its_slip_of_a_thousand_are_both_accepted(platelets_1e9_per_l: float) -> None:
    assert checked_product_platelets_1e9_per_l(platelets_1e9_per_l) == platelets_1e9_per_l
    for slip in (platelets_1e9_per_l * 1000, platelets_1e9_per_l / 1000):
        with pytest.raises(OutOfRange, match="divide a count per µL by 1000"):
            checked_product_platelets_1e9_per_l(slip)


def test_the_rule_of_three_flags_data_that_do_not_fit() -> None:
    # C052, laboratory rule (memory): 15.0 expects 45, 52 is flagged, since more than 3 apart
    assert expected_hematocrit_frac(15.0) == pytest.approx(0.45)
    flagged = caution_rule_of_three(hemoglobin_g_per_dl=15.0, hematocrit_frac=0.52)
    assert flagged is not None
    assert "Check both entries" in flagged.text
    assert caution_rule_of_three(hemoglobin_g_per_dl=15.0, hematocrit_frac=0.48) is None


def test_a_count_in_citrate_is_corrected_both_ways_and_both_are_said() -> None:
    # C070, dilution 3.0 / 2.7, within 0.1
    found = citrate_correction(measured_1e9_per_l=200, blood_ml=2.7, citrate_ml=0.3)
    assert found.exact_1e9_per_l == pytest.approx(222.2, abs=0.1)
    assert found.habit_1e9_per_l == pytest.approx(220)
    assert "222.2" in found.words
    assert "220.0" in found.words


def test_a_smear_estimate_keeps_its_factor() -> None:
    published = smear_estimate(platelets_per_field=12.5)
    assert (published.count_per_ul, published.factor_per_ul) == (250_000, 20_000)  # C068, LOINC 49497-1, exact
    own = smear_estimate(platelets_per_field=12.5, factor_per_ul=15_000)
    assert (own.count_per_ul, own.source) == (187_500, "the laboratory's own factor")


def test_a_count_with_a_clump_flag_is_not_usable() -> None:
    with pytest.raises(Refusal, match=r"not usable.*recount"):  # C069, laboratory rule; recount in citrate
        refuse_clumped_count(platelets_1e9_per_l=90, clumps_flagged=True)
    refuse_clumped_count(platelets_1e9_per_l=90, clumps_flagged=False)  # a low count alone is a count


@pytest.mark.parametrize(
    ("row", "cells", "area_mm2", "expected_per_ul"), [("C156", 250, 0.2, 1_250_000), ("C157", 200, 1.0, 200_000)]
)
def test_a_chamber_count_meets_the_worked_examples(
    row: str, cells: int, area_mm2: float, expected_per_ul: float
) -> None:
    # N x dilution / (area x 0.1 mm), both diluted 1:100, exact
    found = chamber_count(cells=cells, dilution_fold=100, area_mm2=area_mm2)
    assert found.count_per_ul == pytest.approx(expected_per_ul), row


@pytest.mark.parametrize(("row", "cells", "percent"), [("C158", 100, 10.0), ("C160", 400, 5.0), ("C161", 1000, 3.16)])
def test_counting_more_cells_counts_closer(row: str, cells: int, percent: float) -> None:
    assert 100 * counting_error_frac(cells) == pytest.approx(percent, abs=0.01), row  # one over the root of N


def test_an_empty_chamber_is_refused() -> None:
    with pytest.raises(Refusal, match="Count more squares"):
        chamber_count(cells=0, dilution_fold=100, area_mm2=1)


def test_a_diluted_reading_is_multiplied_back_and_one_above_the_linear_limit_is_refused() -> None:
    found = undiluted_1e9_per_l(read_1e9_per_l=480, dilution_fold=5, linear_limit_1e9_per_l=1000)
    assert found == 2400  # C162, times the factor, exact
    with pytest.raises(Refusal, match="Dilute and recount"):
        undiluted_1e9_per_l(read_1e9_per_l=1001, dilution_fold=1, linear_limit_1e9_per_l=1000)
