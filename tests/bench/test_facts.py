"""Where a run stands is what its entries say, whatever order trouble comes in."""

from datetime import timedelta

import pytest
from tests.bench.telling import AT, POLICY, at_step, entry, make_opening, pressed_until, tell

from plasmawright.bench.blockers import blockers
from plasmawright.bench.clocks import clocks_of, hold_clock
from plasmawright.bench.entries import Kind, Measure, read_body
from plasmawright.bench.facts import planned_minutes
from plasmawright.bench.moments import Moment, steady
from plasmawright.bench.press import press_of
from plasmawright.bench.steps import Step
from plasmawright.bench.telling import facts_of, moved_on
from plasmawright.errors import Refusals


def test_a_second_tap_on_the_same_button_moves_nothing() -> None:
    facts, _ = at_step(Step.LOOK)
    # the page still showed the step before
    assert moved_on(facts, Kind.DONE, Step.SOFT_SPIN, {})
    assert not moved_on(facts, Kind.DONE, Step.LOOK, {})


def test_starting_a_spin_twice_does_not_end_it() -> None:
    facts, _ = at_step(Step.SOFT_SPIN)
    begun = tell(facts, Kind.BEGAN)
    assert moved_on(begun, Kind.BEGAN, Step.SOFT_SPIN, {})


def test_what_came_too_late_waits_for_review_and_blocks_release() -> None:
    opening = make_opening()
    kept = pressed_until(Step.RELEASE, opening)
    late = entry(Kind.DONE, Step.LOOK, len(kept) + 1, review=True)
    facts = facts_of(opening, [*kept, late])
    assert facts.step is Step.RELEASE
    assert facts.to_review == (late.position,)
    assert any("review" in blocker.reason for blocker in blockers(facts, Step.RELEASED, late.at))
    seen = tell(facts, Kind.REVIEWED, position=late.position)
    assert blockers(seen, Step.RELEASED, late.at) == ()


def test_doubt_of_identity_voids_the_tubes_and_nothing_brings_them_back() -> None:
    facts, _ = at_step(Step.LOAD)
    facts = tell(facts, Kind.MISHAP, mishap="tubes_mixed", tubes=[1, 2])
    assert [tube.number for tube in facts.usable] == [3]
    facts = tell(facts, Kind.CHOSEN, mishap="tubes_mixed", choice="go_on_without")
    assert [tube.number for tube in facts.usable] == [3]
    for number in (1, 2):
        refilled = tell(facts, Kind.TUBE, tube=number, what="filled")
        assert number not in {tube.number for tube in refilled.usable}


def test_doubt_that_names_no_tube_voids_them_all() -> None:
    facts, _ = at_step(Step.LOAD)
    assert tell(facts, Kind.MISHAP, mishap="tubes_mixed").usable == ()


def test_doubt_after_pooling_leaves_only_the_way_out() -> None:
    facts, _ = at_step(Step.HARD_SPIN)
    facts = tell(facts, Kind.MISHAP, mishap="tubes_mixed", tubes=[1])
    facts = tell(facts, Kind.CHOSEN, mishap="tubes_mixed", choice="go_on_without")
    assert any("void" in blocker.reason for blocker in blockers(facts, Step.TAKE_OFF, AT))
    assert blockers(facts, Step.STOPPED, AT) == ()


def test_clumps_withdraw_the_dose_for_good() -> None:
    facts, _ = at_step(Step.SWIRL)
    seen = tell(facts, Kind.MEASURED, what=Measure.SWIRL_LOOK.value, value="clumps")
    assert seen.dose_unknown
    gone = tell(seen, Kind.MEASURED, what=Measure.SWIRL_LOOK.value, value="swirl")
    assert gone.dose_unknown, "what was lost in clumps is not given back by a second look"


def test_red_keeps_that_tube_apart_and_leaves_it_out_unless_told_otherwise() -> None:
    facts, _ = at_step(Step.WITHDRAW)
    facts = tell(facts, Kind.RED_SEEN)
    assert [tube.number for tube in facts.tubes if tube.red] == [1]
    press = press_of(facts)
    assert press is not None
    assert press.body["tube"] == 2, "the key goes on with the next tube"
    facts = tell(facts, Kind.DONE)
    facts = tell(facts, Kind.DONE)
    assert facts.step is Step.REBALANCE
    assert [tube.red_fate for tube in facts.tubes] == ["left_out", None, None]


def test_an_interrupted_spin_counts_the_minutes_it_ran() -> None:
    facts, kept = at_step(Step.SOFT_SPIN)
    begun = tell(facts, Kind.BEGAN)
    assert begun.began_at is not None
    cut = entry(
        Kind.MISHAP,
        Step.SOFT_SPIN,
        len(kept) + 2,
        at=begun.began_at + timedelta(seconds=30 + 150),
        body={"mishap": "power_cut"},
    )
    stopped = facts_of(make_opening(), [*kept, entry(Kind.BEGAN, Step.SOFT_SPIN, len(kept) + 1), cut])
    # 180 s after the start, 30 s of which went into the ramp
    assert stopped.spun[-1].minutes == pytest.approx(2.5)
    assert stopped.began_at is None
    assert not stopped.spun[-1].whole


def test_an_amendment_changes_what_was_told_and_keeps_what_was() -> None:
    opening = make_opening()
    kept = pressed_until(Step.WITHDRAW, opening)
    read = entry(Kind.MEASURED, Step.WITHDRAW, len(kept) + 1, body={"what": "interface_mm", "value": 43.0})
    amended = entry(
        Kind.AMENDED,
        Step.WITHDRAW,
        len(kept) + 2,
        body={"position": read.position, "body": {"value": 34.0}, "words": "misread"},
    )
    facts = facts_of(opening, [*kept, read, amended])
    assert facts.measured["interface_mm"] == 34.0
    assert read.body["value"] == 43.0


def test_a_label_of_another_run_stops_this_one_until_its_own_is_scanned() -> None:
    facts, _ = at_step(Step.WITHDRAW)
    facts = tell(facts, Kind.SCANNED, code="ELSEWHERE", own=False)
    assert any("another run" in blocker.reason for blocker in blockers(facts, Step.POOL, AT))
    facts = tell(facts, Kind.SCANNED, code="HERE", own=True, tube=1)
    assert blockers(facts, Step.POOL, AT) == ()


def test_scanning_the_next_tube_ends_the_one_before() -> None:
    facts, _ = at_step(Step.WITHDRAW)
    facts = tell(facts, Kind.SCANNED, code="A", own=True, tube=2)
    facts = tell(facts, Kind.SCANNED, code="B", own=True, tube=1)
    assert [tube.withdrawn_at is not None for tube in facts.tubes] == [False, True, False]
    assert facts.current == 1


def test_drawing_again_fills_up_to_the_plan() -> None:
    facts, _ = at_step(Step.CLOTS)
    facts = tell(facts, Kind.MISHAP, mishap="clot", tubes=[2])
    facts = tell(facts, Kind.CHOSEN, mishap="clot", choice="draw_again")
    assert facts.step is Step.DRAW
    press = press_of(facts)
    assert press is not None
    assert press.body == {"tube": 4, "what": "filled"}


def test_the_hold_clock_runs_from_the_first_tube() -> None:
    facts, kept = at_step(Step.WITHDRAW)
    first = next(one for one in kept if one.kind is Kind.TUBE)
    clock = hold_clock(facts)
    assert clock is not None
    assert clock.due_at == first.at + timedelta(hours=POLICY.hold_h)


def test_past_the_hold_limit_only_an_override_releases() -> None:
    facts, kept = at_step(Step.RELEASE)
    late = AT + timedelta(hours=5)
    assert any("hold limit" in blocker.reason for blocker in blockers(facts, Step.RELEASED, late))
    over = tell(facts, Kind.OVERRIDDEN, what="hold", words="the patient waits next door")
    assert blockers(over, Step.RELEASED, late) == ()
    assert len(kept) > 0


def test_the_open_clock_runs_from_the_first_cap_to_the_last_syringe() -> None:
    facts, _ = at_step(Step.WITHDRAW)
    assert [clock.name for clock in clocks_of(facts)] == ["hold", "open"]
    checked, _ = at_step(Step.CHECK)
    assert [clock.name for clock in clocks_of(checked)] == ["hold"]


def test_a_solo_run_waits_between_its_two_readings() -> None:
    facts, kept = at_step(Step.RELEASE, solo=True)
    at = kept[-1].at
    assert any("pause" in blocker.reason for blocker in blockers(facts, Step.RELEASED, at + timedelta(seconds=59)))
    assert blockers(facts, Step.RELEASED, at + timedelta(seconds=60)) == ()


@pytest.mark.parametrize(
    ("later", "passed_s"),
    [
        # the wall clock was set an hour back or forward; the machine's own ran 90 s
        (Moment(at=AT - timedelta(hours=1), boot_id="a", boot_s=190.0), 90.0),
        (Moment(at=AT + timedelta(hours=1), boot_id="a", boot_s=190.0), 90.0),
        # after a restart only the wall clock knows, and it never leads back
        (Moment(at=AT + timedelta(minutes=7), boot_id="b", boot_s=12.0), 420.0),
        (Moment(at=AT - timedelta(hours=1), boot_id="b", boot_s=12.0), 0.0),
    ],
)
def test_time_at_the_bench_is_steady(later: Moment, passed_s: float) -> None:
    last = Moment(at=AT, boot_id="a", boot_s=100.0)
    assert (steady(last, later).moment.at - AT).total_seconds() == passed_s


def test_a_jump_of_the_wall_clock_is_told() -> None:
    last = Moment(at=AT, boot_id="a", boot_s=100.0)
    jumped = steady(last, Moment(at=AT + timedelta(hours=1), boot_id="a", boot_s=160.0))
    assert "59 min ahead" in jumped.told
    assert steady(last, Moment(at=AT + timedelta(seconds=61), boot_id="a", boot_s=160.0)).told == ""


@pytest.mark.parametrize(
    ("kind", "body", "field"),
    [
        (Kind.MEASURED, {"what": "interface_mm", "value": 900}, "body.value"),
        (Kind.MEASURED, {"what": "interface_mm", "value": True}, "body.value"),
        (Kind.MEASURED, {"what": "plasma_look", "value": "blue"}, "body.value"),
        (Kind.TUBE, {"tube": 0, "what": "filled"}, "body.tube"),
        (Kind.TUBE, {"what": "filled"}, "body.tube"),
        (Kind.DONE, {"unknown": 1}, "body.unknown"),
        (Kind.NOTE, {"words": "x" * 2001}, "body.words"),
    ],
)
def test_a_wrong_field_is_refused_by_name(kind: Kind, body: dict[str, object], field: str) -> None:
    with pytest.raises(Refusals) as refused:
        read_body(kind, body)
    assert [one.field for one in refused.value.found] == [field]


def test_a_look_half_way_sends_the_run_back_for_the_minutes_its_height_asks_for() -> None:
    then = [{"interface_up_to_mm": 34.0, "add_minutes": 2.0}, {"interface_up_to_mm": None, "add_minutes": 5.0}]
    opening = make_opening(plan={**make_opening().plan, "look": {"then": then}})
    facts = facts_of(opening, pressed_until(Step.LOOK, opening))
    seen = tell(facts, Kind.MEASURED, what=Measure.INTERFACE_MM.value, value=36.0, tube=1)
    press = press_of(seen)
    assert press is not None
    assert press.words == "Spin 5 min more"
    again = tell(seen, Kind.DONE, **press.body)
    assert again.step is Step.SOFT_SPIN
    assert planned_minutes(again) == 5.0
    second = tell(tell(again, Kind.BEGAN), Kind.DONE)
    assert [spun.minutes for spun in second.spun] == [6.0, 5.0]
    onward = press_of(second)
    assert onward is not None
    assert "more_minutes" not in onward.body, "the second look ends the spinning"
