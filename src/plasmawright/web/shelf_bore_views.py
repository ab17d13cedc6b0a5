"""The guided bore measurement: one question a page, then the bore with its uncertainty, then into the tube's kind."""

from datetime import UTC, datetime
from http import HTTPStatus

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import Clinic
from plasmawright.records.permissions import Action
from plasmawright.records.services.checks import keep_bore
from plasmawright.web.shelf_bore import Stage, answers, stage_of
from plasmawright.web.sign_in import allowed, person_of


@allowed(Action.KEEP_SHELF)
@require_http_methods(["GET", "POST"])
def bore(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Ask the next question, or keep what was measured."""
    posted = request.POST.dict() if request.method == "POST" else request.GET.dict()
    if posted.get("step") == "keep" and request.method == "POST":
        return _keep(request, clinic, posted)
    stage, refused = stage_of(clinic, posted)
    return _page(request, clinic, stage, refused)


def _keep(request: HttpRequest, clinic: Clinic, posted: dict[str, str]) -> HttpResponse:
    try:
        kind, tubes, temperature_c = answers(clinic, posted)
        check = keep_bore(
            tube_kind=kind, tubes=tubes, temperature_c=temperature_c, by=person_of(request), at=datetime.now(UTC)
        )
    except (Refusal, Refusals) as found:
        stage, _ = stage_of(clinic, posted)
        return _page(request, clinic, stage, found.found if isinstance(found, Refusals) else (found,))
    messages.success(request, f"{kind.name}: bore {check.reading_text.partition(' at ')[0]}, kept.")
    return redirect(reverse("shelf") + "#tubes")


def _page(request: HttpRequest, clinic: Clinic, stage: Stage, refused: tuple[Refusal, ...]) -> HttpResponse:
    asked = stage.entry.field.name if stage.entry else ""
    shown = {
        "clinic": clinic,
        "place": "shelf",
        "stage": stage,
        "unplaced": tuple(str(refusal) for refusal in refused if refusal.field != asked),
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if refused else HTTPStatus.OK
    return render(request, "web/shelf_bore.html", shown, status=status)
