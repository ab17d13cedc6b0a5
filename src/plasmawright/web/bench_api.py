"""What the bench's scripts ask: take an entry, what comes next, who is here."""

from datetime import datetime
from http import HTTPStatus

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.views.decorators.http import require_GET, require_POST

from plasmawright.errors import Refusal
from plasmawright.records.models import Clinic, Person, Tablet
from plasmawright.records.selectors.people import member_named
from plasmawright.records.selectors.runs import run
from plasmawright.records.services.run_entries import Told, take_entry
from plasmawright.web.entry_reading import posted_in
from plasmawright.web.moment import moment_now
from plasmawright.web.presses_ahead import ahead_of
from plasmawright.web.script_door import NOT_YOURS, answering_refusals, members_by_script, refused_with
from plasmawright.web.sign_in import person_of
from plasmawright.web.tablets import tablet_of

BYTES_MAX = 64 * 1024
"""An entry's longest words, four times over."""


@members_by_script
@require_POST
@answering_refusals
def entries(request: HttpRequest, clinic: Clinic, run_id: int) -> HttpResponse:
    """Take one entry of a run: 201 once kept, 409 when it is kept for review, and the same when it comes again."""
    found = run(clinic, run_id)
    if found is None:
        return _no_such_run(run_id)
    if _size_of(request) > BYTES_MAX:
        limit = f"it must be at most {BYTES_MAX} bytes"
        return refused_with(
            HTTPStatus.REQUEST_ENTITY_TOO_LARGE, Refusal("request", _size_of(request), limit, "Send less.")
        )
    if request.content_type != "application/json":
        raise Refusal("Content-Type", request.content_type or "missing", "it must be application/json", "Send JSON.")
    moment = moment_now()
    taken = take_entry(run=found, arrived=_told(request, clinic, at=moment.at), moment=moment)
    kept: dict[str, object] = {"seq": taken.seq, "digest": taken.digest}
    if taken.review:
        return JsonResponse({**kept, "review": True}, status=HTTPStatus.CONFLICT)
    return JsonResponse(kept, status=HTTPStatus.CREATED)


@members_by_script
@require_GET
def ahead(request: HttpRequest, clinic: Clinic, run_id: int) -> HttpResponse:
    """Tell what the primary key does next within this step, so that a page keeps taking presses while we are away."""
    found = run(clinic, run_id)
    if found is None:
        return _no_such_run(run_id)
    return JsonResponse(ahead_of(found, moment_now()))


@members_by_script
@require_GET
def here(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Tell who is signed in, and the token their next write must carry."""
    person = person_of(request)
    return JsonResponse({"person": person.username, "name": person.display_name, "csrf_token": get_token(request)})


def _told(request: HttpRequest, clinic: Clinic, *, at: datetime) -> Told:
    posted = posted_in(request.body, at=at)
    carrier, tablet = person_of(request), tablet_of(request, clinic)
    return Told(
        kind=posted.kind,
        step=posted.step,
        body=posted.body,
        key=request.headers.get("Idempotency-Key", ""),
        by=_who_tapped(clinic, posted.by, carrier=carrier, tablet=tablet),
        carried_by=carrier,
        tablet=tablet,
        device_seq=posted.device_seq,
        device_at=posted.device_at,
        true_at=posted.true_at,
        held_s=posted.held_s,
    )


def _who_tapped(clinic: Clinic, username: str, *, carrier: Person, tablet: Tablet | None) -> Person:
    """Return who tapped: whoever is signed in, or on an enrolled tablet somebody else of the clinic."""
    if username in {"", carrier.username}:
        return carrier
    if tablet is None:
        limit = f"it must be {carrier.username}, who is signed in, unless the tablet is enrolled"
        raise Refusal(NOT_YOURS, username, limit, f"Let {username} sign in here.")
    person = member_named(clinic, username)
    if person is None:
        raise Refusal("by.name", username, "it must be somebody of this clinic", "Look at the People page.")
    return person


def _size_of(request: HttpRequest) -> int:
    told = request.headers.get("Content-Length", "")
    return int(told) if told.isascii() and told.isdigit() else 0


def _no_such_run(run_id: int) -> HttpResponse:
    refused = Refusal("run", run_id, "it must be a run of this clinic", "Choose one on the Today page.")
    return refused_with(HTTPStatus.NOT_FOUND, refused)
