"""What was told of a run, and amendments: nothing is overwritten."""

from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from plasmawright.bench.entries import LOOKS, Kind, Measure, Written
from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import Clinic, Run
from plasmawright.records.permissions import Action
from plasmawright.records.selectors.runs import stand
from plasmawright.records.services.run_entries import Told, take_entry
from plasmawright.web.bench_buttons import button, fresh_key
from plasmawright.web.bench_history import FIELDS, body_now, entry_at, fields_of, history_lines, text_of
from plasmawright.web.bench_pages import is_dark, run_or_404
from plasmawright.web.bench_posted import NUMBERS, number_in, whole_all, whole_in
from plasmawright.web.bench_release import Typed
from plasmawright.web.bench_shown import identity_shown
from plasmawright.web.moment import moment_now
from plasmawright.web.run_entry_words import entry_words
from plasmawright.web.sign_in import allowed, person_of
from plasmawright.web.tablets import tablet_of


@allowed(Action.READ)
@require_GET
def history(request: HttpRequest, clinic: Clinic, run_id: int) -> HttpResponse:
    """Show everything that was told, the newest first."""
    run = run_or_404(clinic, run_id)
    facts = stand(run)
    shown = {"clinic": clinic, "place": "bench", "run": run, "facts": facts, "lines": history_lines(run, facts)}
    shown["note"] = button(facts, Kind.NOTE, "Keep the note", {})
    whose = {**identity_shown(run, facts), "hood": is_dark(request)}
    return render(request, "web/bench/history.html", {**shown, **whose})


@allowed(Action.READ)
@require_http_methods(["GET", "POST"])
def amend(request: HttpRequest, clinic: Clinic, run_id: int, position: int) -> HttpResponse:
    """Put one entry right: what it said before stays, struck."""
    run = run_or_404(clinic, run_id)
    meant = entry_at(run, position)
    if meant is None:
        raise Http404
    if request.method == "GET":
        return _page(request, run, meant, Typed())
    try:
        _amended(request, clinic, run, meant)
    except (Refusal, Refusals) as refused:
        return _page(request, run, meant, Typed.of("amend", refused, request.POST.dict()))
    return redirect("bench_history", run_id=run_id)


def _amended(request: HttpRequest, clinic: Clinic, run: Run, meant: Written) -> None:
    now, person = body_now(run, meant.position), person_of(request)
    changes = {
        name: _read(meant, name, text)
        for name in FIELDS[meant.kind]
        if (text := request.POST.get(name, "").strip()) and text != text_of(now.get(name))
    }
    if not changes:
        raise Refusal("amendment", "nothing changed", "it must say something else", "Change what is wrong.")
    told = Told(
        kind=Kind.AMENDED,
        step=stand(run).step,
        body={"position": meant.position, "body": changes, "words": request.POST.get("why", "").strip() or None},
        key=request.POST.get("key", ""),
        by=person,
        carried_by=person,
        tablet=tablet_of(request, clinic),
    )
    take_entry(run=run, arrived=told, moment=moment_now())


def _read(meant: Written, name: str, text: str) -> Any:  # Any: fields differ in type
    if name == "value" and Measure(meant.body["what"]) in LOOKS:
        return text
    if name in NUMBERS:
        return number_in(name, text)
    if name == "tube":
        return whole_in(name, text)
    return whole_all(text.replace(",", " ").split()) if name == "tubes" else text


def _page(request: HttpRequest, run: Run, meant: Written, typed: Typed) -> HttpResponse:
    body, facts = body_now(run, meant.position), stand(run)
    shown: Mapping[str, object] = {
        "clinic": run.clinic,
        "place": "bench",
        "run": run,
        "meant": meant,
        "words": entry_words(meant.kind, meant.step, body),
        "fields": fields_of(meant, body, typed.values),
        "typed": typed,
        "key": fresh_key(),
        "hood": is_dark(request),
        **identity_shown(run, facts),
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if typed.refusals else HTTPStatus.OK
    return render(request, "web/bench/amend.html", shown, status=status)
