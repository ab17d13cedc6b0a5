"""Who may come in: people a clinic added, and nobody else; and what they may do there."""

from collections.abc import Callable
from functools import wraps
from http import HTTPStatus

from allauth.account.adapter import DefaultAccountAdapter
from django.contrib.auth import login, logout
from django.contrib.auth.decorators import login_required
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache

from plasmawright.errors import Refusal
from plasmawright.records.models import Clinic, Person, Tablet
from plasmawright.records.permissions import Action, refuse_unless_may
from plasmawright.records.selectors.people import clinics_of
from plasmawright.records.selectors.tablets import tablet

View = Callable[..., HttpResponse]

TABLET = "signed_in_on_tablet"
"""Where a session begun by PIN keeps the tablet's number; a session begun by password has none."""

ASKS_FOR_THE_PASSWORD = frozenset({Action.MANAGE_PEOPLE, Action.CHANGE_SETTINGS, Action.ENROL_TABLETS})
"""What a PIN does not open: six digits typed before others at a bench shall not hand the clinic over."""


class ClosedDoor(DefaultAccountAdapter):  # type: ignore[misc] # allauth carries no types
    """Sign-in by username only; a clinic adds its own people."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Say no: nobody adds themselves."""
        return False


def person_of(request: HttpRequest) -> Person:
    """Return who asks.

    Raises
    ------
    PermissionDenied
        If nobody is signed in.
    """
    if not isinstance(request.user, Person):
        raise PermissionDenied
    return request.user


def members_only(view: View) -> View:
    """Hand ``view`` the clinic of the person who asks; send strangers to sign in, and refuse who has no clinic.

    ``view`` takes the request, the clinic, and whatever its address names. A session begun by PIN holds for the
    tablet's own clinic, and ends when the tablet is revoked.
    """

    @login_required
    @wraps(view)
    def guarded(request: HttpRequest, **named: object) -> HttpResponse:
        clinics = clinics_open_to(request)
        if not clinics and TABLET in request.session:
            logout(request)
            return redirect_to_login(request.get_full_path())
        if not clinics:
            raise PermissionDenied
        return view(request, clinics[0], **named)

    return guarded


def allowed(action: Action) -> Callable[[View], View]:
    """Return a decorator like :func:`members_only` that answers 403, with the reason, to who may not do ``action``."""

    def decorate(view: View) -> View:
        @members_only
        @wraps(view)
        def guarded(request: HttpRequest, clinic: Clinic, **named: object) -> HttpResponse:
            try:
                refuse_unless_may(person=person_of(request), clinic=clinic, action=action)
                if action in ASKS_FOR_THE_PASSWORD:
                    refuse_pin_session(request)
            except Refusal as refused:
                shown = {"clinic": clinic, "refused": refused}
                return render(request, "403.html", shown, status=HTTPStatus.FORBIDDEN)
            return view(request, clinic, **named)

        # a plan names nobody, and going back to it shall find what was typed; all else no browser keeps on its disk
        return guarded if action is Action.PLAN else never_cache(guarded)

    return decorate


def refuse_pin_session(request: HttpRequest) -> None:
    """Let sessions begun by password go on.

    Raises
    ------
    Refusal
        If this one was begun by PIN.
    """
    if TABLET in request.session:
        raise Refusal("sign-in", "by PIN", "it must be by password here", "Sign out, then sign in with your password.")


def sign_in_by_pin(request: HttpRequest, *, person: Person, tablet: Tablet) -> None:
    """Begin a session for ``person``, whose PIN was right on ``tablet``."""
    login(request, person, backend="allauth.account.auth_backends.AuthenticationBackend")
    request.session[TABLET] = tablet.pk


def clinics_open_to(request: HttpRequest) -> list[Clinic]:
    """Return the clinics that this session opens: all of the person's, or the one whose tablet it was begun on."""
    clinics = clinics_of(person_of(request))
    tablet_id = request.session.get(TABLET)
    if tablet_id is None:
        return clinics
    return [clinic for clinic in clinics if tablet(clinic, tablet_id) is not None]
