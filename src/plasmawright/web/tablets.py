"""The tablet a request comes from: known by a secret in a cookie that no script can read."""

from django.http import HttpRequest, HttpResponse

from plasmawright.records.models import Clinic, Tablet
from plasmawright.records.selectors.tablets import tablet_anywhere, tablet_of_token

COOKIE = "plasmawright_tablet"
KEPT_S = 400 * 24 * 60 * 60
"""As long as browsers keep a cookie at all; every sign-in by PIN begins it anew."""


def tablet_of(request: HttpRequest, clinic: Clinic) -> Tablet | None:
    """Return the enrolled tablet of ``clinic`` that asks, or nothing."""
    token = request.COOKIES.get(COOKIE)
    return tablet_of_token(clinic, token) if token else None


def tablet_of_stranger(request: HttpRequest) -> Tablet | None:
    """Return the enrolled tablet that asks before anybody has signed in, or nothing."""
    token = request.COOKIES.get(COOKIE)
    return tablet_anywhere(token) if token else None


def keep_token(request: HttpRequest, response: HttpResponse, token: str) -> None:
    """Have the browser hold a tablet's secret."""
    response.set_cookie(COOKIE, token, max_age=KEPT_S, secure=request.is_secure(), httponly=True, samesite="Strict")


def drop_token(response: HttpResponse) -> None:
    """Have the browser forget a tablet's secret."""
    response.delete_cookie(COOKIE, samesite="Strict")
