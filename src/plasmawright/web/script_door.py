"""The door for scripts: what a page answers with a redirect or a page of reasons, it answers in JSON."""

from collections.abc import Callable
from functools import wraps
from http import HTTPStatus

from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import CsrfViewMiddleware
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt

from plasmawright.errors import Refusal, Refusals
from plasmawright.records.room import FULL
from plasmawright.web.sign_in import TABLET, View, clinics_open_to

READING = frozenset({"GET", "HEAD"})
NOT_YOURS = "by"
"""The field that refuses an entry of somebody else's, who must sign in to carry it."""

FORBIDDEN = frozenset({"role", NOT_YOURS})


def refused_with(status: HTTPStatus, *found: Refusal) -> JsonResponse:
    """Return refusals as the contract lists them."""
    listed = [{"field": one.field, "value": one.value, "limit": one.limit, "remedy": one.remedy} for one in found]
    return JsonResponse(listed, safe=False, status=status)


def members_by_script(view: View) -> View:
    """Hand ``view`` the clinic of the person who asks; answer 401 to strangers and 403 to who may not come in.

    A stranger is told so before the token is looked at, and nobody is ever sent to another page.
    """

    @csrf_exempt
    @never_cache
    @wraps(view)
    def guarded(request: HttpRequest, **named: object) -> HttpResponse:
        if not request.user.is_authenticated:
            return _sign_in_again()
        clinics = clinics_open_to(request)
        if not clinics and TABLET in request.session:
            logout(request)
            return _sign_in_again()
        if not clinics:
            refused = Refusal("clinic", "none", "they must hold a role in a clinic", "Ask a manager to give them one.")
            return refused_with(HTTPStatus.FORBIDDEN, refused)
        if request.method not in READING and not _carries_token(request):
            limit = "it must be the token of this session"
            refused = Refusal("X-CSRFToken", "missing or old", limit, "Ask /api/here/ for it and send it along.")
            return refused_with(HTTPStatus.FORBIDDEN, refused)
        return view(request, clinics[0], **named)

    return guarded


def answering_refusals(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Answer what ``view`` refuses: 403 where who asks is the reason, 507 where the disk is full, else 422."""

    @wraps(view)
    def answered(*given: object, **named: object) -> HttpResponse:
        try:
            return view(*given, **named)
        except Refusals as refused:
            return refused_with(HTTPStatus.UNPROCESSABLE_ENTITY, *refused.found)
        except Refusal as refused:
            return refused_with(_status_of(refused), refused)

    return answered


def _status_of(refused: Refusal) -> HTTPStatus:
    if refused.field == FULL:
        return HTTPStatus.INSUFFICIENT_STORAGE  # no fault of the entry: a tablet keeps it and sends it again
    return HTTPStatus.FORBIDDEN if refused.field in FORBIDDEN else HTTPStatus.UNPROCESSABLE_ENTITY


def _sign_in_again() -> JsonResponse:
    limit = "they must be signed in"
    return refused_with(HTTPStatus.UNAUTHORIZED, Refusal("sign-in", "nobody", limit, "Sign in again."))


def _carries_token(request: HttpRequest) -> bool:
    """Return whether a request carries its session's token, as Django's own check finds."""
    check = CsrfViewMiddleware(lambda _request: HttpResponse())
    check.process_request(request)
    return check.process_view(request, _unexempted, (), {}) is None


def _unexempted(_request: HttpRequest) -> HttpResponse:
    return HttpResponse()
