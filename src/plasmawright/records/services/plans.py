"""Visits, plans and parameter sets kept."""

import hashlib
import json
from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from plasmawright.errors import Refusal
from plasmawright.parameters.sets import from_document
from plasmawright.planning.reading import visit_from
from plasmawright.records.chain import canonical_text
from plasmawright.records.models import Clinic, Origin, ParameterSet, Person, Plan, Visit
from plasmawright.records.permissions import Action, refuse_unless_may
from plasmawright.records.services.ledger import write_entry


def save_visit(*, clinic: Clinic, document: Mapping[str, object], text: str, by: Person, at: datetime) -> Visit:
    """Keep a visit as it was read, beside the text it was read from.

    Raises
    ------
    Refusals
        If the document is no visit.
    Refusal
        If ``by`` may not.
    """
    refuse_unless_may(person=by, clinic=clinic, action=Action.PLAN)
    read = visit_from(document)
    visit = Visit(
        clinic=clinic,
        reference=read.patient.reference,
        visit_text=text,
        document_text=_text_of(document),
        saved_at=at,
        saved_by=by,
    )
    with transaction.atomic():
        visit.save(force_insert=True)
        write_entry(clinic=clinic, about=visit, became="saved", by=by.username, at=at)
    return visit


def save_plan(
    *,
    visit: Visit,
    answer: Mapping[str, object],
    settled_margin_mm: float | None,
    parameter_set: ParameterSet | None,
    draws: int,
    seed: int,
    model_version: str,
    by: Person,
    at: datetime,
) -> Plan:
    """Keep an answer with everything it was computed from; it is never changed afterwards.

    Parameters
    ----------
    answer
        What ``plan --json`` prints. Where a person settled on another stop, its ``chosen`` is the revised plan.
    settled_margin_mm
        That stop; ``None`` where the plan's own stands.
    parameter_set
        ``None`` for the published numbers.

    Raises
    ------
    Refusal
        If ``by`` may not, the answer holds no chosen plan, or the parameter set is another clinic's.
    """
    refuse_unless_may(person=by, clinic=visit.clinic, action=Action.PLAN)
    if not isinstance(answer.get("chosen"), Mapping):
        raise Refusal("plan", "incomplete", "it must hold the plan that was chosen", "Plan anew.")
    if parameter_set is not None and parameter_set.clinic_id != visit.clinic_id:
        raise Refusal("parameters", parameter_set, "it must be a set of this clinic", "Choose another set.")
    plan = Plan(
        clinic=visit.clinic,
        visit=visit,
        visit_text=visit.visit_text,
        result_text=_text_of(answer),
        model_version=model_version,
        parameter_set=parameter_set,
        draws=draws,
        seed=seed,
        margin_mm=settled_margin_mm,
        saved_at=at,
        saved_by=by,
    )
    plan.inputs_digest = inputs_digest(plan)
    with transaction.atomic():
        plan.save(force_insert=True)
        write_entry(clinic=visit.clinic, about=plan, became="saved", by=by.username, at=at)
    return plan


def inputs_digest(plan: Plan) -> str:
    """Return the digest of everything a plan was computed from."""
    inputs = {
        "visit": plan.visit.document_text,
        "margin_mm": None if plan.margin_mm is None else float(plan.margin_mm),
        "parameters": Origin.LITERATURE.value if plan.parameter_set is None else plan.parameter_set.digest,
        "draws": plan.draws,
        "seed": plan.seed,
        "model_version": plan.model_version,
    }
    return hashlib.sha256(canonical_text(inputs).encode()).hexdigest()


def keep_parameter_set(*, clinic: Clinic, document: Mapping[str, object], by: Person, at: datetime) -> ParameterSet:
    """Keep a SET.json; one that is kept already is returned as it stands.

    Raises
    ------
    Refusal
        If ``by`` may not, the document is no parameter set, or its digest is not that of its content.
    """
    refuse_unless_may(person=by, clinic=clinic, action=Action.PLAN)
    from_document(document, count=1, seed=1)
    body = {key: value for key, value in document.items() if key != "digest"}
    digest = hashlib.sha256(canonical_text(body).encode()).hexdigest()
    if document.get("digest") != digest:
        limit = "it must be the digest of what the set holds"
        raise Refusal("parameters.digest", document.get("digest", "missing"), limit, "Use the set as it was learned.")
    with transaction.atomic():
        kept, is_new = ParameterSet.objects.of(clinic).get_or_create(
            digest=digest,
            defaults={
                "clinic": clinic,
                "origin": str(document["origin"]),
                "document_text": _text_of(document),
                "kept_at": at,
                "kept_by": by,
            },
        )
        if is_new:
            write_entry(clinic=clinic, about=kept, became="kept", by=by.username, at=at)
    return kept


def _text_of(document: Mapping[str, object]) -> str:
    """Return a document as the text that is stored, its keys in the order given and its numbers to the last digit."""
    return json.dumps(dict(document), allow_nan=False, ensure_ascii=False)
