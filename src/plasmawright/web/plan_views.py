"""The Plan page: each view reads its input, makes one call, shows one template."""

import secrets
from collections.abc import Mapping
from datetime import UTC, datetime
from http import HTTPStatus

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from plasmawright.errors import Refusal, Refusals
from plasmawright.planning.reading import visit_from
from plasmawright.records.models import Clinic
from plasmawright.records.permissions import Action, may
from plasmawright.web.asked import asked_in
from plasmawright.web.decision import decision_of
from plasmawright.web.drill_hint import hinted
from plasmawright.web.example import example_values
from plasmawright.web.paper_views import papers_of
from plasmawright.web.planner import PLANNER
from plasmawright.web.reasons import reasons_of
from plasmawright.web.reckoning import Reckoned, point_answer
from plasmawright.web.saved_plans import STOP_SPREAD, bench_of, drilled_spread, keep_plan, plan_or_404, saved_lines
from plasmawright.web.shelf_offers import shelf_of
from plasmawright.web.sign_in import allowed, person_of
from plasmawright.web.visit_form import entered, facts_of, shown_form, values_of


@allowed(Action.READ)
@require_GET
def new_plan(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Show an empty visit, its bench as the clinic last had it; only what was saved to who may not plan."""
    if not may(person=person_of(request), clinic=clinic, action=Action.PLAN):
        shown = {"clinic": clinic, "place": "plan", "plans": saved_lines(clinic)}
        return render(request, "web/plan_list.html", shown)
    return plan_page(request, clinic, bench_of(clinic, person_of(request)), start=False)


@allowed(Action.PLAN)
@require_GET
def example_plan(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Show an invented visit to try the page with."""
    return plan_page(request, clinic, example_values(), start=True)


@allowed(Action.PLAN)
@require_GET
def plan_from(request: HttpRequest, clinic: Clinic, plan_id: int) -> HttpResponse:
    """Show a new draft that starts from a saved plan's visit."""
    return plan_page(request, clinic, values_of(plan_or_404(clinic, plan_id).visit.document), start=True)


def plan_page(request: HttpRequest, clinic: Clinic, values: dict[str, str], *, start: bool) -> HttpResponse:
    """Show the Plan page with ``values`` in its form; ``start`` plans at once, else the stop is the person's."""
    own_stop = not start and bool(drilled_spread(clinic, person_of(request)))
    shown = {
        "clinic": clinic,
        "place": "plan",
        "form": hinted(shown_form(values), STOP_SPREAD) if own_stop else shown_form(values),
        "page": secrets.token_hex(8),
        "shelf": shelf_of(clinic),
        "plans": saved_lines(clinic),
        "start": start,
    }
    return render(request, "web/plan.html", shown)


@allowed(Action.PLAN)
@require_POST
def point(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Answer a moved stop or a changed number at once, with single numbers."""
    values = entered(request.POST.dict())
    try:
        asked = asked_in(values, request.POST.dict())
        decision = decision_of(asked.visit, point_answer(asked))
    except (Refusal, Refusals) as refused:
        return _refused(request, values, refused)
    return render(request, "web/_decision.html", {"decision": decision})


@allowed(Action.PLAN)
@require_POST
def intervals(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Begin to work out the intervals; the page asks for them by the ticket it is given."""
    values = entered(request.POST.dict())
    try:
        asked = asked_in(values, request.POST.dict())
    except (Refusal, Refusals) as refused:
        return _refused(request, values, refused)
    ticket = PLANNER.begin(asked, asker=_asker(request), values=values, want=request.POST.get("want", ""))
    return JsonResponse({"told": reverse("plan_told", args=[request.POST.get("page", ""), ticket])}, status=202)


@allowed(Action.PLAN)
@require_GET
def told(request: HttpRequest, clinic: Clinic, page: str, ticket: str) -> HttpResponse:
    """Tell how a ticket stands, with what it found."""
    asked = PLANNER.told(asker=f"{request.user.pk}:{page}", ticket=ticket)
    html = ""
    if asked.result is not None:
        html = str(render_to_string("web/_plan_answer.html", _shown(asked.result), request))
    elif asked.refusal is not None:
        html = _refused(request, asked.values, asked.refusal).content.decode()
    return JsonResponse({"state": asked.state, "html": html})


@allowed(Action.PLAN)
@require_POST
def save(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Keep the visit and the answer the page shows, and say where they stand."""
    values = entered(request.POST.dict())
    try:
        asked = asked_in(values, request.POST.dict())
        reckoned = PLANNER.answer_to(asked, asker=_asker(request), values=values)
        plan = keep_plan(reckoned, clinic=clinic, by=person_of(request), at=datetime.now(UTC))
    except (Refusal, Refusals) as refused:
        return _refused(request, values, refused)
    return JsonResponse({"saved": reverse("plan_saved", args=[plan.pk])})


@allowed(Action.READ)
@require_GET
def saved(request: HttpRequest, clinic: Clinic, plan_id: int) -> HttpResponse:
    """Show a saved plan with the numbers stored."""
    plan = plan_or_404(clinic, plan_id)
    shown = {
        "clinic": clinic,
        "place": "plan",
        "plan": plan,
        "fixed": True,
        "facts": facts_of(plan.visit.document),
        "papers": papers_of(plan),
        "may_plan": may(person=person_of(request), clinic=clinic, action=Action.PLAN),
    }
    visit = visit_from(plan.visit.document)
    answer = {"decision": decision_of(visit, plan.answer), "answer": plan.answer, "reasons": reasons_of(plan.answer)}
    return render(request, "web/plan_saved.html", {**shown, **answer})


def _shown(reckoned: Reckoned) -> dict[str, object]:
    return {
        "decision": decision_of(reckoned.asked.visit, reckoned.answer),
        "answer": reckoned.answer,
        "reasons": reasons_of(reckoned.answer),
    }


def _asker(request: HttpRequest) -> str:
    return f"{request.user.pk}:{request.POST.get('page', '')}"


def _refused(request: HttpRequest, values: Mapping[str, str], refused: Refusal | Refusals) -> HttpResponse:
    """Answer with the same form, each refused entry beside its sentence and every other as it was."""
    found = refused.found if isinstance(refused, Refusals) else (refused,)
    shown = {"form": shown_form(values, found), "page": request.POST.get("page", "")}
    return render(request, "web/_visit_refused.html", shown, status=HTTPStatus.UNPROCESSABLE_ENTITY)
