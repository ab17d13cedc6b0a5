"""Sign-in by PIN on an enrolled tablet, for whoever's session ended while their hands were busy."""

from datetime import UTC, datetime
from http import HTTPStatus

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render, resolve_url
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from plasmawright.errors import Refusal
from plasmawright.records.models import Person, Tablet
from plasmawright.records.selectors.people import member, members_of
from plasmawright.records.services.pins import check_pin
from plasmawright.web.sign_in import sign_in_by_pin
from plasmawright.web.tablets import COOKIE, keep_token, tablet_of_stranger


@sensitive_post_parameters("pin")
@never_cache
@require_http_methods(["GET", "POST"])
def pin(request: HttpRequest) -> HttpResponse:
    """Ask who is there and for their PIN; begin a session when it is right.

    A script that asks for JSON is told who signed in and the token its next write must carry, or why not.
    """
    tablet = tablet_of_stranger(request)
    if request.method == "GET":
        return _asked(request, tablet, refused=None if tablet else _not_enrolled())
    try:
        person = _signed_in(request, tablet)
    except Refusal as refused:
        return _told_why(refused, tablet) if _wants_json(request) else _asked(request, tablet, refused=refused)
    if _wants_json(request):
        told = {"person": person.pk, "name": person.display_name, "csrf_token": get_token(request)}
        response: HttpResponse = JsonResponse(told)
    else:
        response = redirect(_onward(request) or settings.LOGIN_REDIRECT_URL)
    keep_token(request, response, request.COOKIES[COOKIE])
    return response


def _signed_in(request: HttpRequest, tablet: Tablet | None) -> Person:
    if tablet is None:
        raise _not_enrolled()
    given = request.POST.get("person", "")
    person = member(tablet.clinic, int(given)) if given.isascii() and given.isdigit() and len(given) <= 18 else None
    if person is None:
        raise Refusal("person", given, "it must be somebody of this clinic", "Choose your name.")
    check_pin(person=person, tablet=tablet, pin=request.POST.get("pin", ""), at=datetime.now(UTC))
    sign_in_by_pin(request, person=person, tablet=tablet)
    return person


def _not_enrolled() -> Refusal:
    return Refusal("tablet", "not enrolled", "it must be enrolled for a PIN to be used", "Sign in with your password.")


def _asked(request: HttpRequest, tablet: Tablet | None, *, refused: Refusal | None) -> HttpResponse:
    members = members_of(tablet.clinic) if tablet else []
    shown = {
        "tablet": tablet,
        "people": [member.person for member in members if member.roles and member.pin],
        "chosen": request.POST.get("person", ""),
        "next": _onward(request),
        "refused": refused,
    }
    return render(request, "web/pin.html", shown, status=_status(refused, tablet))


def _told_why(refused: Refusal, tablet: Tablet | None) -> HttpResponse:
    reason = {"field": refused.field, "value": refused.value, "limit": refused.limit, "remedy": refused.remedy}
    return JsonResponse([reason], safe=False, status=_status(refused, tablet))


def _status(refused: Refusal | None, tablet: Tablet | None) -> HTTPStatus:
    if tablet is None:
        return HTTPStatus.FORBIDDEN
    return HTTPStatus.UNPROCESSABLE_ENTITY if refused else HTTPStatus.OK


def _wants_json(request: HttpRequest) -> bool:
    return request.get_preferred_type(["text/html", "application/json"]) == "application/json"


def _onward(request: HttpRequest) -> str:
    """Return where to go on to, when it is a page of ours."""
    named = request.POST.get("next") or request.GET.get("next") or ""
    ours = url_has_allowed_host_and_scheme(named, {request.get_host()}, require_https=request.is_secure())
    return resolve_url(named) if ours else ""
