"""The bench: the guided run, its step as a fragment, and entries posted by plain forms."""

from http import HTTPStatus

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from plasmawright.bench.entries import Kind
from plasmawright.bench.mishaps import MISHAPS, Mishap
from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import Clinic, Run
from plasmawright.records.permissions import Action
from plasmawright.records.selectors.runs import run as run_of
from plasmawright.records.selectors.runs import stand
from plasmawright.records.services.run_entries import Taken, Told, take_entry
from plasmawright.web.bench_mishaps import telling_shown
from plasmawright.web.bench_posted import posted_entry
from plasmawright.web.bench_release import Typed
from plasmawright.web.bench_shown import bench_shown
from plasmawright.web.moment import moment_now
from plasmawright.web.sign_in import allowed, person_of
from plasmawright.web.tablets import tablet_of

HOOD = "plasmawright_hood"
HOOD_KEPT_S = 400 * 24 * 60 * 60
KEPT_FOR_REVIEW = "The run had moved on. What you tapped is kept for review and has moved nothing."


def run_or_404(clinic: Clinic, run_id: int) -> Run:
    """Return one run of the clinic.

    Raises
    ------
    Http404
        If the clinic has none of that number.
    """
    found = run_of(clinic, run_id)
    if found is None:
        raise Http404
    return found


@allowed(Action.READ)
@require_GET
def bench(request: HttpRequest, clinic: Clinic, run_id: int) -> HttpResponse:
    """Show where a run stands: the step in hand, or its end."""
    return run_page(request, run_or_404(clinic, run_id), Typed())


@allowed(Action.READ)
@require_GET
def step(request: HttpRequest, clinic: Clinic, run_id: int) -> HttpResponse:
    """Return the step alone; nothing where the page that asks shows it already."""
    run = run_or_404(clinic, run_id)
    if request.GET.get("position") == str(run.positions):
        return HttpResponse(status=HTTPStatus.NO_CONTENT)
    return render(request, "web/bench/_step.html", _shown(request, run, Typed()))


@allowed(Action.READ)
@require_POST
def entry(request: HttpRequest, clinic: Clinic, run_id: int) -> HttpResponse:
    """Take one entry from a plain form, and go on to where it leads."""
    run = run_or_404(clinic, run_id)
    try:
        posted = posted_entry(request.POST)
        taken = _taken(request, clinic, run)
    except (Refusal, Refusals) as refused:
        return _refused(request, run, Typed.of("entry", refused, _values(request)))
    if taken.review:
        messages.warning(request, KEPT_FOR_REVIEW, extra_tags="bench")
    if posted.kind is Kind.MISHAP and not taken.review:
        return redirect("bench_mishap", run_id=run_id, name=posted.body["mishap"])
    return redirect("bench_history" if request.POST.get("back") == "history" else "bench", run_id=run_id)


def _values(request: HttpRequest) -> dict[str, str]:
    """Return what was typed, the tubes that were tapped with spaces between."""
    return {**request.POST.dict(), "tubes": " ".join(request.POST.getlist("tubes"))}


def _refused(request: HttpRequest, run: Run, typed: Typed) -> HttpResponse:
    """Answer on the page the entry came from."""
    known = MISHAPS.get(request.POST.get("mishap", ""))
    return run_page(request, run, typed) if known is None else mishap_page(request, run, known, typed)


def _taken(request: HttpRequest, clinic: Clinic, run: Run) -> Taken:
    posted, person = posted_entry(request.POST), person_of(request)
    told = Told(
        kind=posted.kind,
        step=posted.step,
        body=posted.body,
        key=posted.key,
        by=person,
        carried_by=person,
        tablet=tablet_of(request, clinic),
    )
    return take_entry(run=run, arrived=told, moment=moment_now())


@allowed(Action.READ)
@require_POST
def hood(request: HttpRequest, clinic: Clinic, run_id: int) -> HttpResponse:
    """Turn the page near-black for the hood, or back; the browser remembers."""
    answer = redirect("bench", run_id=run_id)
    dark = "0" if is_dark(request) else "1"
    answer.set_cookie(HOOD, dark, max_age=HOOD_KEPT_S, secure=request.is_secure(), httponly=True, samesite="Strict")
    return answer


def is_dark(request: HttpRequest) -> bool:
    """Return whether this browser's pages are near-black for the hood."""
    return request.COOKIES.get(HOOD) == "1"


def run_page(request: HttpRequest, run: Run, typed: Typed) -> HttpResponse:
    """Return the page of a run; 422 where a form was refused, with what was typed into it."""
    fresh = run_or_404(run.clinic, run.pk)
    status = HTTPStatus.UNPROCESSABLE_ENTITY if typed.refusals else HTTPStatus.OK
    return render(request, "web/bench/run.html", _shown(request, fresh, typed), status=status)


def mishap_page(request: HttpRequest, run: Run, known: Mishap, typed: Typed) -> HttpResponse:
    """Return a mishap's page; 422 where it was refused, with what was typed."""
    status = HTTPStatus.UNPROCESSABLE_ENTITY if typed.refusals else HTTPStatus.OK
    shown = {**_shown(request, run, typed), **telling_shown(stand(run), known, typed.values)}
    return render(request, "web/bench/mishap.html", shown, status=status)


def _shown(request: HttpRequest, run: Run, typed: Typed) -> dict[str, object]:
    return {
        **bench_shown(run),
        "clinic": run.clinic,
        "place": "bench",
        "typed": typed,
        "hood": is_dark(request),
        "tablet": tablet_of(request, run.clinic),
    }
