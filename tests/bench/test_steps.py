"""The table of steps: complete, and walked by one key."""

import pytest
from tests.bench.telling import at_step, make_opening, pressed_until

from plasmawright.bench.entries import Kind
from plasmawright.bench.guide import CARDS, card_of
from plasmawright.bench.mishaps import MISHAPS, Effect, choices_at, target_of
from plasmawright.bench.press import press_of
from plasmawright.bench.steps import ENDS, MAY_FOLLOW, ORDER, TITLES, Step, following
from plasmawright.bench.telling import facts_of


def test_every_step_has_a_row_in_every_table() -> None:
    assert set(MAY_FOLLOW) == set(TITLES) == set(CARDS) == set(Step)


def test_what_has_ended_goes_nowhere_but_to_its_disposal() -> None:
    assert MAY_FOLLOW[Step.RELEASED] == MAY_FOLLOW[Step.DISCARDED] == frozenset()
    assert MAY_FOLLOW[Step.STOPPED] == {Step.DISCARDED}
    assert {Step.RELEASED, Step.DISCARDED, Step.STOPPED} == ENDS


def test_every_step_can_be_left_and_the_run_can_always_be_stopped() -> None:
    for step in ORDER:
        assert following(step) in MAY_FOLLOW[step]
        assert Step.STOPPED in MAY_FOLLOW[step]


def test_blood_that_was_not_drawn_is_not_discarded() -> None:
    # there is nothing to dispose of before the draw
    assert Step.DISCARDED not in MAY_FOLLOW[Step.IDENTIFY]
    assert all(Step.DISCARDED in MAY_FOLLOW[step] for step in ORDER[1:])


def test_one_key_leads_from_identify_to_release() -> None:
    kept = pressed_until(Step.RELEASE)
    seen = [one.step for one in kept]
    assert sorted(set(seen), key=ORDER.index) == list(ORDER[:-1])


@pytest.mark.parametrize("tubes", [2, 4, 8])
def test_from_first_cap_off_to_pellet_suspended_takes_at_most_fifteen_keys(tubes: int) -> None:
    # the bound is the issue's: at most 15 key presses plus one scan per vessel, for as many tubes as a bench takes
    plan = {**make_opening().plan, "tubes": tubes}
    kept = pressed_until(Step.SWIRL, make_opening(plan=plan))
    gloved = [one for one in kept if ORDER.index(Step.WITHDRAW) <= ORDER.index(one.step)]
    assert len(gloved) <= 15


@pytest.mark.parametrize("step", ORDER)
def test_every_step_says_what_to_do(step: Step) -> None:
    facts, _ = at_step(step)
    card = card_of(facts)
    assert card.do.endswith((".", "?"))
    assert len(card.number) <= 12, "the one number is read from across the bench"


def test_every_mishap_offers_at_most_three_ways() -> None:
    assert all(1 <= len(mishap.choices) <= 3 for mishap in MISHAPS.values())


@pytest.mark.parametrize("step", ORDER)
def test_every_way_offered_leads_where_the_step_table_lets_it(step: Step) -> None:
    for mishap in MISHAPS.values():
        offered = choices_at(mishap, step)
        assert offered
        for choice in offered:
            assert target_of(choice.effect, step) in {step, *MAY_FOLLOW[step]}


def test_drawing_again_is_not_offered_once_plasma_is_pooled() -> None:
    # fresh blood cannot join plasma that has been spun
    offered = choices_at(MISHAPS["broken_tube"], Step.HARD_SPIN)
    assert Effect.DRAW_AGAIN not in {choice.effect for choice in offered}


def test_a_step_that_waits_for_a_signature_has_no_key() -> None:
    facts, _ = at_step(Step.RELEASE)
    assert press_of(facts) is None


def test_a_run_told_in_pieces_stands_where_one_told_whole_does() -> None:
    opening = make_opening()
    kept = pressed_until(Step.RELEASE, opening)
    for length in range(len(kept) + 1):
        assert facts_of(opening, kept[:length]).position == length
    assert kept[-1].kind is Kind.DONE
