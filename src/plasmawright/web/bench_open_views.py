"""The page that opens a run: one button."""

from collections.abc import Mapping
from http import HTTPStatus

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from plasmawright.errors import Refusal, Refusals
from plasmawright.planning.reading import visit_from
from plasmawright.records.models import Clinic, Intake, Lot, Patient, Plan
from plasmawright.records.permissions import Action
from plasmawright.records.selectors.intake import intake as intake_of
from plasmawright.records.selectors.patients import patient as patient_of
from plasmawright.records.selectors.patients import patients, plans_for
from plasmawright.records.selectors.plans import plan as plan_of
from plasmawright.records.selectors.plans import plans_of
from plasmawright.records.services.runs import open_run
from plasmawright.web.bench_opening import PIECES_MAX, OpeningPage, newest_intake, opening_page
from plasmawright.web.bench_posted import whole_in
from plasmawright.web.bench_release import Typed
from plasmawright.web.moment import moment_now
from plasmawright.web.sign_in import allowed, person_of

PLANS_OFFERED = 12


@allowed(Action.PREPARE)
@require_http_methods(["GET", "POST"])
def open_page(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Show what a run would be opened with; open it when the button is pressed."""
    asked = request.POST if request.method == "POST" else request.GET
    patient, plan = _named(clinic, asked)
    if patient is None or plan is None:
        return _choose(request, clinic, patient)
    intake = _intake(clinic, patient, asked)
    if request.method == "GET":
        return _page(request, clinic, _opening(clinic, patient, plan, intake, {}), Typed())
    page = _opening(clinic, patient, plan, intake, request.POST.dict())
    try:
        run = open_run(
            plan=plan,
            patient=patient,
            intake=intake,
            lots=_lots(page, request.POST),
            solo=_solo(page, request.POST),
            practice=False,
            by=person_of(request),
            moment=moment_now(),
        )
    except (Refusal, Refusals) as refused:
        return _page(request, clinic, page, Typed.of("open", refused, request.POST.dict()))
    return redirect("bench", run_id=run.pk)


def _named(clinic: Clinic, asked: Mapping[str, str]) -> tuple[Patient | None, Plan | None]:
    """Return the patient and the plan that are named; for a patient alone, the plan made last for them."""
    patient_id, plan_id = (_id(asked.get(name, "")) for name in ("patient", "plan"))
    patient = patient_of(clinic, patient_id) if patient_id else None
    plan = plan_of(clinic, plan_id) if plan_id else None
    if (patient_id and patient is None) or (plan_id and plan is None):
        raise Http404
    if patient is not None and plan is None and "another" not in asked:
        plan = next(iter(plans_for(patient)), None)
    return patient, plan


def _intake(clinic: Clinic, patient: Patient, asked: Mapping[str, str]) -> Intake | None:
    """Return the intake named, else the patient's newest."""
    intake_id = _id(asked.get("intake", ""))
    if not intake_id:
        return newest_intake(patient)
    found = intake_of(clinic, intake_id)
    if found is None or found.patient_id != patient.pk:
        raise Http404
    return found


def _id(given: str) -> int:
    return int(given) if given.isascii() and given.isdigit() and len(given) <= 18 else 0


def _opening(
    clinic: Clinic, patient: Patient, plan: Plan, intake: Intake | None, typed: Mapping[str, str]
) -> OpeningPage:
    visit, on = visit_from(plan.visit.document), timezone.localdate(moment_now().at)
    return opening_page(clinic, plan=plan, visit=visit, patient=patient, intake=intake, on=on, typed=typed)


def _lots(page: OpeningPage, posted: Mapping[str, str]) -> list[tuple[Lot, int]]:
    """Return the lots that are opened and how many pieces of each; an empty entry takes none."""
    found = []
    for line in page.lots:
        pieces = whole_in(line.supply, posted.get(line.field, "").strip() or "0")
        if pieces > PIECES_MAX:
            raise Refusal(line.supply, pieces, f"a run takes at most {PIECES_MAX}", "Count single pieces, not packs.")
        if pieces and line.lot is None:
            why = line.why or "none may be used"
            raise Refusal(line.supply, pieces, why, "Receive a lot on the Shelf, or write 0.")
        if pieces and line.lot is not None:
            found.append((line.lot, pieces))
    return found


def _solo(page: OpeningPage, posted: Mapping[str, str]) -> bool:
    solo = posted.get("people") == "one"
    if solo and not page.policy.solo:
        limit = "this clinic lets nobody check their own run"
        raise Refusal("people", "one", limit, "Open it with two people, or ask a manager to change the setting.")
    return solo


def _choose(request: HttpRequest, clinic: Clinic, patient: Patient | None) -> HttpResponse:
    """Ask for what the address does not name."""
    plans = (plans_for(patient) if patient else []) or plans_of(clinic)[:PLANS_OFFERED]
    shown = {"clinic": clinic, "place": "bench", "patient": patient, "patients": patients(clinic), "plans": plans}
    return render(request, "web/bench/choose.html", shown)


def _page(request: HttpRequest, clinic: Clinic, page: OpeningPage, typed: Typed) -> HttpResponse:
    shown = {"clinic": clinic, "place": "bench", "page": page, "typed": typed}
    status = HTTPStatus.UNPROCESSABLE_ENTITY if typed.refusals else HTTPStatus.OK
    return render(request, "web/bench/open.html", shown, status=status)
