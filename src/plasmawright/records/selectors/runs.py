"""Runs as they stand, told from their entries."""

import json
from collections.abc import Sequence
from datetime import date

from django.db.models import QuerySet

from plasmawright.bench.entries import Kind, Written
from plasmawright.bench.facts import Opening, RunFacts
from plasmawright.bench.moments import Moment
from plasmawright.bench.policy import Policy
from plasmawright.bench.steps import ORDER, Step
from plasmawright.bench.telling import facts_of
from plasmawright.records.models import Clinic, Foresight, Run, RunEntry, Signature, Vessel

OPEN_AT_THE_HOOD = [step.value for step in ORDER[ORDER.index(Step.WITHDRAW) : ORDER.index(Step.FILL) + 1]]


def run(clinic: Clinic, run_id: int) -> Run | None:
    """Return one run of the clinic, or nothing."""
    return _runs(clinic).filter(pk=run_id).first()


def run_of_code(clinic: Clinic, code: str) -> Run | None:
    """Return the run of a printed code, or nothing."""
    return _runs(clinic).filter(code=code).first()


def runs_on(clinic: Clinic, day: date, *, practice: bool = False) -> list[Run]:
    """Return the runs opened on a day in UTC, and whatever was opened before and has not ended, oldest first."""
    opened = _runs(clinic).filter(practice=practice)
    today = opened.filter(opened_at__date=day)
    standing = opened.filter(ended_at=None, opened_at__date__lte=day)
    return list((today | standing).distinct().order_by("opened_at", "pk"))


def runs_of_patient(clinic: Clinic, patient_id: int) -> list[Run]:
    """Return a patient's runs, newest first."""
    return list(_runs(clinic).filter(patient_id=patient_id).order_by("-opened_at", "-pk"))


def ended_runs(clinic: Clinic) -> list[Run]:
    """Return the runs that have ended, practice left out, newest first."""
    return list(_runs(clinic).filter(practice=False, ended_at__isnull=False).order_by("-ended_at", "-pk"))


def open_at_the_hood(clinic: Clinic, *, apart_from: Run) -> list[Run]:
    """Return the other runs whose tubes are open now."""
    others = _runs(clinic).filter(step__in=OPEN_AT_THE_HOOD, practice=apart_from.practice)
    return list(others.exclude(pk=apart_from.pk).order_by("pk"))


def _runs(clinic: Clinic) -> QuerySet[Run]:
    return Run.objects.of(clinic).select_related("clinic", "patient", "plan__visit", "preparer", "intake")


def entries(run: Run) -> list[RunEntry]:
    """Return every entry of a run in its order."""
    found = RunEntry.objects.of(run.clinic).filter(run=run).select_related("written_by", "carried_by", "tablet")
    return list(found.order_by("position"))


def vessels(run: Run) -> list[Vessel]:
    """Return the vessels of a run, by kind and number."""
    return list(Vessel.objects.of(run.clinic).filter(run=run).order_by("kind", "number"))


def vessel_of_code(clinic: Clinic, code: str) -> Vessel | None:
    """Return the vessel that carries a code, whichever run it belongs to."""
    return Vessel.objects.of(clinic).filter(code=code).select_related("run").first()


def signature(run: Run) -> Signature | None:
    """Return the signature of a run that was released or discarded, or nothing."""
    return Signature.objects.of(run.clinic).filter(run=run).select_related("signer", "preparer").first()


def foresight(run: Run) -> Foresight | None:
    """Return what the model last said of a run, or nothing."""
    return Foresight.objects.of(run.clinic).filter(run=run).order_by("-upto_position").first()


def opening(run: Run, held: Sequence[Vessel] | None = None) -> Opening:
    """Return what was settled before the first step."""
    kept = vessels(run) if held is None else held
    policy = dict(run.policy_document)
    policy["label_identifiers"] = tuple(policy["label_identifiers"])
    return Opening(
        plan=run.plan.answer["chosen"],
        blood_ml=float(run.plan.visit.document["bench"]["blood_ml"]),
        policy=Policy(**policy),
        solo=run.solo,
        practice=run.practice,
        preparer=run.preparer.username,
        opened_at=run.opened_at,
        codes={vessel.code: (vessel.kind, vessel.number) for vessel in kept},
    )


def written(kept: RunEntry) -> Written:
    """Return an entry as the bench reads it: what was entered later counts from when it truly happened."""
    return Written(
        position=kept.position,
        kind=Kind(kept.kind),
        step=Step(kept.step),
        body=kept.body,
        at=kept.at if kept.true_at is None else kept.true_at,
        by=kept.written_by.username,
        later=kept.later,
        review=kept.review,
    )


def as_told(run: Run) -> list[Written]:
    """Return every entry of a run as the bench reads it, in its order.

    Read as columns, which costs a third of the rows with their people: every tap and every look at a page tells the
    whole run.
    """
    columns = ("position", "kind", "step", "body_text", "at", "true_at", "written_by__username", "later", "review")
    kept = RunEntry.objects.of(run.clinic).filter(run=run).order_by("position").values_list(*columns)
    return [
        Written(
            position=position,
            kind=Kind(kind),
            step=Step(step),
            body=json.loads(body_text),
            at=at if true_at is None else true_at,
            by=by,
            later=later,
            review=review,
        )
        for position, kind, step, body_text, at, true_at, by, later, review in kept
    ]


def stand(run: Run) -> RunFacts:
    """Return where a run stands."""
    return facts_of(opening(run), as_told(run))


def last_moment(run: Run) -> Moment:
    """Return the run's steady clock at its last entry, or at its opening."""
    kept = RunEntry.objects.of(run.clinic).filter(run=run).order_by("-position")
    opened = (run.opened_at, run.opened_boot_id, run.opened_boot_s)
    at, boot_id, boot_s = kept.values_list("at", "boot_id", "boot_s").first() or opened
    return Moment(at=at, boot_id=boot_id, boot_s=boot_s)
