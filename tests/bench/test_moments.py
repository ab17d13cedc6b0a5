"""What was tapped while nobody answered happened when it was tapped, and never before what is kept."""

from datetime import UTC, datetime, timedelta

from plasmawright.bench.moments import Moment, earlier, steady

AT = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)


def moment(seconds: float, *, boot_id: str = "one", boot_s: float | None = None) -> Moment:
    """Return the machine's clocks so many seconds after the run's last entry."""
    return Moment(at=AT + timedelta(seconds=seconds), boot_id=boot_id, boot_s=seconds if boot_s is None else boot_s)


def test_an_entry_held_for_a_minute_happened_a_minute_ago() -> None:
    tapped = earlier(moment(100), moment(0), held_s=60)
    assert (tapped.at, tapped.boot_s) == (AT + timedelta(seconds=40), 40)


def test_nothing_happens_before_the_last_entry() -> None:
    last = moment(0)
    assert earlier(moment(100), last, held_s=3600) == last


def test_a_device_that_says_it_held_back_less_than_nothing_is_not_believed() -> None:
    assert earlier(moment(100), moment(0), held_s=-50) == moment(100)


def test_across_a_restart_the_clock_on_the_wall_bounds_it() -> None:
    tapped = earlier(moment(100, boot_id="two", boot_s=5), moment(0, boot_s=9000), held_s=3600)
    assert tapped.at == AT


def test_a_clock_an_hour_late_after_a_restart_counts_on_from_the_next_entry() -> None:
    now = steady(moment(0), moment(-3600, boot_id="two", boot_s=240))
    assert (now.moment.at, now.jump_s) == (AT, -3600), "the run's own clock stands, and the jump is told"
    later = steady(now.moment, moment(-3500, boot_id="two", boot_s=340))
    assert later.moment.at == AT + timedelta(seconds=100)


def test_a_right_clock_counts_across_a_restart() -> None:
    now = steady(moment(0), moment(600, boot_id="two", boot_s=30))
    assert (now.moment.at, now.told) == (AT + timedelta(seconds=600), "")


def test_the_runs_clock_goes_on_rightly_after_an_entry_that_was_held() -> None:
    first = steady(moment(0), earlier(moment(100), moment(0), held_s=60)).moment
    assert steady(first, moment(200)).moment.at == AT + timedelta(seconds=200)
