"""Today, and the same on the wall: a page each, and what they ask for every two seconds."""

from collections.abc import Callable
from functools import wraps
from http import HTTPStatus

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from plasmawright.records.models import Clinic
from plasmawright.records.permissions import Action
from plasmawright.web.moment import moment_now
from plasmawright.web.sign_in import allowed
from plasmawright.web.today_board import BOARD

Answer = Callable[..., HttpResponse]
AWAY = frozenset({HTTPStatus.FOUND, HTTPStatus.SEE_OTHER})


def _polled(view: Answer) -> Answer:
    """Let a page that asks by itself be loaded anew where the session has ended, instead of showing the door in it."""

    @wraps(view)
    def answered(request: HttpRequest, **named: object) -> HttpResponse:
        answer = view(request, **named)
        if answer.status_code in AWAY:
            return HttpResponse(status=HTTPStatus.UNAUTHORIZED, headers={"HX-Refresh": "true"})
        return answer

    return answered


@never_cache
@allowed(Action.READ)
@require_GET
def today(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Show who comes and where each run stands."""
    return render(request, "web/today/today.html", _shown(clinic))


@never_cache
@_polled
@allowed(Action.READ)
@require_GET
def now(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Return the day alone; nothing where the page that asks shows it already."""
    return _fresh(request, clinic, "web/today/_day.html")


@never_cache
@allowed(Action.READ)
@require_GET
def wall(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Show the day without controls, to be read from across the room."""
    return render(request, "web/today/wall.html", _shown(clinic))


@never_cache
@_polled
@allowed(Action.READ)
@require_GET
def wall_now(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Return the wall's day alone; nothing where it stands there already."""
    return _fresh(request, clinic, "web/today/_wall.html")


def _fresh(request: HttpRequest, clinic: Clinic, template: str) -> HttpResponse:
    shown = _shown(clinic)
    if request.GET.get("seen") == shown["mark"]:
        return HttpResponse(status=HTTPStatus.NO_CONTENT)
    return render(request, template, shown)


def _shown(clinic: Clinic) -> dict[str, object]:
    posted = BOARD.posted(clinic, moment_now())
    return {"clinic": clinic, "place": "today", "day": posted.day, "mark": posted.mark}
