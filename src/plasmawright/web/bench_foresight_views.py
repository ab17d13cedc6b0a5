"""The syringe's prediction as a fragment: asked until it is there, then kept with the run."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_POST

from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import Clinic, Run
from plasmawright.records.permissions import Action
from plasmawright.records.selectors.runs import entries, stand, written
from plasmawright.records.services.runs import keep_foresight
from plasmawright.web.bench_foreseen import foreseen_shown
from plasmawright.web.bench_pages import run_or_404
from plasmawright.web.bench_shown import red_tubes_of
from plasmawright.web.foresight import foreseen
from plasmawright.web.moment import moment_now
from plasmawright.web.sign_in import allowed, person_of


@allowed(Action.READ)
@require_POST
def foresight(request: HttpRequest, clinic: Clinic, run_id: int) -> HttpResponse:
    """Keep what has been found by now, and say how the syringe stands."""
    run = run_or_404(clinic, run_id)
    _keep(request, run)
    told, facts = [written(kept) for kept in entries(run)], stand(run)
    shown = {
        "run": run,
        "facts": facts,
        "foreseen": foreseen_shown(run, facts, told),
        "red_tubes": red_tubes_of(run, facts),
    }
    return render(request, "web/bench/_foresight.html", shown)


def _keep(request: HttpRequest, run: Run) -> None:
    """Keep a prediction that has just been found; what cannot be is told by the fragment."""
    try:
        found = foreseen(run, stand(run), [written(kept) for kept in entries(run)])
    except (Refusal, Refusals):
        return
    if found is not None and found.thought is not None and found.thought.found is not None:
        keep_foresight(
            run=run,
            upto_position=found.position,
            document=found.thought.found,
            by=person_of(request),
            at=moment_now().at,
        )
