"""Practice: a run on a faster clock with invented blood, trouble on request, and a way out of it."""

from http import HTTPStatus

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import Clinic, Run
from plasmawright.records.permissions import Action
from plasmawright.records.selectors.runs import stand
from plasmawright.records.services.practice import give_up_practice
from plasmawright.web.bench_pages import run_or_404
from plasmawright.web.bench_release import Typed
from plasmawright.web.moment import moment_now
from plasmawright.web.practice_page import PACES, offers_of, open_practice
from plasmawright.web.practice_seen import sight_of, thought_of
from plasmawright.web.practice_trouble import trouble_at
from plasmawright.web.sign_in import allowed, person_of
from plasmawright.web.tablets import tablet_of


@allowed(Action.PRACTICE)
@require_http_methods(["GET", "POST"])
def practice(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Show what a practice run is opened with; open it when the button is pressed."""
    if request.method == "GET":
        return _page(request, clinic, Typed())
    try:
        run = open_practice(clinic, request.POST, by=person_of(request), moment=moment_now())
    except (Refusal, Refusals) as refused:
        return _page(request, clinic, Typed.of("practice", refused, request.POST.dict()))
    thought_of(run)  # worked out while the first steps are taken
    return redirect("bench", run_id=run.pk)


@allowed(Action.PRACTICE)
@require_GET
def seen(request: HttpRequest, clinic: Clinic, run_id: int) -> HttpResponse:
    """Return what the step would show, once it is worked out."""
    run = _practice_or_404(clinic, run_id)
    return render(request, "web/practice/_seen.html", {"run": run, "sight": sight_of(run, stand(run))})


@allowed(Action.PRACTICE)
@require_GET
def trouble(request: HttpRequest, clinic: Clinic, run_id: int) -> HttpResponse:
    """Lead to the page of a mishap that fits the step; it happens only once it is told there."""
    run = _practice_or_404(clinic, run_id)
    found = trouble_at(run.pk, stand(run))
    return redirect("bench_mishap", run_id, found.name) if found else redirect("bench", run_id)


@allowed(Action.PRACTICE)
@require_POST
def give_up(request: HttpRequest, clinic: Clinic, run_id: int) -> HttpResponse:
    """Stop a practice run."""
    run = _practice_or_404(clinic, run_id)
    try:
        give_up_practice(run=run, tablet=tablet_of(request, clinic), by=person_of(request), moment=moment_now())
    except (Refusal, Refusals) as refused:
        messages.warning(request, str(refused))
    return redirect("bench", run_id=run_id)


def _practice_or_404(clinic: Clinic, run_id: int) -> Run:
    run = run_or_404(clinic, run_id)
    if not run.practice:
        raise Http404
    return run


def _page(request: HttpRequest, clinic: Clinic, typed: Typed) -> HttpResponse:
    shown = {"clinic": clinic, "place": "today", "offers": offers_of(clinic), "paces": PACES, "typed": typed}
    status = HTTPStatus.UNPROCESSABLE_ENTITY if typed.refusals else HTTPStatus.OK
    return render(request, "web/practice/practice.html", shown, status=status)
