"""Checks of what spins, times and weighs: what was set against what was read, and until when a check stands.

Tolerances and intervals are the clinic's choice; the rows hold what stands until a clinic chooses.
"""

from calendar import monthrange
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from plasmawright.errors import Refusal
from plasmawright.parameters.table import Kind, Sourced, rule
from plasmawright.practice.guards import refuse_outside
from plasmawright.practice.statements import Caution, Status, cited

TOLERANCE_REMEDY = "Choose a tolerance that your own rules allow."


class CheckKind(StrEnum):
    """What is checked, and with what."""

    SPEED = "speed"
    TIMER = "timer"
    HOOD = "hood"
    SCALE = "scale"
    BORE = "bore"


@dataclass(frozen=True, kw_only=True)
class Measure:
    """How one kind of check is judged: unit, what may be read, and the rows that stand until a clinic chooses."""

    unit: str
    low: float
    high: float
    tolerance: str
    is_share: bool
    every: str
    with_what: str


MEASURES = {
    CheckKind.SPEED: Measure(
        unit="rpm", low=50, high=30_000, tolerance="speed_tolerance_frac", is_share=True,
        every="speed_check_every_months", with_what="tachometer",
    ),
    CheckKind.TIMER: Measure(
        unit="s", low=10, high=7200, tolerance="timer_tolerance_frac", is_share=True,
        every="timer_check_every_months", with_what="stopwatch",
    ),
    CheckKind.SCALE: Measure(
        unit="g", low=0.01, high=5000, tolerance="scale_tolerance_g", is_share=False,
        every="scale_check_every_months", with_what="known weight",
    ),
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Judged:
    """A reading held against what was set: off by how much, in the check's unit, and within which tolerance."""

    off: float
    allowed: float
    unit: str
    passed: bool
    words: str
    source: str


def judge_check(kind: CheckKind, *, set_to: float, read: float, tolerance: float) -> Judged:
    """Judge a reading of speed, timer or scale.

    Parameters
    ----------
    set_to, read
        In the check's own unit: rpm, s or g. For a scale the weight's nominal mass, and what the scale shows.
    tolerance
        A share of ``set_to`` for speed and timer, grams for a scale. Exactly at the tolerance passes.

    Raises
    ------
    OutOfRange
        If a number lies outside what such a check can mean.
    """
    measure = MEASURES[kind]
    where = {"low": measure.low, "high": measure.high}
    refuse_outside(f"{kind}.set_to", set_to, **where, remedy=f"Write it in {measure.unit}.")
    refuse_outside(f"{kind}.read", read, low=0, high=2 * measure.high, remedy=f"Write it in {measure.unit}.")
    widest = 0.2 if measure.is_share else set_to
    refuse_outside(f"{kind}.tolerance", tolerance, low=0, high=widest, remedy=TOLERANCE_REMEDY)
    off, allowed = read - set_to, tolerance * (set_to if measure.is_share else 1)
    passed = abs(off) <= allowed * (1 + 1e-9)
    return Judged(
        off=off,
        allowed=allowed,
        unit=measure.unit,
        passed=passed,
        words=_words(kind, set_to=set_to, read=read, allowed=allowed),
        source=cited(rule(measure.tolerance)),
    )


def _words(kind: CheckKind, *, set_to: float, read: float, allowed: float) -> str:
    unit = MEASURES[kind].unit
    said = f"{set_to:g} {unit} set, {read:g} {unit} read: {read - set_to:+.4g} {unit}, {allowed:.4g} {unit} allowed"
    if kind is CheckKind.SPEED:
        return f"{said}; the force is {(read / set_to) ** 2 - 1:+.1%} of what was meant"
    return said


def tolerance_row(kind: CheckKind) -> Sourced:
    """Return the row that stands until the clinic chooses a tolerance."""
    return rule(MEASURES[kind].tolerance)


def due_after(kind: CheckKind, done_on: date) -> date:
    """Return the last day on which a check of speed, timer or scale still stands."""
    months = round(rule(MEASURES[kind].every).value)
    year, month = divmod(done_on.year * 12 + done_on.month - 1 + months, 12)
    return date(year, month + 1, min(done_on.day, monthrange(year, month + 1)[1]))


@dataclass(frozen=True, kw_only=True)
class LastCheck:
    """The newest check of one thing; everything but ``kind`` and ``about`` is empty where there was none."""

    kind: CheckKind
    about: str
    done_on: date | None = None
    due_on: date | None = None
    passed: bool = True
    reading: str = ""

    @property
    def called(self) -> str:
        """Return what a person calls this check."""
        return f"{CALLED[self.kind]} of {self.about}"


CALLED = {
    CheckKind.SPEED: "Speed check",
    CheckKind.TIMER: "Timer check",
    CheckKind.HOOD: "Certificate",
    CheckKind.SCALE: "Scale check",
    CheckKind.BORE: "Bore",
}


def cautions_of(checks: Sequence[LastCheck], on: date) -> tuple[Caution, ...]:
    """Return what a run's opening should say of checks that are past due or were never written down.

    They do not stop a run: an interval is a habit, and what was read last may still hold.
    """
    return tuple(caution for check in checks if (caution := _caution(check, on)) is not None)


def _caution(check: LastCheck, on: date) -> Caution | None:
    if check.done_on is None:
        text = f"{check.called}: none is written down. Do it, and write it down on the Shelf."
    elif check.passed and check.due_on is not None and on > check.due_on:
        text = f"{check.called}: was due by {check.due_on}, {(on - check.due_on).days} days ago. Do it anew."
    else:
        return None
    if check.kind not in MEASURES:
        return Caution(text=text, source="the certificate's own date", status=Status.CLINIC_CHOICE)
    row = rule(MEASURES[check.kind].every)
    status = Status.CLINIC_CHOICE if row.kind is Kind.ASSUMED else Status.COMMON_PRACTICE
    return Caution(text=text, source=cited(row), status=status)


def refusals_of(checks: Sequence[LastCheck]) -> tuple[Refusal, ...]:
    """Return what stops a run: a check that failed when it was last done."""
    return tuple(
        Refusal(
            f"checks.{check.kind}",
            f"failed on {check.done_on}: {check.reading}",
            "the last check of what a run uses must have passed",
            f"Put {check.about} right, check it again, and write that down; or use another one.",
        )
        for check in checks
        if not check.passed
    )
