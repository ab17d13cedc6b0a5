"""Cautions against worked examples; each row's own source stands beside it."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as some

from plasmawright.practice.cautions import (
    Trimester,
    caution_anaemia_cutoff,
    caution_child,
    caution_concentration,
    caution_draw,
    caution_low_hemoglobin,
    caution_low_platelets,
    caution_old_count,
    caution_pregnancy,
)
from plasmawright.practice.person import SexForBloodVolume, limits_of_draw
from plasmawright.practice.statements import Caution, Status, present

MALE, FEMALE = SexForBloodVolume.MALE, SexForBloodVolume.FEMALE
NEVER_SAID = re.compile(r"\b(an(a?)emi[ac]|anaemic|safe|stop|diagnos\w*|therapeutic|sterile)\b", re.IGNORECASE)


@pytest.mark.parametrize(
    ("row", "sex", "age_years", "pregnancy", "cutoff_g_per_dl"),
    [
        ("C042 and C043", MALE, 40, None, 13.0),
        ("C044", FEMALE, 40, None, 12.0),
        ("C046 and C047", FEMALE, 30, Trimester.SECOND, 10.5),
        ("C048", FEMALE, 30, Trimester.FIRST, 11.0),
        ("third trimester", FEMALE, 30, Trimester.THIRD, 11.0),
        ("12-14 years", MALE, 13, None, 12.0),
        ("5-11 years", MALE, 7, None, 11.5),
        ("24-59 months", FEMALE, 3, None, 11.0),
        ("6-23 months", MALE, 1, None, 10.5),
    ],
)
def test_the_cutoffs_of_2024_meet_the_worked_examples(
    row: str, sex: SexForBloodVolume, age_years: float, pregnancy: Trimester | None, cutoff_g_per_dl: float
) -> None:
    # World Health Organization 2024: below the cut-off and not at it, exact; C042 is 12.9, C043 13.0 and so on
    found = [
        caution_anaemia_cutoff(hemoglobin_g_per_dl=g_per_dl, sex=sex, age_years=age_years, pregnancy=pregnancy)
        for g_per_dl in (round(cutoff_g_per_dl - 0.1, 1), cutoff_g_per_dl)
    ]
    assert [caution is not None for caution in found] == [True, False], row


def test_there_is_no_cutoff_before_six_months() -> None:
    assert caution_anaemia_cutoff(hemoglobin_g_per_dl=9.0, sex=MALE, age_years=0.3) is None


@pytest.mark.parametrize(("g_per_dl", "flagged"), [(9.9, True), (10.0, False)])
def test_the_relative_caution_on_haemoglobin_is_another_one(g_per_dl: float, flagged: bool) -> None:
    assert (caution_low_hemoglobin(g_per_dl) is not None) == flagged  # C105, clinical reference, limit 10
    # between the two the cut-off speaks alone: 11 g/dL in a man is no relative reason against
    assert caution_anaemia_cutoff(hemoglobin_g_per_dl=g_per_dl, sex=MALE, age_years=50) is not None


@pytest.mark.parametrize(("platelets", "flagged"), [(95, True), (100, False), (105, False)])
def test_platelets_are_flagged_below_a_hundred_and_never_at_the_misprint(platelets: float, flagged: bool) -> None:
    found = caution_low_platelets(platelets)  # C104, clinical reference, 10^5/µL
    assert (found is not None) == flagged
    if found is not None:
        assert "100 000/µL" in found.text
        assert "105" not in found.text + found.source


def test_very_low_platelets_are_the_clinics_own_threshold() -> None:
    found = caution_low_platelets(40)
    assert found is not None
    assert found.status is Status.CLINIC_CHOICE


def test_an_old_count_is_said_by_the_clinics_own_days() -> None:
    assert caution_old_count(counted_days_ago=7) is None
    found = caution_old_count(counted_days_ago=8)
    assert found is not None
    assert "wider" in found.text
    assert caution_old_count(counted_days_ago=8, days_max=30) is None


def test_a_child_is_told_by_its_narrower_limits() -> None:
    assert caution_child(18) is None
    found = caution_child(17.9)
    assert found is not None
    for number in ("3 mL/kg", "50 mL", "3%", "5%", "10%"):
        assert number in found.text


def test_a_draw_is_told_every_limit_it_passes_and_its_share() -> None:
    limits = limits_of_draw(age_years=40, weight_kg=60, height_cm=165, hematocrit_frac=0.4, max_blood_ml=68)
    assert caution_draw(draw_ml=68, total_blood_volume_ml=3768, limits=limits) == ()
    found = caution_draw(draw_ml=500, total_blood_volume_ml=3768, limits=limits)
    assert len(found) == 2  # the clinic's 68 and the table's 450, not the donors' 630
    assert "13.3%" in found[0].text  # 500 of 3768
    assert found[0].status is Status.CLINIC_CHOICE


def test_a_high_concentration_is_a_soft_note() -> None:
    assert caution_concentration(1800) is None
    found = caution_concentration(1801)
    assert found is not None
    assert "laboratory evidence only" in found.text


@given(
    platelets=some.floats(1, 3000),
    g_per_dl=some.floats(2, 25),
    age_years=some.floats(0, 120),
    days=some.floats(0, 5000),
    pregnancy=some.sampled_from([None, *Trimester]),
)
def test_no_caution_names_a_disease_or_touches_a_medicine(
    platelets: float, g_per_dl: float, age_years: float, days: float, pregnancy: Trimester | None
) -> None:
    found: tuple[Caution, ...] = present(
        (
            caution_low_platelets(platelets),
            caution_low_hemoglobin(g_per_dl),
            caution_anaemia_cutoff(hemoglobin_g_per_dl=g_per_dl, sex=FEMALE, age_years=age_years, pregnancy=pregnancy),
            caution_child(age_years),
            caution_old_count(counted_days_ago=days),
            caution_pregnancy(pregnancy),
        )
    )
    for caution in found:
        assert not NEVER_SAID.search(caution.text), caution.text
        assert set(caution.as_document()) == {"text", "source", "status"}
        assert caution.source
