"""Checks judged at, inside and outside their tolerance; what is past due is said, what failed stops."""

from datetime import date

import pytest

from plasmawright.errors import OutOfRange
from plasmawright.practice.checks import (
    MEASURES,
    CheckKind,
    LastCheck,
    cautions_of,
    due_after,
    judge_check,
    refusals_of,
    tolerance_row,
)
from plasmawright.practice.statements import Status

TODAY = date(2026, 3, 4)


@pytest.mark.parametrize(
    ("kind", "set_to", "read", "tolerance", "passed"),
    [
        (CheckKind.SPEED, 1500, 1575, 0.05, True),  # exactly at the tolerance
        (CheckKind.SPEED, 1500, 1425, 0.05, True),
        (CheckKind.SPEED, 1500, 1576, 0.05, False),
        (CheckKind.SPEED, 1500, 1530, 0.01, False),  # a clinic may choose a narrower one
        (CheckKind.TIMER, 600, 630, 0.05, True),
        (CheckKind.TIMER, 600, 569, 0.05, False),
        (CheckKind.SCALE, 100, 100.1, 0.1, True),  # grams, not a share
        (CheckKind.SCALE, 20, 20.2, 0.1, False),
    ],
)
def test_a_reading_is_judged_by_its_tolerance(
    kind: CheckKind, set_to: float, read: float, tolerance: float, passed: bool
) -> None:
    assert judge_check(kind, set_to=set_to, read=read, tolerance=tolerance).passed is passed


def test_a_speed_check_tells_what_the_force_is_off_by() -> None:
    # force goes with the square of the speed: 1.05² − 1 = 10.25 %
    judged = judge_check(CheckKind.SPEED, set_to=1000, read=1050, tolerance=0.05)
    assert judged.off == 50
    assert "+50 rpm, 50 rpm allowed" in judged.words
    assert "the force is +10.3% of what was meant" in judged.words


def test_a_slip_of_unit_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"timer\.set_to is 9"):
        judge_check(CheckKind.TIMER, set_to=9, read=9, tolerance=0.05)  # minutes
    with pytest.raises(OutOfRange, match=r"speed\.tolerance is 5"):
        judge_check(CheckKind.SPEED, set_to=1500, read=1500, tolerance=5)  # a percentage


def test_a_check_stands_until_the_same_day_of_its_last_month() -> None:
    assert due_after(CheckKind.SPEED, date(2026, 3, 4)) == date(2027, 3, 4)
    assert due_after(CheckKind.SPEED, date(2028, 2, 29)) == date(2029, 2, 28)  # no 29th that year
    assert due_after(CheckKind.SCALE, date(2026, 11, 30)) == date(2027, 2, 28)  # over the turn of the year


def test_no_tolerance_claims_a_published_source() -> None:
    for kind in MEASURES:
        assert tolerance_row(kind).kind in {"assumed", "memory"}, kind


def last(**changes: object) -> LastCheck:
    done = {"kind": CheckKind.SPEED, "about": "bench", "done_on": date(2025, 3, 4), "due_on": TODAY, **changes}
    return LastCheck(**done)  # type: ignore[arg-type] # a test's own changes


def test_a_check_past_due_is_a_caution_and_no_stop() -> None:
    assert cautions_of((last(),), TODAY) == ()  # its last day
    (caution,) = cautions_of((last(),), date(2026, 3, 6))
    assert "was due by 2026-03-04, 2 days ago" in caution.text
    assert caution.status is Status.COMMON_PRACTICE
    assert refusals_of((last(),)) == ()


def test_a_check_never_written_down_is_a_caution_and_no_stop() -> None:
    never = LastCheck(kind=CheckKind.HOOD, about="the hood")
    (caution,) = cautions_of((never,), TODAY)
    assert "Certificate of the hood: none is written down" in caution.text
    assert refusals_of((never,)) == ()


def test_a_check_that_failed_stops_and_says_what_lifts_it() -> None:
    failed = last(passed=False, reading="1500 rpm set, 1700 rpm read")
    assert cautions_of((failed,), TODAY) == ()
    (refusal,) = refusals_of((failed,))
    assert refusal.field == "checks.speed"
    assert "1700 rpm read" in refusal.value
    assert "Put bench right, check it again" in refusal.remedy
