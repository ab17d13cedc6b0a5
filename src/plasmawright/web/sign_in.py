"""Who may come in: people a clinic added, and nobody else."""

from collections.abc import Callable
from functools import wraps

from allauth.account.adapter import DefaultAccountAdapter
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

from plasmawright.records.models import Person
from plasmawright.records.selectors.people import clinics_of


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


def members_only(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Hand ``view`` the clinic of the person who asks; send strangers to sign in, and refuse who has no clinic.

    ``view`` takes the request, the clinic, and whatever its address names.
    """

    @login_required
    @wraps(view)
    def guarded(request: HttpRequest, **named: object) -> HttpResponse:
        clinics = clinics_of(person_of(request))
        if not clinics:
            raise PermissionDenied
        return view(request, clinics[0], **named)

    return guarded
