"""A run entered from paper after a downtime: each line with the time written on it, all of them or none."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.utils import timezone

from plasmawright.bench.entries import Kind
from plasmawright.bench.moments import Moment, steady
from plasmawright.errors import Refusal
from plasmawright.records.models import Person, Run, RunEntry, Tablet
from plasmawright.records.permissions import Action, refuse_unless_may
from plasmawright.records.selectors.runs import entries, last_moment, stand, written
from plasmawright.records.services.run_entries import Told, take_entry
from plasmawright.records.services.signatures import ReadBack, release_run

BEFORE_OPENING = timedelta(hours=24)
"""How long before it was opened here a run may have begun on paper."""


@dataclass(frozen=True, kw_only=True)
class Line:
    """One thing written on the paper; ``name`` is the entry of the form it stood in. Any: fields differ in type."""

    kind: Kind
    at: datetime
    name: str
    body: Mapping[str, Any] = field(default_factory=dict)


def enter_later(
    *, run: Run, position: int, lines: Sequence[Line], key: str, tablet: Tablet | None, by: Person, moment: Moment
) -> int:
    """Keep every line of a paper in its order, marked "entered later"; return how many were kept.

    Parameters
    ----------
    position
        Where the run stood when the form was shown.
    key
        Made with the form: a paper that arrives twice is kept once.

    Raises
    ------
    Refusal, Refusals
        If the role does not allow it, the run has moved meanwhile, a time lies in the future or before the line above,
        or a step is blocked. Nothing is kept then.
    """
    refuse_unless_may(person=by, clinic=run.clinic, action=Action.BACK_ENTER)
    if run.practice:
        raise Refusal("run", run.code, "practice is never entered from paper", "Go on with it on the Bench.")
    if not key.strip():
        raise Refusal("key", "missing", "it tells this paper from others", "Load the page again.")
    with transaction.atomic():
        held = Run.objects.of(run.clinic).select_for_update().get(pk=run.pk)
        if RunEntry.objects.of(run.clinic).filter(run=held, key=f"{key}-1").exists():
            return 0
        if not lines:
            raise Refusal("paper", "empty", "it must hold one time at least", "Write the times that stand on it.")
        if held.positions != position:
            remedy = "Look at the steps that are left, then keep them."
            raise Refusal("run", run.code, "it has moved since this form was opened", remedy)
        _refuse_times(held, lines, moment)
        for number, line in enumerate(lines, start=1):
            told = Told(
                kind=line.kind,
                step=stand(held).step,
                body=line.body,
                key=f"{key}-{number}",
                by=by,
                carried_by=by,
                tablet=tablet,
                true_at=line.at,
            )
            take_entry(run=held, arrived=told, moment=moment)
    return len(lines)


def release_later(
    *,
    run: Run,
    released: Line,
    signer: Person,
    pin: str,
    tablet: Tablet | None,
    read: ReadBack,
    by: Person,
    moment: Moment,
) -> None:
    """Keep a release that was signed on paper, at the time written there; it is never witnessed.

    Raises
    ------
    Refusal, Refusals
        If the time lies in the future or before the line above it, or the release is refused as any other is.
    """
    refuse_unless_may(person=by, clinic=run.clinic, action=Action.BACK_ENTER)
    _refuse_times(run, [released], moment)
    release_run(
        run=run, signer=signer, pin=pin, tablet=tablet, read=read, by=by, moment=moment, true_at=released.at
    )  # fmt: skip


def _refuse_times(run: Run, lines: Sequence[Line], moment: Moment) -> None:
    now = steady(last_moment(run), moment, pace=run.pace).moment.at
    before = max((written(one).at for one in entries(run)), default=run.opened_at - BEFORE_OPENING)
    for line in lines:
        if line.at > now:
            raise Refusal(
                line.name, _minute_of(line.at), f"it is {_minute_of(now)} now", "Write the time on the paper."
            )
        if line.at < _minute(before):
            limit = f"what came before it was told at {timezone.localtime(before):%Y-%m-%d %H:%M %Z}"
            raise Refusal(line.name, _minute_of(line.at), limit, "Write the times in their order, and look at the day.")
        before = max(before, line.at)


def _minute(at: datetime) -> datetime:
    """Return the minute of a time: on paper there are no seconds."""
    return at.replace(second=0, microsecond=0)


def _minute_of(at: datetime) -> str:
    return f"{timezone.localtime(at):%H:%M %Z}"
