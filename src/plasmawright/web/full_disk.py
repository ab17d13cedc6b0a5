"""Answers what failed for want of room on the disk: 507, with what lifts it."""

from collections.abc import Callable
from http import HTTPStatus

from django.db import OperationalError
from django.http import HttpRequest, HttpResponse

from plasmawright.records.room import no_room_for
from plasmawright.web.script_door import refused_with


class FullDisk:
    """Middleware that tells a full disk from a fault of ours; a page of a full disk is words alone."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Hand the request on."""
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Answer a failure of the database for want of room, and leave every other alone."""
        refused = no_room_for(exception) if isinstance(exception, OperationalError) else None
        if refused is None:
            return None
        if request.path.startswith("/api/"):
            return refused_with(HTTPStatus.INSUFFICIENT_STORAGE, refused)
        return HttpResponse(str(refused), content_type="text/plain", status=HTTPStatus.INSUFFICIENT_STORAGE)
