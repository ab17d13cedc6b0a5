"""Trouble told at odd places: twice, late, in the midst of a spin, or of a tube that is out."""

from datetime import timedelta

import pytest
from tests.bench.telling import AT, at_step, entry, make_opening, pressed_until, tell

from plasmawright.bench.blockers import blockers
from plasmawright.bench.entries import Kind, read_body
from plasmawright.bench.facts import planned_minutes
from plasmawright.bench.mishaps import MISHAPS, Effect, choices_at
from plasmawright.bench.press import minutes_to_add
from plasmawright.bench.steps import Step
from plasmawright.bench.telling import facts_of, moved_on
from plasmawright.errors import Refusals


def test_a_second_mishap_does_not_take_the_choice_of_the_first_away() -> None:
    facts, _ = at_step(Step.HARD_SPIN)
    facts = tell(facts, Kind.MISHAP, mishap="patient_gone")
    facts = tell(facts, Kind.MISHAP, mishap="faint")
    facts = tell(facts, Kind.CHOSEN, mishap="faint", choice="go_on")
    assert facts.open_mishap is not None
    assert facts.open_mishap.mishap == "patient_gone", "it still has to be answered"


def test_the_mishap_that_waits_longer_may_be_answered_first() -> None:
    facts, _ = at_step(Step.LABEL)
    facts = tell(facts, Kind.MISHAP, mishap="underfilled", tubes=[1], ml=4.0)
    facts = tell(facts, Kind.MISHAP, mishap="faint")
    assert not moved_on(facts, Kind.CHOSEN, Step.LABEL, {"mishap": "underfilled", "choice": "go_on_without"})
    facts = tell(facts, Kind.CHOSEN, mishap="underfilled", choice="go_on_without")
    assert [tube.number for tube in facts.usable] == [2, 3]
    assert facts.open_mishap is not None
    assert facts.open_mishap.mishap == "faint"


def test_one_mishap_told_twice_is_answered_once() -> None:
    facts, _ = at_step(Step.LABEL)
    for _ in range(2):
        facts = tell(facts, Kind.MISHAP, mishap="faint")
    assert tell(facts, Kind.CHOSEN, mishap="faint", choice="go_on").open_mishap is None


def test_doubt_while_the_plasma_is_being_pooled_voids_it_all() -> None:
    # nobody can say whether the tube in doubt was poured already
    facts, _ = at_step(Step.POOL)
    facts = tell(facts, Kind.MISHAP, mishap="tubes_mixed", tubes=[1])
    assert facts.all_void


@pytest.mark.parametrize("step", [Step.POOL, Step.TAKE_OFF, Step.RELEASE])
def test_doubt_once_plasma_is_together_offers_only_to_stop(step: Step) -> None:
    assert [choice.effect for choice in choices_at(MISHAPS["tubes_mixed"], step)] == [Effect.STOP]


def test_a_wrong_spin_told_while_the_rotor_turns_is_of_this_spin() -> None:
    facts, _ = at_step(Step.HARD_SPIN)
    facts = tell(tell(facts, Kind.BEGAN), Kind.MISHAP, mishap="wrong_spin", rpm=2500.0, minutes=12.0)
    assert [(one.rpm, one.minutes) for one in facts.spun] == [(1280.0, 6.0), (2500.0, 12.0)]


def test_a_spin_that_is_left_while_the_rotor_turns_counts_what_it_ran() -> None:
    facts, _ = at_step(Step.HARD_SPIN)
    facts = tell(facts, Kind.BEGAN)  # entries are a minute apart
    facts = tell(facts, Kind.MISHAP, mishap="pellet_lost")
    facts = tell(facts, Kind.CHOSEN, mishap="pellet_lost", choice="hard_again")
    # two minutes after the start, half a minute of which went into the ramp
    assert [(one.minutes, one.whole) for one in facts.spun] == [(6.0, True), (1.5, False)]
    assert (facts.step, facts.began_at) == (Step.HARD_SPIN, None)


def test_a_spin_interrupted_twice_counts_both_parts() -> None:
    facts, _ = at_step(Step.SOFT_SPIN)
    for ran_min in (2.0, 1.0):
        facts = tell(tell(facts, Kind.BEGAN), Kind.MISHAP, mishap="power_cut", minutes=ran_min)
        facts = tell(facts, Kind.CHOSEN, mishap="power_cut", choice="spin_more", minutes=3.0, rpm=1280.0)
    facts = tell(tell(facts, Kind.BEGAN), Kind.DONE)
    assert [one.minutes for one in facts.spun] == [2.0, 1.0, 3.0]


def test_the_end_of_a_spin_that_was_cut_meanwhile_is_kept_for_review() -> None:
    facts, _ = at_step(Step.SOFT_SPIN)
    facts = tell(tell(facts, Kind.BEGAN), Kind.MISHAP, mishap="power_cut", minutes=2.0)
    assert moved_on(facts, Kind.DONE, Step.SOFT_SPIN, {}), "else a whole spin would be counted that never was"


def test_a_timer_started_where_none_runs_is_no_spin_when_a_tube_breaks() -> None:
    facts, _ = at_step(Step.LOAD)
    facts = tell(tell(facts, Kind.BEGAN), Kind.MISHAP, mishap="broken_tube", tubes=[1])
    assert facts.spun == ()


def test_what_is_told_of_a_tube_at_another_step_is_kept_for_review() -> None:
    facts, _ = at_step(Step.DRAW)
    assert moved_on(facts, Kind.TUBE, Step.DRAW, {"tube": 1, "what": "withdrawn"})
    facts, _ = at_step(Step.WITHDRAW)
    assert moved_on(facts, Kind.TUBE, Step.WITHDRAW, {"tube": 1, "what": "failed"})
    assert not moved_on(facts, Kind.TUBE, Step.WITHDRAW, {"tube": 1, "what": "withdrawn"})


@pytest.mark.parametrize("step", [Step.LOAD, Step.POOL, Step.FILL])
def test_red_seen_where_no_plasma_is_drawn_up_is_kept_for_review(step: Step) -> None:
    facts, _ = at_step(step)
    assert moved_on(facts, Kind.RED_SEEN, step, {})
    assert moved_on(facts, Kind.RED_SEEN, Step.WITHDRAW, {"tube": 1})


def test_red_seen_is_of_the_tube_on_the_page_not_of_one_that_is_off() -> None:
    facts, _ = at_step(Step.WITHDRAW)
    facts = tell(facts, Kind.SCANNED, code="A", own=True, tube=2)
    facts = tell(facts, Kind.TUBE, tube=2, what="withdrawn")
    facts = tell(facts, Kind.RED_SEEN)
    assert [tube.number for tube in facts.tubes if tube.red] == [1]


@pytest.mark.parametrize("lost", ["tubes_mixed", "clot"])
def test_a_tube_that_is_out_stops_the_run_when_its_label_is_scanned(lost: str) -> None:
    facts, _ = at_step(Step.LOAD)
    facts = tell(facts, Kind.MISHAP, mishap=lost, tubes=[2])
    facts = tell(facts, Kind.CHOSEN, mishap=lost, choice="go_on_without")
    while facts.step is not Step.WITHDRAW:
        facts = tell(facts, Kind.DONE)
    scanned = tell(facts, Kind.SCANNED, code="B", own=True, tube=2)
    assert any("Tube 2" in blocker.reason for blocker in blockers(scanned, Step.POOL, AT))
    assert scanned.current is None
    put_away = tell(scanned, Kind.SCANNED, code="A", own=True, tube=1)
    assert blockers(put_away, Step.POOL, AT) == ()


def test_an_underfilled_tube_drawn_again_is_replaced() -> None:
    facts, _ = at_step(Step.LABEL)
    facts = tell(facts, Kind.MISHAP, mishap="underfilled", tubes=[2], ml=3.0)
    facts = tell(facts, Kind.CHOSEN, mishap="underfilled", choice="draw_again")
    assert [tube.number for tube in facts.usable] == [1, 3, 4]
    assert facts.step is Step.DRAW


def test_short_draw_asks_for_the_tubes_it_takes_out() -> None:
    # the tubes that are tapped are lost, so that asking for the full ones would lose the blood
    assert MISHAPS["short_draw"].loses_tubes
    assert "full" not in MISHAPS["short_draw"].look


def test_what_was_read_before_mixing_says_nothing_of_the_spin_after_it() -> None:
    then = [{"interface_up_to_mm": None, "add_minutes": 5.0}]
    opening = make_opening(plan={**make_opening().plan, "look": {"then": then}})
    facts = facts_of(opening, pressed_until(Step.LOOK, opening))
    facts = tell(facts, Kind.MEASURED, what="interface_mm", value=36.0, tube=1)
    facts = tell(facts, Kind.MEASURED, what="interface_look", value="hazy")
    facts = tell(facts, Kind.MISHAP, mishap="hazy_interface")
    facts = tell(facts, Kind.CHOSEN, mishap="hazy_interface", choice="mix_and_spin", minutes=6.0, rpm=1280.0)
    facts = tell(tell(facts, Kind.BEGAN), Kind.DONE)
    assert facts.step is Step.LOOK
    assert minutes_to_add(facts) == 0.0
    assert "interface_look" not in facts.measured


def test_the_hold_runs_from_the_earliest_tube_however_late_it_was_told() -> None:
    _facts, kept = at_step(Step.DRAW)
    first = entry(Kind.TUBE, Step.DRAW, len(kept) + 1, body={"tube": 1, "what": "filled"})
    on_paper = entry(
        Kind.TUBE, Step.DRAW, len(kept) + 2, at=first.at - timedelta(minutes=30), later=True,
        body={"tube": 2, "what": "filled"},
    )  # fmt: skip
    assert facts_of(make_opening(), [*kept, first, on_paper]).drawn_from == on_paper.at


def test_a_check_that_says_the_label_was_not_read_releases_nothing() -> None:
    facts, kept = at_step(Step.CHECK)
    unread = tell(facts, Kind.DONE, label_read=False, clock_read=True)
    assert any("read back" in blocker.reason for blocker in blockers(unread, Step.RELEASED, kept[-1].at))


def test_a_label_scanned_at_the_injection_still_stops() -> None:
    facts, _ = at_step(Step.RELEASE)
    facts = tell(facts, Kind.SIGNED, meaning="released", signer="cleo", witnessed=True)
    assert not moved_on(facts, Kind.SCANNED, Step.RELEASED, {"code": "ELSEWHERE", "own": False})
    facts = tell(facts, Kind.SCANNED, code="ELSEWHERE", own=False)
    assert facts.foreign_code == "ELSEWHERE"
    assert facts.to_review == ()


@pytest.mark.parametrize("kind", [Kind.MISHAP, Kind.CHOSEN])
def test_a_mishap_nobody_knows_is_refused(kind: Kind) -> None:
    with pytest.raises(Refusals, match=r"body\.mishap"):
        read_body(kind, {"mishap": "spin", "choice": "go_on"})


def test_a_tube_that_breaks_in_the_rotor_sends_the_rest_back_to_be_balanced() -> None:
    facts, kept = at_step(Step.SOFT_SPIN)
    begun = tell(facts, Kind.BEGAN)
    broken = tell(begun, Kind.MISHAP, mishap="broken_tube", tubes=[1], minutes=2.0)
    assert kept
    onward = tell(broken, Kind.CHOSEN, mishap="broken_tube", choice="go_on_without")
    assert onward.step is Step.LOAD
    assert [tube.number for tube in onward.usable] == [2, 3]
    again = tell(onward, Kind.DONE)
    # six minutes were planned, two had run
    assert (again.step, planned_minutes(again)) == (Step.SOFT_SPIN, 4.0)
