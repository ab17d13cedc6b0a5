"""What the bench has worked out outside every request: one computation at a time, the newest question of each run."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

from plasmawright.parameters.sets import ParameterSet
from plasmawright.records.models import Run
from plasmawright.records.selectors.plans import parameters_of
from plasmawright.web.intervals import Intervals, Request, State

Document = Mapping[str, Any]
"""What was worked out. Any: JSON may hold anything."""


@dataclass(frozen=True, kw_only=True)
class Thought:
    """How a question stands: ``found`` once it is answered, ``why`` where it cannot be."""

    working: bool
    found: Document | None
    why: str


class Thinking:
    """Asks each question once and tells how it stands."""

    def __init__(self) -> None:
        self._queue: Intervals[Document] = Intervals()

    def about(self, *, asker: str, ticket: str, compute: Callable[[], Document]) -> Thought:
        """Return how the question stands; it is asked now where it was not before."""
        request = self._queue.newest(asker)
        if request is None or request.ticket != ticket:
            request = self._queue.ask(asker=asker, ticket=ticket, values={}, compute=compute)
        return _thought(request)


def _thought(request: Request[Document]) -> Thought:
    why = ""
    if request.refusal is not None:
        why = str(request.refusal)
    elif request.state is State.FAILED:
        why = "This could not be worked out; the fault is noted. What is seen counts, go on by it."
    return Thought(working=request.state is State.WORKING, found=request.result, why=why)


def parameters_later(run: Run) -> Callable[[], ParameterSet]:
    """Return what draws a plan's parameters where they are needed; the row they come from is read here and now."""
    plan, _ = run.plan, run.plan.parameter_set
    return partial(parameters_of, plan)


BENCH = Thinking()
