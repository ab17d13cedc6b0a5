"""Checks written down: what was set against what was read, certificates, and bores by water."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from django.db import transaction

from plasmawright.errors import Refusal
from plasmawright.practice.bore import Bore, Levels, bore_of
from plasmawright.practice.checks import CheckKind, due_after, judge_check, tolerance_row
from plasmawright.records.models import BottomShape, Centrifuge, Check, Clinic, Person, TubeKind
from plasmawright.records.permissions import Action, refuse_unless_may
from plasmawright.records.services.keeping import added, words_of
from plasmawright.records.services.shelf import set_bore

# A day is counted in UTC here; east of it the clinic's own day begins before.
AHEAD = timedelta(days=1)


def check_centrifuge(
    *,
    centrifuge: Centrifuge,
    kind: CheckKind,
    set_to: float,
    read: float,
    done_on: date,
    by: Person,
    at: datetime,
    tolerance_frac: float | None = None,
) -> Check:
    """Write down a speed check (rpm by tachometer) or a timer check (s by stopwatch), passed or not.

    ``tolerance_frac`` is the clinic's choice; left out, the row of practice stands.

    Raises
    ------
    Refusal
        If the kind is another, a number cannot be, the day lies ahead, or the role does not allow it.
    """
    if kind not in {CheckKind.SPEED, CheckKind.TIMER}:
        raise Refusal("check.kind", kind, "a centrifuge has a speed and a timer", "Choose one of them.")
    row = Check(clinic=centrifuge.clinic, kind=kind, centrifuge=centrifuge)
    return _judged(row, set_to=set_to, read=read, tolerance=tolerance_frac, done_on=done_on, by=by, at=at)


def check_scale(
    *,
    clinic: Clinic,
    name: str,
    nominal_g: float,
    read_g: float,
    done_on: date,
    by: Person,
    at: datetime,
    tolerance_g: float | None = None,
) -> Check:
    """Write down what a scale showed for a known weight, passed or not.

    Raises
    ------
    Refusal
        If the scale has no name, a number cannot be, the day lies ahead, or the role does not allow it.
    """
    named = words_of(name, field="scale.name", remedy="Say which scale, such as: bench scale.")
    row = Check(clinic=clinic, kind=CheckKind.SCALE, name=named)
    return _judged(row, set_to=nominal_g, read=read_g, tolerance=tolerance_g, done_on=done_on, by=by, at=at)


def keep_certificate(
    *, clinic: Clinic, name: str, number: str, done_on: date, expires_on: date, passed: bool, by: Person, at: datetime
) -> Check:
    """Write down a hood's certificate with the last day on which it stands.

    Raises
    ------
    Refusal
        If hood or certificate has no name, the dates are in the wrong order, or the role does not allow it.
    """
    refuse_unless_may(person=by, clinic=clinic, action=Action.KEEP_SHELF)
    named = words_of(name, field="hood.name", remedy="Say which hood, such as: hood in room 2.")
    certified = words_of(number, field="hood.number", remedy="Read the number from the certificate.")
    _refuse_ahead("hood.done_on", done_on, at)
    if expires_on < done_on:
        limit = f"it must not lie before the day of the test, {done_on}"
        raise Refusal("hood.expires_on", expires_on, limit, "Read both dates from the certificate.")
    row = Check(
        clinic=clinic, kind=CheckKind.HOOD, name=named, done_on=done_on, due_on=expires_on, passed=passed,
        reading_text=f"certificate {certified}", written_at=at, by=by,
    )  # fmt: skip
    return added(row, clinic, by=by, at=at, became="checked")


def measured_bore(tube_kind: TubeKind, tubes: Sequence[Levels], *, temperature_c: float) -> Bore:
    """Return the bore that levels of water in tubes of a kind amount to; nothing is kept.

    Raises
    ------
    Refusal, Refusals
        If a reading cannot be.
    """
    heights_mm = {BottomShape.FLAT: 0.0, BottomShape.ROUND: None, BottomShape.CONICAL: tube_kind.cone_height_mm}
    shaped_height_mm = heights_mm[BottomShape(tube_kind.bottom)]
    return bore_of(tubes, temperature_c=temperature_c, shaped_height_mm=shaped_height_mm)


def keep_bore(*, tube_kind: TubeKind, tubes: Sequence[Levels], temperature_c: float, by: Person, at: datetime) -> Check:
    """Write a measured bore into its kind of tube, beside the readings it comes from.

    Raises
    ------
    Refusal, Refusals
        If a reading cannot be, the bore does not go with the tube, or the role does not allow it.
    """
    bore = measured_bore(tube_kind, tubes, temperature_c=temperature_c)
    diameter_mm = round(bore.inner_diameter_mm, 2)
    words = "; ".join(levels.words for levels in tubes)
    row = Check(
        clinic=tube_kind.clinic, kind=CheckKind.BORE, tube_kind=tube_kind, done_on=at.date(), read=diameter_mm,
        reading_text=f"{diameter_mm:.2f} ± {bore.uncertainty_mm:.2f} mm at {temperature_c:g} °C: {words}", passed=True,
        written_at=at, by=by,
    )  # fmt: skip
    with transaction.atomic():
        set_bore(tube_kind=tube_kind, inner_diameter_mm=diameter_mm, by=by, at=at)
        return added(row, tube_kind.clinic, by=by, at=at, became="checked")


def _judged(
    row: Check, *, set_to: float, read: float, tolerance: float | None, done_on: date, by: Person, at: datetime
) -> Check:
    refuse_unless_may(person=by, clinic=row.clinic, action=Action.KEEP_SHELF)
    kind = CheckKind(row.kind)
    _refuse_ahead(f"{kind}.done_on", done_on, at)
    allowed = tolerance_row(kind).value if tolerance is None else tolerance
    judged = judge_check(kind, set_to=set_to, read=read, tolerance=allowed)
    row.set_to, row.read, row.tolerance = set_to, read, allowed
    row.done_on, row.due_on = done_on, due_after(kind, done_on)
    row.reading_text, row.passed = judged.words, judged.passed
    row.written_at, row.by = at, by
    return added(row, row.clinic, by=by, at=at, became="checked")


def _refuse_ahead(field: str, done_on: date, at: datetime) -> None:
    if done_on > at.date() + AHEAD:
        raise Refusal(field, done_on, "it lies ahead", "Write down a check once it was done.")
