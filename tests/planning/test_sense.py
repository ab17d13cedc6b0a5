"""Tests of sense: what a person who knows the bench would expect of a plan (names of the trade, no outside numbers)."""

from dataclasses import replace

import numpy as np
import pytest
from tests.planning.visits import a_visit

from plasmawright.parameters import sets
from plasmawright.planning.choose import choose_plan
from plasmawright.planning.plan import Plan
from plasmawright.planning.revise import Settled, revised_plan
from plasmawright.preparation.prediction import predict
from plasmawright.preparation.protocol import (
    Blood,
    Collection,
    Preparation,
    Rotor,
    Spin,
    Stop,
    TubeKind,
    Withdraw,
)
from plasmawright.science.tube import Bottom

DRAWS = 48
FEW = sets.drawn(count=DRAWS, seed=1)


def middle(values: np.ndarray) -> float:
    return float(np.median(values))


@pytest.fixture(scope="module")
def usual() -> Plan:
    return choose_plan(a_visit(), FEW).chosen


def test_yesterdays_run_typed_in_shows_its_plasma_height_within_the_band() -> None:
    """Rotor by ruler, tube by water, a usual soft spin.

    The seen height is the simple arithmetic of the trade: 10 mL whose red cells (0.42 of 8.5 mL) lie at a haematocrit
    of 0.77 (Petrushenko 2022, derived from the abstract's mass balance at 160 g x 10 min) leave 10 - 3.57 / 0.77 mL of
    plasma in a 13 mm bore.
    """
    preparation = Preparation(
        blood=Blood(hematocrit_frac=0.42, platelets_1e9_per_l=250),
        collection=Collection(tubes=1, blood_ml=8.5, anticoagulant_ml=1.5, tube="a"),
        rotor=Rotor(bottom_radius_mm=160, max_rcf=3000),
        tubes={"a": TubeKind(inner_diameter_mm=13.0, bottom=Bottom.ROUND, capacity_ml=11)},
        steps=(Spin(rcf=160, minutes=10), Withdraw(stop=Stop.ABOVE_CELLS_MM, value=3, pool_into="a")),
    )
    outcome = predict(preparation, sets.drawn(count=128, seed=3))
    area_cm2 = np.pi * 1.3**2 / 4
    seen_mm = (10 - 0.42 * 8.5 / 0.77) / area_cm2 * 10
    height_mm = outcome.layers.filled_mm - outcome.after_first_spin["interface_mm"]
    low, high = np.quantile(height_mm, (0.05, 0.95))
    assert low < seen_mm < high


@pytest.mark.parametrize(("hematocrit", "more_plasma"), [(0.36, True), (0.50, False)])
def test_the_stop_still_holds_off_the_cells_whatever_the_haematocrit(
    usual: Plan, hematocrit: float, more_plasma: bool
) -> None:
    """The stop is told from the red that is seen, so blood that differs from the count moves the mL, not the margin."""
    visit = a_visit(blood__hematocrit_frac=hematocrit)
    settled = revised_plan(visit, Settled.of(usual), FEW)
    assert settled.margin_mm == usual.margin_mm
    assert (middle(settled.plasma_ml) > middle(usual.plasma_ml)) is more_plasma
    assert (middle(settled.interface_mm) < middle(usual.interface_mm)) is more_plasma
    # nine times in ten the hand stays above the cells that are there, not above those that were expected
    assert settled.layers.stop_low_mm > settled.layers.interface_mm


def test_one_tube_filled_short_has_its_own_stop_and_its_own_share_of_anticoagulant() -> None:
    """7.0 mL in a tube with 1.5 mL of anticoagulant: 1.5 / 8.5 = 17.6 % of the tube (facts: 3.7, computed)."""
    assert pytest.approx(0.176, abs=0.0005) == 1.5 / (7.0 + 1.5)
    full = choose_plan(a_visit(), FEW).chosen
    short = revised_plan(a_visit(bench__blood_ml=7.0), Settled.of(full), FEW)
    assert middle(short.interface_mm) < middle(full.interface_mm) - 3
    assert short.layers.stop_mm < full.layers.stop_mm - 3
    assert middle(short.plasma_ml) < middle(full.plasma_ml)


def test_three_tubes_in_eight_places_and_then_two_conicals_need_two_loads_and_their_own_blanks() -> None:
    """Three of eight cannot balance (8 is a power of 2: only even loads can), two can."""
    plan = revised_plan(
        a_visit(),
        Settled(tubes=3, soft_rpm=1280, soft_minutes=7, hard_tubes=2, hard_rpm=2900, hard_minutes=10),
        FEW,
    )
    assert len(plan.soft_load.places) == 3
    assert len(plan.soft_load.blanks) == 1
    # a blank weighs what a blood tube weighs: 8.5 mL at 1.056 and 1.5 mL at 1.02 g/mL
    assert plan.soft_load.blanks[0].mass_g == pytest.approx(8.5 * 1.056 + 1.5 * 1.02, rel=1e-6)
    assert plan.soft_load.blanks[0].water_ml > 10.0, "water is lighter than blood: more of it is needed than 10 mL"
    assert len(plan.hard_load.places) == 2
    assert plan.hard_load.blanks == ()
    opposite = (plan.hard_load.places[1] - plan.hard_load.places[0]) % 8
    assert opposite == 4


def test_twenty_one_ml_in_two_conicals_and_in_four_leave_different_residues() -> None:
    """A shorter column lets go of its platelets sooner: the same hard spin leaves less above in four tubes."""
    two, four = (
        revised_plan(
            a_visit(),
            Settled(tubes=4, soft_rpm=1280, soft_minutes=7, hard_tubes=tubes, hard_rpm=2360, hard_minutes=10),
            FEW,
        )
        for tubes in (2, 4)
    )
    assert middle(four.poor_left_frac) < 0.5 * middle(two.poor_left_frac)
    assert two.leave_ml < four.leave_ml, "each second tube keeps its film"


def test_forty_billion_wished_of_sixty_ml_is_answered() -> None:
    """60 mL at 232e9/L hold 13.9 billion: no plan can give 40, and the answer says so and gives what it can."""
    answer = choose_plan(a_visit(bench__max_blood_ml=60, sites__0__platelets_1e9=40), FEW)
    assert answer.chosen.chance_all_met == 0
    assert answer.chosen.tubes == 7, "60 mL allow seven tubes of 8.5 mL"
    assert "hold no more than" in answer.chosen.binding
    assert answer.platelets_1e9_max < 14
    nearest = answer.alternatives[0]
    assert nearest.chance_all_met >= 0.5
    assert nearest.words.startswith("The most that is likely")


def test_a_rotor_eight_per_cent_slow_does_not_fall_off_the_ridge(usual: Plan) -> None:
    """The force falls by 15 %; the chosen spin loses a few points and no more than a few."""
    slow = replace(Settled.of(usual), soft_rpm=usual.soft_rpm * 0.92)
    fast = replace(Settled.of(usual), soft_rpm=usual.soft_rpm * 1.08)
    for off in (slow, fast):
        plan = revised_plan(a_visit(), off, FEW)
        assert middle(plan.recovery_frac) > middle(usual.recovery_frac) - 0.08


def test_red_cells_never_raise_the_draw(usual: Plan) -> None:
    """A wish for few red cells is answered in words; more blood would not lower them."""
    strict = choose_plan(a_visit(limits__red_cells_1e12_per_l=0.01), FEW).chosen
    assert strict.tubes == usual.tubes
    assert strict.red_cells == "unlikely"
