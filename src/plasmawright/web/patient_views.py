"""The Patients pages: search, add, correct, and one patient with intakes, plans and runs."""

from datetime import UTC, datetime
from http import HTTPStatus

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import Clinic, Patient
from plasmawright.records.permissions import Action, may
from plasmawright.records.selectors.intake import intakes_of
from plasmawright.records.selectors.patients import FOUND_MAX, alerts_of, name_alerts, patient, patients, plans_for
from plasmawright.records.selectors.runs import runs_of_patient
from plasmawright.records.services.patients import add_patient, correct_patient
from plasmawright.web.patient_form import entered, shown_form, told_in, values_of, visit_values
from plasmawright.web.plan_views import plan_page
from plasmawright.web.saved_plans import bench_of
from plasmawright.web.sign_in import allowed, person_of


def patient_or_404(clinic: Clinic, patient_id: int) -> Patient:
    """Return one patient of the clinic.

    Raises
    ------
    Http404
        If the clinic has none of that number.
    """
    found = patient(clinic, patient_id)
    if found is None:
        raise Http404
    return found


@allowed(Action.READ)
@require_http_methods(["GET", "POST"])
def listed(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Show the patients that fit what is searched; a search is posted, so that no name stands in an address."""
    search = request.POST.get("search", "")[:120]
    found = patients(clinic, search)
    alerts = name_alerts(found)
    shown = {
        "clinic": clinic,
        "place": "patients",
        "search": search,
        "lines": [(one, alerts.get(one.pk, ())) for one in found],
        "more": len(found) == FOUND_MAX,
        "may_add": may(person=person_of(request), clinic=clinic, action=Action.KEEP_PATIENTS),
    }
    template = "web/_patient_list.html" if request.headers.get("HX-Request") else "web/patients.html"
    return render(request, template, shown)


@allowed(Action.KEEP_PATIENTS)
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Add a patient; a refused form comes back as it was typed."""
    values = entered(request.POST.dict())
    if request.method == "GET":
        return _form(request, clinic, values)
    try:
        added = add_patient(clinic=clinic, **told_in(values), by=person_of(request), at=datetime.now(UTC))
    except (Refusal, Refusals) as refused:
        return _form(request, clinic, values, refused=refused)
    return redirect("patient", patient_id=added.pk)


@allowed(Action.KEEP_PATIENTS)
@require_http_methods(["GET", "POST"])
def correct(request: HttpRequest, clinic: Clinic, patient_id: int) -> HttpResponse:
    """Correct what is known of a patient."""
    known = patient_or_404(clinic, patient_id)
    if request.method == "GET":
        return _form(request, clinic, values_of(known), known=known)
    values = entered(request.POST.dict())
    try:
        correct_patient(patient=known, **told_in(values), by=person_of(request), at=datetime.now(UTC))
    except (Refusal, Refusals) as refused:
        return _form(request, clinic, values, known=known, refused=refused)
    return redirect("patient", patient_id=known.pk)


def _form(
    request: HttpRequest,
    clinic: Clinic,
    values: dict[str, str],
    *,
    known: Patient | None = None,
    refused: Refusal | Refusals | None = None,
) -> HttpResponse:
    found = () if refused is None else refused.found if isinstance(refused, Refusals) else (refused,)
    groups = shown_form(values, found)
    placed = {entry.field.name for group in groups for entry in group.entries}
    shown = {
        "clinic": clinic,
        "place": "patients",
        "groups": groups,
        "known": known,
        "refused": [entry for group in groups for entry in group.entries if entry.refusals],
        "unplaced": [str(refusal) for refusal in found if refusal.field not in placed],
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if found else HTTPStatus.OK
    return render(request, "web/patient_form.html", shown, status=status)


@allowed(Action.READ)
@require_GET
def one(request: HttpRequest, clinic: Clinic, patient_id: int) -> HttpResponse:
    """Show a patient: intakes, plans to choose, runs."""
    found, person = patient_or_404(clinic, patient_id), person_of(request)
    shown = {
        "clinic": clinic,
        "place": "patients",
        "patient": found,
        "alerts": alerts_of(found),
        "intakes": intakes_of(found),
        "plans": plans_for(found),
        "runs": runs_of_patient(clinic, found.pk),
        "may": {action.value: may(person=person, clinic=clinic, action=action) for action in SHOWN_ACTIONS},
    }
    return render(request, "web/patient.html", shown)


SHOWN_ACTIONS = (Action.KEEP_PATIENTS, Action.INTAKE, Action.PLAN, Action.PREPARE)


@allowed(Action.PLAN)
@require_GET
def plan_for(request: HttpRequest, clinic: Clinic, patient_id: int) -> HttpResponse:
    """Show a new plan that starts with a patient's body, age and last count, on the bench of the last plan."""
    found = patient_or_404(clinic, patient_id)
    values = bench_of(clinic, person_of(request)) | visit_values(found, on=datetime.now(UTC).date())
    return plan_page(request, clinic, values, start=False)
