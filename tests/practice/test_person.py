"""Blood volume and draw limits against worked examples; each row's own source stands beside it."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as some

from plasmawright.errors import Refusal
from plasmawright.practice.person import (
    ChildsTime,
    SexForBloodVolume,
    blood_volume_lemmens_ml,
    blood_volume_nadler_ml,
    body_mass_index_kg_m2,
    child_blood_volume_ml,
    lemmens_ml_per_kg,
    limit_draw_child,
    limit_draw_outer,
    limit_draw_per_weight,
    limit_draw_three_months,
    limits_of_draw,
    lowest,
    share_of_blood_frac,
)

MALE, FEMALE = SexForBloodVolume.MALE, SexForBloodVolume.FEMALE


@pytest.mark.parametrize(
    ("row", "sex", "height_cm", "weight_kg", "expected_ml"),
    [
        ("C032", MALE, 180, 80, 5319.1),
        ("C034", MALE, 175, 70, 4823.8),
        ("C035", FEMALE, 165, 60, 3767.7),
        ("C036", MALE, 178, 85, 5409.5),
    ],
)
def test_blood_volume_by_height_and_weight_meets_the_worked_examples(
    row: str, sex: SexForBloodVolume, height_cm: float, weight_kg: float, expected_ml: float
) -> None:
    volume_ml = blood_volume_nadler_ml(sex=sex, weight_kg=weight_kg, height_cm=height_cm)
    assert volume_ml == pytest.approx(expected_ml, abs=0.5), row  # Nadler 1962; the row's own tolerance, 0.0005 L


def test_blood_volume_by_body_mass_index_meets_the_worked_example() -> None:
    # C037, Lemmens 2006, within 0.05 mL/kg
    assert lemmens_ml_per_kg(22) == pytest.approx(70.0, abs=0.05)
    assert lemmens_ml_per_kg(35) == pytest.approx(55.5, abs=0.05)


def test_the_two_formulas_part_in_obesity_and_agree_at_usual_weight() -> None:
    usual = blood_volume_nadler_ml(sex=MALE, weight_kg=71, height_cm=180)
    assert blood_volume_lemmens_ml(weight_kg=71, height_cm=180) == pytest.approx(usual, rel=0.03)
    heavy = blood_volume_nadler_ml(sex=MALE, weight_kg=160, height_cm=180)
    assert blood_volume_lemmens_ml(weight_kg=160, height_cm=180) < heavy  # Nadler's is known to overestimate there


def test_the_outer_cap_meets_the_worked_example() -> None:
    # C038, donor standard of 10.5 mL/kg (memory), exact
    assert limit_draw_outer(60).value == pytest.approx(630)
    assert limit_draw_outer(45).value == pytest.approx(472.5)


def test_a_childs_share_rules_meet_the_worked_example() -> None:
    blood_ml = child_blood_volume_ml(weight_kg=10, age_years=3)
    found = [limit_draw_child(total_blood_volume_ml=blood_ml, over=over).value for over in ChildsTime]
    assert found == pytest.approx([24, 40, 80])  # C039, 10 kg at 80 mL/kg, a secondary page, exact


@pytest.mark.parametrize(
    ("weight_kg", "expected_ml"),
    [
        (48, 400),  # C040, review board's table, exact
        (52, 450),  # C040
        (50, 400),  # the table's last row begins above 50 kg
        (50.5, 450),
        (45.5, 350),  # between two rows: the lower one, our choice
        (3, 20),
    ],
)
def test_three_months_of_draws_follow_the_review_boards_table(weight_kg: float, expected_ml: float) -> None:
    limit = limit_draw_three_months(weight_kg=weight_kg, hematocrit_frac=0.40)
    assert limit is not None
    assert limit.value == expected_ml


def test_the_table_is_silent_below_the_haematocrit_it_was_made_for() -> None:
    assert limit_draw_three_months(weight_kg=70, hematocrit_frac=0.37) is None
    assert limit_draw_three_months(weight_kg=70, hematocrit_frac=0.38) is not None


def test_the_research_rule_for_children_meets_the_worked_example() -> None:
    assert limit_draw_per_weight(12).value == pytest.approx(36)  # C041, 45 CFR 46.110 (memory), exact
    assert limit_draw_per_weight(30).value == 50  # 3 mL/kg would be 90


def test_the_clinics_own_maximum_binds_an_adult_and_a_share_of_blood_binds_a_child() -> None:
    adult = limits_of_draw(age_years=61, weight_kg=68, height_cm=171, hematocrit_frac=0.41, max_blood_ml=68)
    assert (lowest(adult).value, lowest(adult).source) == (68, "the clinic")
    child = limits_of_draw(age_years=4, weight_kg=16, height_cm=102, hematocrit_frac=None, max_blood_ml=68)
    assert lowest(child).value == pytest.approx(0.03 * 80 * 16)


def test_every_limit_says_where_it_was_read_and_how_it_is_known() -> None:
    for limit in limits_of_draw(age_years=9, weight_kg=30, height_cm=135, hematocrit_frac=0.4, max_blood_ml=40):
        assert limit.source
        assert limit.words
        assert limit.source == "the clinic" or limit.source.startswith(limit.kind.value)


@pytest.mark.parametrize(("weight_kg", "height_cm"), [(68, 1.71), (68, 17.1), (0, 171), (700, 171), (math.nan, 171)])
def test_an_unphysical_body_is_refused(weight_kg: float, height_cm: float) -> None:
    with pytest.raises(Refusal, match="it must"):
        body_mass_index_kg_m2(weight_kg=weight_kg, height_cm=height_cm)


def test_weight_and_height_that_cannot_belong_together_are_refused() -> None:
    with pytest.raises(Refusal, match="another unit"):
        body_mass_index_kg_m2(weight_kg=200, height_cm=90)


def test_the_adult_formula_is_not_used_for_a_small_child() -> None:
    with pytest.raises(Refusal, match="35 kg"):
        blood_volume_nadler_ml(sex=MALE, weight_kg=20, height_cm=115)


@given(draw_ml=some.floats(1, 20_000), blood_ml=some.floats(1, 10_000))
def test_nobody_can_give_more_blood_than_there_is(draw_ml: float, blood_ml: float) -> None:
    try:
        share = share_of_blood_frac(draw_ml=draw_ml, total_blood_volume_ml=blood_ml)
    except Refusal:
        assert draw_ml > blood_ml
    else:
        assert 0 < share <= 1
