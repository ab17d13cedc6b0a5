"""The plan as an answer: its parts agree with each other, its alternatives trade, its intervals widen."""

from itertools import permutations

import numpy as np
import pytest
from tests.planning.visits import a_visit

from plasmawright.parameters import sets
from plasmawright.planning.choose import choose_plan
from plasmawright.planning.plan import Answer

FEW = sets.drawn(count=48, seed=1)


@pytest.fixture(scope="module")
def answer() -> Answer:
    return choose_plan(a_visit(), FEW)


def test_the_leave_volume_is_its_printed_sum(answer: Answer) -> None:
    plan = answer.chosen
    assert plan.leave_ml == pytest.approx(sum(ml for _, ml in plan.leave_ml_sum), abs=1e-12)
    assert plan.leave_ml_sum[0] == ("heel, tendon attachment (left)", 3.0)


def test_sites_share_one_product_by_volume(answer: Answer) -> None:
    plan = answer.chosen
    heel = plan.sites[0]
    assert np.allclose(heel.platelets_1e9, plan.rich_1e9_per_l * 3.0 / 1e3)


def test_the_fold_never_passes_the_ceiling(answer: Answer) -> None:
    """fold = recovery x V_blood / V_final, and nothing recovers more than all of it (leave-volume spread allowed)."""
    for plan in (answer.chosen, *answer.alternatives):
        final_ml = plan.rich_1e9_per_l * 0 + plan.leave_ml
        assert (plan.fold <= plan.blood_ml / final_ml * 1.35).all()
        assert (plan.recovery_frac <= 1).all()
    assert answer.fold_max == pytest.approx(answer.chosen.blood_ml / answer.chosen.leave_ml)


def test_at_least_three_alternatives_trade_and_one_looks(answer: Answer) -> None:
    assert len(answer.alternatives) >= 3
    assert sum(plan.look is not None for plan in answer.alternatives) == 1
    trading = [plan for plan in (answer.chosen, *answer.alternatives) if plan.look is None]
    for one, other in permutations(trading, 2):
        as_good = (
            other.blood_ml <= one.blood_ml
            and other.chance_sized >= one.chance_sized
            and other.minutes_total <= one.minutes_total
        )
        assert not as_good, f"{one.words} is beaten by {other.words}"


def test_the_same_draws_give_the_same_answer(answer: Answer) -> None:
    assert choose_plan(a_visit(), FEW).as_document() == answer.as_document()


def test_what_was_not_counted_widens_the_answer_and_is_said(answer: Answer) -> None:
    unknown = choose_plan(a_visit(blood=None), FEW)

    def width(one: Answer) -> float:
        low, high = np.quantile(one.chosen.fold * 0 + one.chosen.rich_1e9_per_l / one.chosen.tubes, (0.05, 0.95))
        return float(high - low)

    assert width(unknown) > 1.5 * width(answer)
    assert any("Not counted" in warning for warning in unknown.warnings)
    assert unknown.assumed[0].name in ("blood.platelets_1e9_per_l", "blood.hematocrit_frac")


def test_an_old_count_widens_the_answer(answer: Answer) -> None:
    old = choose_plan(a_visit(blood__counted_days_ago=200), FEW)
    spread = {name: float(np.std(one.chosen.rich_1e9_per_l / one.chosen.tubes)) for name, one in
              (("old", old), ("new", answer))}  # fmt: skip
    assert spread["old"] > 1.1 * spread["new"]
    assert any("200 days old" in warning for warning in old.warnings)


def test_no_wish_is_needed() -> None:
    plan = choose_plan(a_visit(sites__0__platelets_1e9=None), FEW).chosen
    assert [site.chance_met for site in plan.sites] == [None, None]
    assert plan.chance_all_met > 0.9, "the volumes can be filled"


def test_a_graduation_is_told_only_on_graduated_tubes_and_rounded_away_from_the_cells() -> None:
    document = choose_plan(a_visit(), FEW).chosen.as_document()
    assert document["stop"]["mark_ml"] is None  # type: ignore[index]
    tubes = {
        "collection": {"inner_diameter_mm": 13.0, "bottom": "flat", "capacity_ml": 11.0, "graduated": True},
        "conical": {
            "inner_diameter_mm": 14.6, "bottom": "conical", "cone_height_mm": 22.0, "tip_diameter_mm": 2.0,
            "capacity_ml": 15.0,
        },
    }  # fmt: skip
    plan = choose_plan(a_visit(tubes=tubes), FEW).chosen
    stop_ml = np.pi * 1.3**2 / 4 * (float(np.median(plan.interface_mm)) + plan.margin_mm) / 10
    assert plan.mark_ml is not None
    assert plan.mark_ml >= stop_ml - 0.05
    assert plan.mark_ml % 0.5 == 0


def test_a_fixed_angle_rotor_stops_farther_off_and_is_called_not_validated() -> None:
    answer = choose_plan(a_visit(rotor__angle_deg=45), FEW)
    assert answer.chosen.margin_mm == choose_plan(a_visit(), FEW).chosen.margin_mm + 2
    assert any("not validated" in warning for warning in answer.warnings)


@pytest.mark.parametrize("tubes_at_hand", [1, 2])
def test_too_few_tubes_are_answered_with_what_can_be_filled(tubes_at_hand: int) -> None:
    answer = choose_plan(a_visit(bench__tubes_at_hand=tubes_at_hand), FEW)
    assert answer.chosen.tubes <= tubes_at_hand
    if answer.chosen.chance_all_met < 0.5:
        assert answer.alternatives[0].chance_all_met >= 0.5


def test_a_known_hand_sets_its_own_margin() -> None:
    """Two standard deviations and a millimetre, to the next half: 0.5 mm of spread stops at 2 mm."""
    plan = choose_plan(a_visit(bench__stop_spread_mm=0.5, patient__red_cell_tolerance="usual"), FEW).chosen
    assert plan.margin_mm == 2.0
    unknown = choose_plan(a_visit(bench__stop_spread_mm=None, patient__red_cell_tolerance="usual"), FEW).chosen
    assert unknown.margin_mm == 3.0, "common practice, no source"
