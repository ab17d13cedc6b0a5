"""The stop-line drill: ten weighed pulls, and what they say of a hand."""

from datetime import UTC, datetime
from http import HTTPStatus

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from plasmawright.errors import Refusal
from plasmawright.records.models import Clinic
from plasmawright.records.permissions import Action
from plasmawright.records.services.drill import keep_pull
from plasmawright.web.bench_release import Typed
from plasmawright.web.drill_page import drill_page, pull_in, standing_series
from plasmawright.web.sign_in import allowed, person_of


@allowed(Action.DRILL)
@require_http_methods(["GET", "POST"])
def drill(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Show the drill; keep the next pull."""
    if request.method == "GET":
        return _page(request, clinic, Typed())
    person = person_of(request)
    series, pulls = standing_series(clinic, person)
    if request.POST.get("number") != str(len(pulls) + 1):
        return redirect("drill")  # tapped twice, or on another tablet: that pull is kept already
    try:
        keep_pull(clinic=clinic, person=person, series=series, pull=pull_in(request.POST), at=datetime.now(UTC))
    except Refusal as refused:
        return _page(request, clinic, Typed.of("drill", refused, request.POST.dict()))
    return redirect("drill")


def _page(request: HttpRequest, clinic: Clinic, typed: Typed) -> HttpResponse:
    page = drill_page(clinic, person_of(request), typed.values)
    status = HTTPStatus.UNPROCESSABLE_ENTITY if typed.refusals else HTTPStatus.OK
    shown = {"clinic": clinic, "place": "today", "page": page, "typed": typed}
    return render(request, "web/drill/drill.html", shown, status=status)
