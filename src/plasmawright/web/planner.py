"""The process's one long computation, as the Plan page asks for it."""

import secrets
from collections import OrderedDict
from collections.abc import Mapping
from functools import partial

from plasmawright.planning.revise import Settled
from plasmawright.web.asked import Asked
from plasmawright.web.intervals import ASKERS_MAX, Intervals, Request, State
from plasmawright.web.reckoning import Reckoned, chosen_answer, interval_answer

CHOICE = "choice"
"""What a page wants when the spins are to be chosen anew; anything else keeps those that are settled."""
WAIT_S = 60.0


class Planner:
    """Asks for intervals, tells how they stand, and hands out what a save needs."""

    def __init__(self) -> None:
        self._intervals: Intervals[Reckoned] = Intervals()
        self._choices: OrderedDict[str, Reckoned] = OrderedDict()

    def begin(self, asked: Asked, *, asker: str, values: Mapping[str, str], want: str) -> str:
        """Take a question and return the ticket by which its answer is asked for."""
        return self._ask(asked, asker=asker, values=values, want=want).ticket

    def told(self, *, asker: str, ticket: str) -> Request[Reckoned]:
        """Return how a ticket stands; one that is not the asker's newest was superseded."""
        request = self._intervals.newest(asker)
        if request is not None and request.ticket == ticket:
            return request
        return Request(ticket=ticket, values={}, compute=_never, state=State.SUPERSEDED)

    def answer_to(self, asked: Asked, *, asker: str, values: Mapping[str, str]) -> Reckoned:
        """Return the answer the page shows, or work it out where this process no longer has it.

        Raises
        ------
        Refusal
            If the question cannot be answered.
        TimeoutError
            If it takes longer than anybody waits.
        """
        request = self._intervals.newest(asker)
        if request is None or request.result is None or not _answers(request.result, asked):
            compute = partial(self._work_out, asked, asker, "")
            # an asker of its own: what the page asks meanwhile must not throw a save away
            own = f"{asker}:save"
            request = self._intervals.ask(asker=own, ticket=secrets.token_hex(8), values=values, compute=compute)
            if not request.ended.wait(WAIT_S):
                raise TimeoutError("the intervals took too long")
        if request.refusal is not None:
            raise request.refusal
        if request.result is None:
            raise TimeoutError("the same page saved twice at once")
        return request.result

    def _ask(self, asked: Asked, *, asker: str, values: Mapping[str, str], want: str) -> Request[Reckoned]:
        compute = partial(self._work_out, asked, asker, want)
        return self._intervals.ask(asker=asker, ticket=secrets.token_hex(8), values=values, compute=compute)

    def _work_out(self, asked: Asked, asker: str, want: str) -> Reckoned:
        """Answer with every draw; runs in the one thread that does, which alone touches the choices."""
        if want != CHOICE and not asked.look and asked.settled is not None:
            return interval_answer(asked, asked.settled, self._choices.get(asker))
        found = self._choices[asker] = chosen_answer(asked)
        self._choices.move_to_end(asker)
        while len(self._choices) > ASKERS_MAX:
            self._choices.popitem(last=False)
        return found


def _answers(reckoned: Reckoned, asked: Asked) -> bool:
    """Return whether an answer is to this question; a choice answers for the spins it settled."""
    plan = reckoned.answer["chosen"]
    return (
        reckoned.asked.document == asked.document
        and Settled.from_document(plan) == asked.settled
        and bool(plan.get("look")) == bool(asked.look)
        and asked.margin_mm in {None, plan["stop"]["above_cells_mm"]}
    )


def _never() -> Reckoned:
    raise AssertionError


PLANNER = Planner()
