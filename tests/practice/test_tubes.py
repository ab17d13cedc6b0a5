"""Fill and citrate against worked examples; each row's own source stands beside it."""

import pytest

from plasmawright.errors import OutOfRange
from plasmawright.practice.tubes import (
    Base,
    anticoagulant_share_frac,
    caution_fill,
    caution_high_hematocrit,
    citrate_a_ml,
    citrate_b_ml,
    limit_fill_ml,
)


def test_a_tube_is_full_within_a_tenth_of_its_nominal_volume() -> None:
    assert limit_fill_ml(8.5) == pytest.approx((7.65, 9.35))  # C067, ISO 6710 and CLSI GP39 (memory), exact


@pytest.mark.parametrize("blood_ml", [7.65, 8.5, 9.35])
def test_a_full_tube_passes_in_silence(blood_ml: float) -> None:
    assert caution_fill(nominal_blood_ml=8.5, blood_ml=blood_ml, anticoagulant_ml=1.5) is None


def test_a_short_fill_says_the_anticoagulants_share() -> None:
    assert anticoagulant_share_frac(blood_ml=7.0, anticoagulant_ml=1.5) == pytest.approx(1.5 / 8.5)
    found = caution_fill(nominal_blood_ml=8.5, blood_ml=7.0, anticoagulant_ml=1.5)
    assert found is not None
    assert "17.6%" in found.text  # 1.5 of 8.5 mL in the tube
    assert "15.0%" in found.text  # as meant: 1.5 of 10 mL


@pytest.mark.parametrize(
    ("row", "hematocrit_frac", "expected_ml"),
    [("C061", 0.65, 0.3238), ("C062", 0.55, 0.4163), ("C062", 0.60, 0.3700), ("C062", 0.70, 0.2775)],
)
def test_the_formula_of_the_bloods_volume_meets_the_worked_examples(
    row: str, hematocrit_frac: float, expected_ml: float
) -> None:
    found = citrate_a_ml(hematocrit_frac=hematocrit_frac, blood_ml=5)
    assert found.citrate_ml == pytest.approx(expected_ml, abs=0.0005), row  # published formula, the row's tolerance
    assert found.base is Base.BLOOD


@pytest.mark.parametrize(
    ("row", "volume_ml", "expected_ml", "within_ml"),
    [("C063", 2.7, 0.202, 0.0005), ("C064", 4.5, 0.34, 0.005)],  # fritsmafactor.com; a teaching page
)
def test_the_other_formula_meets_what_is_printed_with_the_bloods_volume(
    row: str, volume_ml: float, expected_ml: float, within_ml: float
) -> None:
    found = citrate_b_ml(hematocrit_frac=0.60, volume_ml=volume_ml, base=Base.BLOOD)
    assert found.citrate_ml == pytest.approx(expected_ml, abs=within_ml), row


@pytest.mark.parametrize(
    ("hematocrit_frac", "expected_ml"), [(0.45, 0.5), (0.55, 0.4167), (0.60, 0.3738), (0.65, 0.3302), (0.70, 0.2857)]
)
def test_the_other_formula_keeps_citrate_to_plasma_with_the_whole_tubes_volume(
    hematocrit_frac: float, expected_ml: float
) -> None:
    found = citrate_b_ml(hematocrit_frac=hematocrit_frac, volume_ml=5, base=Base.TOTAL)
    assert found.citrate_ml == pytest.approx(expected_ml, abs=0.0005)  # C065, derivation, the row's tolerance
    plasma_ml = (5 - found.citrate_ml) * (1 - hematocrit_frac)
    assert found.citrate_ml / plasma_ml == pytest.approx(1 / 4.95)  # 1:9 at a haematocrit of 45 %: 0.5 to 2.475 mL


def test_a_citrate_volume_keeps_the_volume_it_was_given_and_which_one_it_was() -> None:
    # C066: blood or total, the base must be stored with the result
    found = citrate_b_ml(hematocrit_frac=0.6, volume_ml=2.7, base=Base.BLOOD)
    assert (found.volume_ml, found.base, found.formula) == (2.7, Base.BLOOD, "V (100 - H) / (595 - H)")


def test_a_high_haematocrit_is_a_caution_and_changes_no_volume() -> None:
    assert caution_high_hematocrit(0.55) is None
    found = caution_high_hematocrit(0.56)
    assert found is not None
    assert "none is applied here" in found.text
    with pytest.raises(OutOfRange, match="Divide by 100"):
        caution_high_hematocrit(56)
