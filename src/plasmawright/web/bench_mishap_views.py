"""A mishap's page: what to look at, one tap that tells it, then at most three ways on."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from plasmawright.bench.mishaps import MISHAPS, Mishap
from plasmawright.records.models import Clinic, Run
from plasmawright.records.permissions import Action
from plasmawright.records.selectors.runs import stand
from plasmawright.web.bench_mishaps import choices_shown
from plasmawright.web.bench_pages import mishap_page, run_or_404
from plasmawright.web.bench_release import Typed
from plasmawright.web.sign_in import allowed


@allowed(Action.READ)
@require_GET
def mishap(request: HttpRequest, clinic: Clinic, run_id: int, name: str) -> HttpResponse:
    """Show what to look at and ask, or, once it is told, the ways on."""
    return mishap_page(request, run_or_404(clinic, run_id), _mishap_or_404(name), Typed())


@allowed(Action.READ)
@require_GET
def choices(request: HttpRequest, clinic: Clinic, run_id: int) -> HttpResponse:
    """Return the ways on with what is predicted of them by now."""
    run: Run = run_or_404(clinic, run_id)
    return render(request, "web/bench/_choices.html", {"run": run, **choices_shown(run, stand(run))})


def _mishap_or_404(name: str) -> Mishap:
    if name not in MISHAPS:
        raise Http404
    return MISHAPS[name]
