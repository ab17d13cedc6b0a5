"""A paper read into entries: the steps in their order, each as far as its times were written."""

import re
from collections.abc import Iterator, Mapping
from datetime import date, datetime, time, timedelta
from typing import Any

from django.utils import timezone

from plasmawright.bench.entries import LOOKS, Kind, Measure, Written
from plasmawright.bench.facts import RunFacts
from plasmawright.bench.steps import SPINS, TITLES, Step
from plasmawright.bench.telling import told
from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import Clinic, Person
from plasmawright.records.selectors.people import member
from plasmawright.records.services.entered_later import Line
from plasmawright.records.services.signatures import ReadBack
from plasmawright.web.bench_posted import number_in, whole_all, whole_in
from plasmawright.web.enter_later_fields import AT, DAY, FROM, TO, asked_of, name_of, steps_left

HALF_A_DAY = timedelta(hours=12)
CLOCK = re.compile(r"([01]?\d|2[0-3])[:.]?([0-5]\d)")


class Paper:
    """What was typed of one paper."""

    def __init__(self, typed: Mapping[str, str]) -> None:
        self._typed = typed
        self._day = self._read_day()
        self._last: datetime | None = None

    def text(self, step: Step, key: str) -> str:
        """Return what was typed in one entry."""
        return self._typed.get(name_of(step, key), "").strip()

    def is_blank(self, step: Step) -> bool:
        """Return whether nothing was typed for a step."""
        return not any(self.text(step, asked.key) for asked in asked_of(step))

    def at(self, step: Step, key: str) -> datetime:
        """Return a time that was typed; times run on, past midnight into the next day.

        Raises
        ------
        Refusal
            If it is missing or no time of a clock.
        """
        text, name = self.text(step, key), name_of(step, key)
        if not text:
            remedy = "Write it; where the paper has none, take the next time that stands there."
            raise Refusal(name, "missing", "a later step has a time, so this one needs its own", remedy)
        found = CLOCK.fullmatch(text)
        if found is None:
            raise Refusal(name, text, "it must be a time of a clock", "Write hours and minutes, such as 09:42.")
        at = datetime.combine(self._day, time(int(found[1]), int(found[2])), timezone.get_current_timezone())
        if self._last is not None:
            days = (self._last.date() - self._day).days
            at += timedelta(days=days)
            if self._last - at > HALF_A_DAY:
                at += timedelta(days=1)
        self._last = at
        return at

    def number(self, step: Step, key: str) -> float:
        """Return a number that was typed."""
        return number_in(name_of(step, key), self.text(step, key))

    def whole(self, step: Step, key: str) -> int:
        """Return a whole number that was typed."""
        return whole_in(name_of(step, key), self.text(step, key))

    def tubes(self, step: Step, facts: RunFacts) -> list[int]:
        """Return the tubes that were named, each of this run."""
        name, text = name_of(step, "tubes"), self.text(step, "tubes")
        if not re.fullmatch(r"[\d\s,]*", text):
            raise Refusal(name, text, "it must hold numbers of tubes", "Write them such as 2, 3.")
        found = whole_all(text.replace(",", " ").split())
        usable = [tube.number for tube in facts.usable]
        if wrong := [number for number in found if number not in usable]:
            raise Refusal(name, wrong[0], f"tubes in use are {', '.join(map(str, usable))}", "Write numbers of tubes.")
        return found

    def _read_day(self) -> date:
        text = self._typed.get(DAY, "").strip()
        try:
            return date.fromisoformat(text)
        except ValueError as fault:
            raise Refusal(DAY, text, "it must be a day", "Write it such as 2026-03-04.") from fault


def lines_in(typed: Mapping[str, str], facts: RunFacts) -> list[Line]:
    """Return what a paper says, from where the run stands to the last step that has a time.

    Raises
    ------
    Refusal, Refusals
        If an entry cannot be read, or a time is missing before a later step.
    """
    paper = Paper(typed)
    steps = steps_left(facts)
    filled = [number for number, step in enumerate(steps) if not paper.is_blank(step)]
    lines: list[Line] = []
    for step in steps[: filled[-1] + 1] if filled else ():
        if facts.step is not step:  # nothing may follow from here: the service says why
            break
        for line in _of_step(paper, step, facts):
            lines.append(line)
            facts = _after(facts, line)
    return lines


def _after(facts: RunFacts, line: Line) -> RunFacts:
    entry = Written(
        position=facts.position + 1, kind=line.kind, step=facts.step, body=line.body, at=line.at, by="", later=True
    )
    return told(facts, entry)


def _of_step(paper: Paper, step: Step, facts: RunFacts) -> Iterator[Line]:
    """Yield a step's lines: what was measured, then what ends it, then what else is written."""
    if facts.open_mishap is not None:
        limit = "a mishap waits for its choice"
        raise Refusal(name_of(step, AT), TITLES[step], limit, "Choose how to go on, on the Bench, then come back.")
    if step is Step.DRAW:
        yield from _drawn(paper, facts)
    elif step in SPINS:
        yield from _spun(paper, step, facts)
    else:
        yield from _ended(paper, step, facts)


def _words(paper: Paper, step: Step, at: datetime) -> Iterator[Line]:
    if text := paper.text(step, "words"):
        yield Line(kind=Kind.NOTE, at=at, name=name_of(step, "words"), body={"words": text})


def _drawn(paper: Paper, facts: RunFacts) -> Iterator[Line]:
    step = Step.DRAW
    waiting = [tube.number for tube in facts.tubes if tube.filled_at is None and not tube.failed and not tube.lost]
    count = paper.whole(step, "tubes") if paper.text(step, "tubes") else len(waiting)
    if not 0 < count <= len(waiting):
        limit = f"{len(waiting)} tubes were planned"
        raise Refusal(name_of(step, "tubes"), count, limit, "Count the tubes that were filled.")
    first = [] if any(tube.filled_at for tube in facts.tubes) else waiting[:1]
    if first:
        at = paper.at(step, FROM)
        if facts.opening.policy.count_tube_ml > 0 and not facts.counted:
            yield _line(Kind.TUBE, at, step, FROM, tube=1, what="counted")
        yield _line(Kind.TUBE, at, step, FROM, tube=first[0], what="filled")
    at = paper.at(step, TO)
    yield from _words(paper, step, at)
    for number in waiting[len(first) : count]:
        yield _line(Kind.TUBE, at, step, TO, tube=number, what="filled")
    if count < len(waiting):
        yield _line(Kind.DONE, at, step, TO)


def _spun(paper: Paper, step: Step, facts: RunFacts) -> Iterator[Line]:
    if facts.began_at is None:
        yield _line(Kind.BEGAN, paper.at(step, FROM), step, FROM)
    at = paper.at(step, TO)
    yield from _words(paper, step, at)
    yield _line(Kind.DONE, at, step, TO)


def _ended(paper: Paper, step: Step, facts: RunFacts) -> Iterator[Line]:
    at = paper.at(step, AT)
    yield from _measured(paper, step, at)
    tubes = paper.tubes(step, facts) if paper.text(step, "tubes") else []
    if step is Step.WITHDRAW:
        for number in tubes:
            yield _line(Kind.RED_SEEN, at, step, "tubes", tube=number)
    elif tubes:
        yield _line(Kind.MISHAP, at, step, "tubes", mishap="clot", tubes=tubes)
        yield _line(Kind.CHOSEN, at, step, "tubes", mishap="clot", choice="go_on_without")
    yield from _words(paper, step, at)
    if step is Step.CHECK and not paper.text(step, "read"):
        limit = "label, volume and clock must have been read back"
        raise Refusal(name_of(step, "read"), "not ticked", limit, "Read them back now, on the Bench, if nobody did.")
    read_back = {"label_read": True, "clock_read": True} if step is Step.CHECK else {}
    yield _line(Kind.DONE, at, step, AT, **read_back)


def _measured(paper: Paper, step: Step, at: datetime) -> Iterator[Line]:
    for asked in asked_of(step):
        if asked.kind not in {"number", "look"} or not (text := paper.text(step, asked.key)):
            continue
        what = Measure(asked.key)
        value: Any = text if what in LOOKS else paper.number(step, asked.key)  # Any: words or a number
        yield _line(Kind.MEASURED, at, step, asked.key, what=what.value, value=value)


def _line(kind: Kind, at: datetime, step: Step, key: str, **body: Any) -> Line:  # Any: fields differ in type
    return Line(kind=kind, at=at, name=name_of(step, key), body=body)


def released_in(typed: Mapping[str, str]) -> Line:
    """Return the time at which a run was released on paper."""
    return _line(Kind.SIGNED, Paper(typed).at(Step.RELEASE, AT), Step.RELEASE, AT)


def read_back_in(typed: Mapping[str, str]) -> ReadBack:
    """Return what was read from the syringe when it was released; an empty volume was not read."""
    volume = typed.get("prp_ml", "").strip()
    return ReadBack(
        label="label_read" in typed,
        clock="clock_read" in typed,
        prp_ml=number_in("prp_ml", volume) if volume else None,
    )


def signer_in(clinic: Clinic, typed: Mapping[str, str]) -> Person:
    """Return who signed.

    Raises
    ------
    Refusal
        If it is nobody of the clinic.
    """
    given = typed.get("signer", "")
    person = member(clinic, int(given)) if given.isascii() and given.isdigit() and len(given) <= 18 else None
    if person is None:
        raise Refusal("signer", given or "nobody", "it must be somebody of this clinic", "Choose who signed.")
    return person


def placed(refused: Refusal | Refusals) -> tuple[Refusal, ...]:
    """Return what was refused, one by one."""
    return refused.found if isinstance(refused, Refusals) else (refused,)
