"""A day at a glance, in as few queries as it takes: who comes, which runs are on, where they stand."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from django.db.models import Q

from plasmawright.bench.entries import Written
from plasmawright.bench.facts import RunFacts
from plasmawright.bench.moments import Moment
from plasmawright.bench.telling import facts_of
from plasmawright.records.models import ChainHead, Clinic, Decision, Intake, Run, RunEntry, Signature
from plasmawright.records.selectors.runs import opening, written

PRACTICE_KEPT = timedelta(days=1)
"""For how long a practice run that nobody ended stays in sight."""


@dataclass(frozen=True, kw_only=True)
class Standing:
    """Where one run stands, and its steady clock at its last entry."""

    facts: RunFacts
    last: Moment


def version_of(clinic: Clinic) -> str:
    """Return what changes whenever anything of a clinic is written: every write leaves a line in its ledger."""
    return ChainHead.objects.of(clinic).values_list("digest", flat=True).first() or ""


def runs_of_day(clinic: Clinic, day: date) -> list[Run]:
    """Return every run that has not ended, and those opened or ended on a day in UTC; practice runs too, oldest first.

    A run that nobody ended stays in sight however old it is, a practice run for a day.
    """
    begins = datetime.combine(day, time(), UTC)
    of_the_day = Q(opened_at__gte=begins) | Q(ended_at__gte=begins)
    standing = Q(ended_at=None, practice=False) | Q(ended_at=None, opened_at__gte=begins - PRACTICE_KEPT)
    found = Run.objects.of(clinic).filter(of_the_day | standing)
    return list(found.select_related("patient", "preparer").order_by("opened_at", "pk"))


def intakes_waiting(clinic: Clinic, day: date) -> list[Intake]:
    """Return the newest intake of each patient of a day that no run was opened for, unless it says not today."""
    begins = datetime.combine(day, time(), UTC)
    ends = begins + timedelta(days=1)
    of_the_day = Q(signed_at__gte=begins, signed_at__lt=ends) | Q(
        decision=Decision.OPEN, opened_at__gte=begins, opened_at__lt=ends
    )
    found = Intake.objects.of(clinic).filter(of_the_day)
    newest: dict[int, Intake] = {}
    for intake in found.select_related("patient").order_by("opened_at", "pk"):
        newest.pop(intake.patient_id, None)
        newest[intake.patient_id] = intake
    begun = set(Run.objects.of(clinic).filter(intake__in=newest.values()).values_list("intake_id", flat=True))
    return [one for one in newest.values() if one.pk not in begun and one.decision != Decision.NOT_TODAY]


def standings(clinic: Clinic, run_ids: Collection[int]) -> dict[int, Standing]:
    """Return where these runs stand, all of them in two queries."""
    if not run_ids:
        return {}
    runs = Run.objects.of(clinic).filter(pk__in=run_ids).select_related("plan__visit", "preparer")
    rows: dict[int, list[RunEntry]] = {}
    told = RunEntry.objects.of(clinic).filter(run__in=run_ids).select_related("written_by")
    for row in told.order_by("run", "position"):
        rows.setdefault(row.run_id, []).append(row)
    return {run.pk: _standing(run, rows.get(run.pk, [])) for run in runs}


def _standing(run: Run, rows: list[RunEntry]) -> Standing:
    entries: list[Written] = [written(row) for row in rows]
    last = Moment(at=run.opened_at, boot_id=run.opened_boot_id, boot_s=run.opened_boot_s)
    if rows:
        last = Moment(at=rows[-1].at, boot_id=rows[-1].boot_id, boot_s=rows[-1].boot_s)
    # the codes of its vessels are left out: nobody scans at a list
    return Standing(facts=facts_of(opening(run, ()), entries), last=last)


def witnessed(clinic: Clinic, run_ids: Collection[int]) -> Mapping[int, bool]:
    """Return for each of these runs that was signed whether a second person saw it."""
    if not run_ids:
        return {}
    signed = Signature.objects.of(clinic).filter(run__in=run_ids)
    return dict(signed.values_list("run_id", "witnessed"))
