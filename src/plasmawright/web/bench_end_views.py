"""A run's end: released by a signature, let past a limit, or discarded."""

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import Clinic, Person
from plasmawright.records.permissions import Action
from plasmawright.records.selectors.people import member
from plasmawright.records.services.signatures import ReadBack, discard_run, override_hold, release_run
from plasmawright.web.bench_pages import run_or_404, run_page
from plasmawright.web.bench_posted import number_in
from plasmawright.web.bench_release import Typed
from plasmawright.web.moment import moment_now
from plasmawright.web.sign_in import allowed, person_of
from plasmawright.web.tablets import tablet_of


@sensitive_post_parameters("pin")
@allowed(Action.READ)
@require_POST
def release(request: HttpRequest, clinic: Clinic, run_id: int) -> HttpResponse:
    """Release what a run made, by the PIN of who read it back."""
    run, form = run_or_404(clinic, run_id), request.POST
    try:
        release_run(
            run=run,
            signer=_signer(clinic, form.get("signer", "")),
            pin=form.get("pin", ""),
            tablet=tablet_of(request, clinic),
            read=_read_back(form),
            by=person_of(request),
            moment=moment_now(),
        )
    except (Refusal, Refusals) as refused:
        return run_page(request, run, Typed.of("release", refused, form.dict()))
    return redirect("bench", run_id=run_id)


@sensitive_post_parameters("pin")
@allowed(Action.READ)
@require_POST
def override(request: HttpRequest, clinic: Clinic, run_id: int) -> HttpResponse:
    """Let a run past its hold limit, by a clinician's PIN and reason."""
    run, form = run_or_404(clinic, run_id), request.POST
    try:
        override_hold(
            run=run,
            signer=_signer(clinic, form.get("signer", "")),
            pin=form.get("pin", ""),
            tablet=tablet_of(request, clinic),
            reason=form.get("reason", ""),
            by=person_of(request),
            moment=moment_now(),
        )
    except (Refusal, Refusals) as refused:
        return run_page(request, run, Typed.of("override", refused, form.dict()))
    return redirect("bench", run_id=run_id)


@allowed(Action.READ)
@require_POST
def discard(request: HttpRequest, clinic: Clinic, run_id: int) -> HttpResponse:
    """Discard what a run made, with how it was disposed of."""
    run, form = run_or_404(clinic, run_id), request.POST
    try:
        discard_run(
            run=run,
            disposal=form.get("disposal", ""),
            tablet=tablet_of(request, clinic),
            by=person_of(request),
            moment=moment_now(),
        )
    except (Refusal, Refusals) as refused:
        return run_page(request, run, Typed.of("discard", refused, form.dict()))
    return redirect("bench", run_id=run_id)


def _read_back(form: QueryDict) -> ReadBack:
    """Return what was read from the syringe; an empty volume was not read."""
    volume = form.get("prp_ml", "").strip()
    return ReadBack(
        label="label_read" in form,
        clock="clock_read" in form,
        prp_ml=number_in("prp_ml", volume) if volume else None,
    )


def _signer(clinic: Clinic, given: str) -> Person:
    person = member(clinic, int(given)) if given.isascii() and given.isdigit() and len(given) <= 18 else None
    if person is None:
        raise Refusal("signer", given or "nobody", "it must be somebody of this clinic", "Choose who signs.")
    return person
