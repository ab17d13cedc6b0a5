"""The Intake pages: the questions once a visit, then a clinician's decision."""

from datetime import UTC, datetime
from http import HTTPStatus

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import Clinic, Intake, Person
from plasmawright.records.permissions import Action, may
from plasmawright.records.selectors.intake import clinicians_of, intake
from plasmawright.records.selectors.patients import alerts_of
from plasmawright.records.services.intake import needs_reason, open_intake, sign_intake
from plasmawright.records.services.pins import check_pin
from plasmawright.web.intake_form import answers_in, shown_form, started
from plasmawright.web.intake_words import answered_in_words
from plasmawright.web.patient_views import patient_or_404
from plasmawright.web.sign_in import allowed, person_of
from plasmawright.web.tablets import tablet_of


@allowed(Action.INTAKE)
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest, clinic: Clinic, patient_id: int) -> HttpResponse:
    """Ask the questions; one button answers no to all that were not ticked."""
    patient, at = patient_or_404(clinic, patient_id), datetime.now(UTC)
    shown = {"clinic": clinic, "place": "patients", "patient": patient, "alerts": alerts_of(patient)}
    if request.method == "GET":
        return render(request, "web/intake.html", {**shown, "form": shown_form(started(patient, on=at.date()))})
    values = request.POST.dict()
    try:
        opened = open_intake(patient=patient, answers=answers_in(values), by=person_of(request), at=at)
    except (Refusal, Refusals) as refused:
        form = shown_form(values, _found(refused))
        return render(request, "web/intake.html", {**shown, "form": form}, status=HTTPStatus.UNPROCESSABLE_ENTITY)
    return redirect("intake_sign", patient_id=patient.pk, intake_id=opened.pk)


@sensitive_post_parameters("pin")
@allowed(Action.READ)
@require_http_methods(["GET", "POST"])
def sign(request: HttpRequest, clinic: Clinic, patient_id: int, intake_id: int) -> HttpResponse:
    """Show what was answered and what it comes to; a clinician decides and signs."""
    kept = _intake_or_404(clinic, patient_id, intake_id)
    if request.method == "GET":
        return _sign_page(request, clinic, kept)
    at = datetime.now(UTC)
    try:
        sign_intake(
            intake=kept,
            decision=request.POST.get("decision", ""),
            reason=request.POST.get("reason", ""),
            consent=request.POST.get("consent") == "yes",
            by=_signer(request, clinic, at),
            at=at,
        )
    except (Refusal, Refusals) as refused:
        return _sign_page(request, clinic, kept, refused=refused)
    return redirect("intake_sign", patient_id=patient_id, intake_id=intake_id)


def _signer(request: HttpRequest, clinic: Clinic, at: datetime) -> Person:
    """Return who signs: the clinician signed in, or the one whose PIN is typed on an enrolled tablet."""
    person = person_of(request)
    if may(person=person, clinic=clinic, action=Action.SIGN_INTAKE):
        return person
    tablet = tablet_of(request, clinic)
    if tablet is None:
        limit, remedy = "a clinician signs an intake", "Sign in as a clinician, or use an enrolled tablet and a PIN."
        raise Refusal("intake.signature", person.display_name, limit, remedy)
    chosen = request.POST.get("clinician", "")
    signer = next((one for one in clinicians_of(clinic) if str(one.pk) == chosen), None)
    if signer is None:
        raise Refusal("intake.clinician", "nobody", "a clinician signs an intake", "Choose who signs.")
    check_pin(person=signer, tablet=tablet, pin=request.POST.get("pin", ""), at=at)
    return signer


def _intake_or_404(clinic: Clinic, patient_id: int, intake_id: int) -> Intake:
    found = intake(clinic, intake_id)
    if found is None or found.patient_id != patient_id:
        raise Http404
    return found


def _found(refused: Refusal | Refusals) -> tuple[Refusal, ...]:
    return refused.found if isinstance(refused, Refusals) else (refused,)


def _sign_page(
    request: HttpRequest, clinic: Clinic, kept: Intake, *, refused: Refusal | Refusals | None = None
) -> HttpResponse:
    shown = {
        "clinic": clinic,
        "place": "patients",
        "patient": kept.patient,
        "alerts": alerts_of(kept.patient),
        "intake": kept,
        "needs_reason": needs_reason(kept),
        "answered": answered_in_words(kept),
        "signs_alone": may(person=person_of(request), clinic=clinic, action=Action.SIGN_INTAKE),
        "may_plan": may(person=person_of(request), clinic=clinic, action=Action.PLAN),
        "may_prepare": may(person=person_of(request), clinic=clinic, action=Action.PREPARE),
        "tablet": tablet_of(request, clinic),
        "clinicians": clinicians_of(clinic),
        # the PIN alone is never given back
        "entered": {key: request.POST.get(key, "") for key in ("reason", "consent", "clinician")},
        "refused": [] if refused is None else [str(refusal) for refusal in _found(refused)],
    }
    status = HTTPStatus.OK if refused is None else HTTPStatus.UNPROCESSABLE_ENTITY
    return render(request, "web/intake_sign.html", shown, status=status)
