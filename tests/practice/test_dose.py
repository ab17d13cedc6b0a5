"""Dose, recovery and their ceiling against worked examples; each row's own source stands beside it."""

from functools import partial

import pytest
from hypothesis import given
from hypothesis import strategies as some

from plasmawright.errors import Refusal
from plasmawright.practice.dose import (
    blood_needed_ml,
    caution_scalp_volume,
    ceiling_dose_1e9,
    ceiling_fold,
    dose_1e9,
    fold,
    limit_final_volume,
    purity_frac,
    recovery_frac,
    refuse_beyond_ceiling,
    refuse_dose_beyond_ceiling,
    refuse_fold_beyond_ceiling,
    scalp_volume_ml,
)


@pytest.mark.parametrize(("row", "dose", "expected_ml"), [("C054", 5, 28.57), ("C055", 10, 57.14)])
def test_blood_needed_meets_the_worked_examples(row: str, dose: float, expected_ml: float) -> None:
    found_ml = blood_needed_ml(dose_1e9=dose, blood_platelets_1e9_per_l=250, recovery_frac=0.70)
    assert found_ml == pytest.approx(expected_ml, abs=0.05), row  # D / (C R), the row's tolerance


def test_the_most_sixty_millilitres_can_hold_meets_the_worked_example() -> None:
    assert ceiling_dose_1e9(blood_ml=60, blood_platelets_1e9_per_l=250) == pytest.approx(15.0)  # C056, V x C, exact


def test_recovery_and_fold_meet_the_worked_example() -> None:
    # C071, formula: 10 mL at 250, product 1.5 mL at 1500
    found = recovery_frac(blood_ml=10, blood_platelets_1e9_per_l=250, volume_ml=1.5, platelets_1e9_per_l=1500)
    assert found == pytest.approx(0.90, abs=1e-4)
    assert fold(platelets_1e9_per_l=1500, blood_platelets_1e9_per_l=250) == pytest.approx(6.0)


@pytest.mark.parametrize(
    ("row", "volume_ml", "platelets_1e9_per_l", "expected"),
    [
        ("C075", 4, 1200, 4.8),
        ("C076", 5, 1000, 5.0),
        ("C077", 8, 1250, 10.0),
        ("C078", 5, 1000, 5.0),  # 1e6/µL in 5 mL, an expert's definition (Marx 2001), exact
        ("C079", 3, 5 * 150, 2.25),  # the same fold of two bloods
        ("C079", 3, 5 * 400, 6.0),
    ],
)
def test_dose_meets_the_worked_examples(
    row: str, volume_ml: float, platelets_1e9_per_l: float, expected: float
) -> None:
    found = dose_1e9(volume_ml=volume_ml, platelets_1e9_per_l=platelets_1e9_per_l)
    assert found == pytest.approx(expected, abs=0.01), row  # C x V, the row's tolerance


def test_purity_turns_red_cells_into_the_unit_of_the_others() -> None:
    # C090 and C091, Magalon 2016's idea: 0.1e12/L red cells are 100e9/L, 0.5e12/L are 500e9/L
    found = purity_frac(platelets_1e9_per_l=1200, red_cells_1e12_per_l=0.1, white_cells_1e9_per_l=5)
    assert 100 * found == pytest.approx(91.95, abs=0.01)
    found = purity_frac(platelets_1e9_per_l=1200, red_cells_1e12_per_l=0.5, white_cells_1e9_per_l=5)
    assert 100 * found == pytest.approx(70.4, abs=0.05)


@given(
    blood_ml=some.floats(1, 500),
    final_ml=some.floats(0.1, 100),
    blood=some.floats(20, 2000),
    product=some.floats(0, 10_000),
)
def test_no_accepted_product_holds_more_than_was_drawn(
    blood_ml: float, final_ml: float, blood: float, product: float
) -> None:
    held_1e9, drawn_1e9 = final_ml * product / 1000, blood_ml * blood / 1000
    refusals = 0
    drawn = {"blood_ml": blood_ml, "blood_platelets_1e9_per_l": blood}
    for check in (
        partial(refuse_beyond_ceiling, **drawn, final_ml=final_ml, platelets_1e9_per_l=product),
        partial(refuse_fold_beyond_ceiling, fold=product / blood, blood_ml=blood_ml, final_ml=final_ml),
        partial(refuse_dose_beyond_ceiling, **drawn, dose_1e9=held_1e9),
    ):
        try:
            check()
        except Refusal:
            refusals += 1
        else:
            assert held_1e9 <= drawn_1e9 * 1.00001  # the room left for numbers typed back from a print
    assert refusals in {0, 3} or abs(held_1e9 / drawn_1e9 - 1) < 1e-5  # all three say the same


@given(blood_ml=some.floats(1, 500), blood=some.floats(20, 2000), recovery=some.floats(0.01, 1))
def test_everything_that_was_drawn_may_be_claimed(blood_ml: float, blood: float, recovery: float) -> None:
    dose = blood_ml * blood * recovery / 1000
    refuse_dose_beyond_ceiling(dose_1e9=dose, blood_ml=blood_ml, blood_platelets_1e9_per_l=blood)
    found_ml = blood_needed_ml(dose_1e9=dose, blood_platelets_1e9_per_l=blood, recovery_frac=recovery)
    assert found_ml == pytest.approx(blood_ml)


def test_a_claim_beyond_the_ceiling_is_refused_with_its_arithmetic() -> None:
    with pytest.raises(Refusal) as refused:
        refuse_fold_beyond_ceiling(fold=20, blood_ml=60, final_ml=5)
    assert "60 / 5" in str(refused.value)
    assert "would need 100 mL of blood" in str(refused.value)
    with pytest.raises(Refusal, match=r"6 billion.*hold 5 billion.*at most 1250"):
        refuse_beyond_ceiling(blood_ml=20, blood_platelets_1e9_per_l=250, final_ml=4, platelets_1e9_per_l=1500)


def test_twenty_times_whole_blood_needs_a_twentieth_of_the_draw() -> None:
    assert limit_final_volume(fold=20, blood_ml=60).value == pytest.approx(3.0)
    real = limit_final_volume(fold=20, blood_ml=60, recovery_frac=0.7)
    assert real.value == pytest.approx(2.1)
    assert "2.1 mL or less" in real.words
    refuse_fold_beyond_ceiling(fold=20, blood_ml=60, final_ml=3)
    assert ceiling_fold(blood_ml=60, final_ml=3) == pytest.approx(20)


def test_scalp_volume_meets_the_worked_examples() -> None:
    assert scalp_volume_ml(100) == pytest.approx((5, 10))  # C130, a secondary page, exact
    found = caution_scalp_volume(volume_ml=1, area_cm2=24)
    assert found is not None
    assert "0.042 mL/cm²" in found.text  # C131, 0.0417, below the range
    assert caution_scalp_volume(volume_ml=7, area_cm2=100) is None
