"""A run entered from paper after a downtime, and its release where that was signed on paper too."""

from collections.abc import Mapping
from http import HTTPStatus

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from plasmawright.bench.steps import Step
from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import Clinic, Run
from plasmawright.records.permissions import Action
from plasmawright.records.selectors.runs import stand
from plasmawright.records.services.entered_later import enter_later, release_later
from plasmawright.web.bench_buttons import fresh_key
from plasmawright.web.bench_clocks import ticking
from plasmawright.web.bench_pages import run_or_404
from plasmawright.web.bench_posted import whole_in
from plasmawright.web.bench_release import ending_of
from plasmawright.web.bench_shown import identity_shown
from plasmawright.web.enter_later_fields import AT, DAY, name_of, steps_shown
from plasmawright.web.enter_later_reading import lines_in, placed, read_back_in, released_in, signer_in
from plasmawright.web.moment import moment_now
from plasmawright.web.sign_in import allowed, person_of
from plasmawright.web.tablets import tablet_of


@allowed(Action.BACK_ENTER)
@require_http_methods(["GET", "POST"])
def enter(request: HttpRequest, clinic: Clinic, run_id: int) -> HttpResponse:
    """Show the steps that are left, each with its times; keep what the paper says."""
    run = run_or_404(clinic, run_id)
    if request.method == "GET":
        return _page(request, run, {}, ())
    try:
        enter_later(
            run=run,
            position=whole_in("position", request.POST.get("position", "")),
            lines=lines_in(request.POST.dict(), stand(run)),
            key=request.POST.get("key", "")[:40],
            tablet=tablet_of(request, clinic),
            by=person_of(request),
            moment=moment_now(),
        )
    except (Refusal, Refusals) as refused:
        return _page(request, run, request.POST.dict(), placed(refused))
    return redirect("bench_history", run_id=run_id)


@sensitive_post_parameters("pin")
@allowed(Action.BACK_ENTER)
@require_POST
def release(request: HttpRequest, clinic: Clinic, run_id: int) -> HttpResponse:
    """Keep a release that was signed on paper, by the PIN of who signed there."""
    run, form = run_or_404(clinic, run_id), request.POST.dict()
    try:
        release_later(
            run=run,
            released=released_in(form),
            signer=signer_in(clinic, form),
            pin=form.get("pin", ""),
            tablet=tablet_of(request, clinic),
            read=read_back_in(form),
            by=person_of(request),
            moment=moment_now(),
        )
    except (Refusal, Refusals) as refused:
        return _page(request, run, {name: text for name, text in form.items() if name != "pin"}, placed(refused))
    return redirect("bench", run_id=run_id)


def _page(request: HttpRequest, run: Run, typed: Mapping[str, str], refusals: tuple[Refusal, ...]) -> HttpResponse:
    facts = stand(run)
    steps = steps_shown(facts, typed, refusals)
    known = {entry.name for step in steps for entry in step.entries}
    shown = {
        "clinic": run.clinic,
        "place": "today",
        "run": run,
        "facts": facts,
        "steps": steps,
        "unplaced": [str(one) for one in refusals if one.field not in known],
        "refused": bool(refusals),
        "day": typed.get(DAY, f"{run.opened_at:%Y-%m-%d}"),
        "position": run.positions,
        "key": typed.get("key", fresh_key()),
        "typed": typed,
        "released_at": typed.get(name_of(Step.RELEASE, AT), ""),
        "signers": ending_of(run, facts, ticking(run, moment_now())).signers,
        "tablet": tablet_of(request, run.clinic),
        **identity_shown(run, facts),
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if refusals else HTTPStatus.OK
    return render(request, "web/bench/enter_later.html", shown, status=status)
