"""One long computation at a time; of each asker only the newest request is answered."""

import threading
from collections.abc import Callable

import pytest

from plasmawright.errors import Refusal
from plasmawright.web.intervals import ASKERS_MAX, Intervals, Request, State

WAIT_S = 5.0


def asked(intervals: Intervals[int], compute: Callable[[], int], *, asker: str = "page") -> Request[int]:
    """Ask for ``compute``."""
    return intervals.ask(asker=asker, ticket="t", values={}, compute=compute)


def test_only_the_newest_request_of_a_page_is_answered() -> None:
    intervals: Intervals[int] = Intervals()
    begun, go = threading.Event(), threading.Event()

    def slow() -> int:
        begun.set()
        go.wait(WAIT_S)
        return 1

    first = asked(intervals, slow)
    assert begun.wait(WAIT_S)
    waiting = asked(intervals, lambda: 2)
    newest = asked(intervals, lambda: 3)
    go.set()
    assert newest.ended.wait(WAIT_S)
    assert (first.state, first.result) == (State.SUPERSEDED, None)  # computed, then thrown away
    assert (waiting.state, waiting.result) == (State.SUPERSEDED, None)  # never computed
    assert (newest.state, newest.result) == (State.DONE, 3)


def test_two_computations_never_run_at_once_and_no_page_is_forgotten_for_another() -> None:
    intervals: Intervals[int] = Intervals()
    busy = threading.Lock()

    def alone() -> int:
        assert busy.acquire(blocking=False), "a second computation ran beside the first"
        try:
            return threading.get_ident()
        finally:
            busy.release()

    requests = [asked(intervals, alone, asker=f"page {number}") for number in range(20)]
    assert all(request.ended.wait(WAIT_S) for request in requests)
    assert {request.state for request in requests} == {State.DONE}
    assert len({request.result for request in requests}) == 1


def test_a_refusal_is_handed_back_and_the_next_request_is_answered() -> None:
    intervals: Intervals[int] = Intervals()

    def refuse() -> int:
        raise Refusal("bench.tubes_at_hand", 0, "at least one tube must be drawn", "Allow more.")

    refused = asked(intervals, refuse)
    assert refused.ended.wait(WAIT_S)
    assert refused.state is State.REFUSED
    assert "at least one tube" in str(refused.refusal)
    again = asked(intervals, lambda: 4)
    assert again.ended.wait(WAIT_S)
    assert again.result == 4


def test_a_fault_of_ours_is_told_noted_and_does_not_stop_the_next_request(caplog: pytest.LogCaptureFixture) -> None:
    intervals: Intervals[int] = Intervals()
    failed = asked(intervals, lambda: 1 // 0)
    assert failed.ended.wait(WAIT_S)
    assert failed.state is State.FAILED
    assert "ZeroDivisionError" in caplog.text
    again = asked(intervals, lambda: 5)
    assert again.ended.wait(WAIT_S)
    assert again.result == 5


def test_pages_that_were_silent_longest_are_forgotten_first() -> None:
    intervals: Intervals[int] = Intervals()
    requests = [asked(intervals, lambda: 1, asker=f"page {number}") for number in range(ASKERS_MAX + 1)]
    assert requests[-1].ended.wait(WAIT_S)
    assert intervals.newest("page 0") is None
    assert intervals.newest("page 1") is requests[1]
