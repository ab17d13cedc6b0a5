"""One long computation at a time for the whole process; of each asker only the newest request is answered."""

import logging
import os
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Generic, TypeVar

from plasmawright.errors import Refusal, Refusals

Result = TypeVar("Result")
logger = logging.getLogger(__name__)

ASKERS_MAX = 64
"""Of how many pages the newest request is remembered; the one that has been silent longest is forgotten first."""
NICE = 10
"""How far a long computation steps back for the short ones, which a hand is waiting for."""


class State(StrEnum):
    """How a request stands."""

    WORKING = "working"
    DONE = "done"
    REFUSED = "refused"
    FAILED = "failed"
    SUPERSEDED = "superseded"


@dataclass
class Request(Generic[Result]):
    """What was asked, and what came of it; ``values`` are the entries it was made of, to be shown if it is refused."""

    ticket: str
    values: Mapping[str, str]
    compute: Callable[[], Result]
    state: State = State.WORKING
    result: Result | None = None
    refusal: Refusal | Refusals | None = None
    ended: threading.Event = field(default_factory=threading.Event)


class Intervals(Generic[Result]):
    """A queue of one newest request for each asker, worked off by one thread.

    A request that was superseded while it waited is never computed; one superseded while it was computed is thrown
    away. A computation that has begun cannot be stopped, so the newer one waits for its end: two never run at once.
    """

    def __init__(self) -> None:
        self._lock = threading.Condition()
        self._newest: OrderedDict[str, Request[Result]] = OrderedDict()
        self._waiting: list[Request[Result]] = []
        self._thread: threading.Thread | None = None

    def ask(
        self, *, asker: str, ticket: str, values: Mapping[str, str], compute: Callable[[], Result]
    ) -> Request[Result]:
        """Take a request; whatever ``asker`` asked before is superseded."""
        request = Request(ticket=ticket, values=values, compute=compute)
        with self._lock:
            if older := self._newest.pop(asker, None):
                self._supersede(older)
            self._newest[asker] = request
            while len(self._newest) > ASKERS_MAX:
                self._supersede(self._newest.popitem(last=False)[1])
            self._waiting.append(request)
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="intervals", daemon=True)
                self._thread.start()
            self._lock.notify()
        return request

    def newest(self, asker: str) -> Request[Result] | None:
        """Return what ``asker`` asked last, or nothing when it was too long ago."""
        with self._lock:
            return self._newest.get(asker)

    def _supersede(self, request: Request[Result]) -> None:
        request.state, request.result = State.SUPERSEDED, None
        request.ended.set()
        if request in self._waiting:
            self._waiting.remove(request)

    def _work(self) -> None:
        """Answer requests one after another for as long as the process lives."""
        os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), NICE)
        while True:
            with self._lock:
                self._lock.wait_for(lambda: bool(self._waiting))
                request = self._waiting.pop(0)
            self._answer(request)

    def _answer(self, request: Request[Result]) -> None:
        result, refusal, state = None, None, State.DONE
        try:
            result = request.compute()
        except (Refusal, Refusals) as refused:
            refusal, state = refused, State.REFUSED
        except Exception:  # a front door: the fault is told and noted, and the next request is still answered
            logger.exception("a long computation failed")
            state = State.FAILED
        with self._lock:
            if request.state is State.WORKING:
                request.result, request.refusal, request.state = result, refusal, state
            request.ended.set()
