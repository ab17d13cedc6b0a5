"""The People page: staff and roles, PINs, tablets."""

from datetime import UTC, datetime
from http import HTTPStatus

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_POST

from plasmawright.errors import Refusal
from plasmawright.records.models import Clinic, Person, Role
from plasmawright.records.permissions import Action
from plasmawright.records.selectors.people import member
from plasmawright.records.selectors.tablets import tablet
from plasmawright.records.services.people import add_person, end_role, give_role
from plasmawright.records.services.pins import set_pin
from plasmawright.records.services.tablets import enrol_tablet, revoke_tablet
from plasmawright.web.people_page import SHOWN_AGAIN, Returned, people_page
from plasmawright.web.sign_in import allowed, person_of, refuse_pin_session
from plasmawright.web.tablets import drop_token, keep_token, tablet_of

DONE_HERE = "people"
"""Marks what this page says was done, apart from what others leave for the next page."""


@allowed(Action.READ)
@require_GET
def people(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Show who works here, and to everyone their own PIN."""
    return _page(request, clinic, Returned())


@sensitive_post_parameters("pin", "again")
@allowed(Action.READ)
@require_POST
def set_own_pin(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Set the PIN of whoever asks, typed twice; a session begun by PIN may not change it."""
    person = person_of(request)
    try:
        refuse_pin_session(request)
        pin = _typed_twice(request)
        set_pin(person=person, clinic=clinic, pin=pin, by=person, at=datetime.now(UTC))
    except Refusal as refused:
        return _refused(request, clinic, "own", refused)
    return _done(request, "Your PIN is set.", "own")


@sensitive_post_parameters("password")
@allowed(Action.MANAGE_PEOPLE)
@require_POST
def add(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Add somebody who has not signed in anywhere yet."""
    try:
        person = add_person(
            clinic=clinic,
            username=request.POST.get("username", "").strip(),
            display_name=request.POST.get("display_name", "").strip(),
            role=_role(request),
            password=request.POST.get("password", ""),
            by=person_of(request),
            at=datetime.now(UTC),
        )
    except Refusal as refused:
        return _refused(request, clinic, "add", refused)
    return _done(request, f"{person.display_name} may now sign in as {person.username}.", f"person-{person.pk}")


@allowed(Action.MANAGE_PEOPLE)
@require_POST
def give(request: HttpRequest, clinic: Clinic, person_id: int) -> HttpResponse:
    """Give somebody one more role."""
    person = _person_or_404(clinic, person_id)
    try:
        role = _role(request)
        give_role(person=person, clinic=clinic, role=role, by=person_of(request), at=datetime.now(UTC))
    except Refusal as refused:
        return _refused(request, clinic, f"person-{person_id}", refused)
    return _done(request, f"{person.display_name} is {role} now.", f"person-{person_id}")


@allowed(Action.MANAGE_PEOPLE)
@require_POST
def take(request: HttpRequest, clinic: Clinic, person_id: int) -> HttpResponse:
    """Take a role away."""
    person = _person_or_404(clinic, person_id)
    try:
        role = _role(request)
        end_role(person=person, clinic=clinic, role=role, by=person_of(request), at=datetime.now(UTC))
    except Refusal as refused:
        return _refused(request, clinic, f"person-{person_id}", refused)
    return _done(request, f"{person.display_name} is no longer {role}.", f"person-{person_id}")


@sensitive_post_parameters("pin")
@allowed(Action.MANAGE_PEOPLE)
@require_POST
def reset_pin(request: HttpRequest, clinic: Clinic, person_id: int) -> HttpResponse:
    """Set the PIN of somebody who has none or forgot it."""
    person = _person_or_404(clinic, person_id)
    try:
        pin = request.POST.get("pin", "")
        set_pin(person=person, clinic=clinic, pin=pin, by=person_of(request), at=datetime.now(UTC))
    except Refusal as refused:
        return _refused(request, clinic, f"person-{person_id}", refused)
    return _done(request, f"The PIN of {person.display_name} is set.", f"person-{person_id}")


@allowed(Action.ENROL_TABLETS)
@require_POST
def enrol(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Make the tablet that asks known to the clinic, or another one that is handed a code."""
    try:
        name = request.POST.get("name", "")
        enrolled, token = enrol_tablet(clinic=clinic, name=name, by=person_of(request), at=datetime.now(UTC))
    except Refusal as refused:
        return _refused(request, clinic, "enrol", refused)
    if "elsewhere" in request.POST:
        where = request.build_absolute_uri(reverse("tablet"))
        words = f"On {enrolled.name} open {where} and type this code, which is shown this once: {token}"
        return _done(request, words, "tablets")
    response = _done(request, f"This tablet is enrolled as {enrolled.name}.", "tablets")
    keep_token(request, response, token)
    return response


@allowed(Action.ENROL_TABLETS)
@require_POST
def revoke(request: HttpRequest, clinic: Clinic, tablet_id: int) -> HttpResponse:
    """Forget a tablet, lost or no longer wanted."""
    found, this_one = tablet(clinic, tablet_id), tablet_of(request, clinic)
    if found is None:
        raise Http404
    try:
        revoke_tablet(tablet=found, by=person_of(request), at=datetime.now(UTC))
    except Refusal as refused:
        return _refused(request, clinic, f"tablet-{tablet_id}", refused)
    response = _done(request, f"{found.name} is no longer enrolled.", "tablets")
    if found == this_one:
        drop_token(response)
    return response


def _page(request: HttpRequest, clinic: Clinic, returned: Returned) -> HttpResponse:
    shown = {
        "clinic": clinic,
        "place": "people",
        "page": people_page(clinic, person_of(request), this_tablet=tablet_of(request, clinic), returned=returned),
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if returned.form else HTTPStatus.OK
    return render(request, "web/people.html", shown, status=status)


def _refused(request: HttpRequest, clinic: Clinic, form: str, refused: Refusal) -> HttpResponse:
    values = {name: request.POST.get(name, "") for name in SHOWN_AGAIN}
    return _page(request, clinic, Returned(form=form, entry=refused.field, sentence=str(refused), values=values))


def _done(request: HttpRequest, words: str, place: str) -> HttpResponse:
    """Say what was done at the top of the page, which a reload does not do again, and go back to the place."""
    messages.success(request, words, extra_tags=DONE_HERE)
    response = redirect("people")
    response["Location"] += f"#{place}"
    return response


def _person_or_404(clinic: Clinic, person_id: int) -> Person:
    found = member(clinic, person_id)
    if found is None:
        raise Http404
    return found


def _role(request: HttpRequest) -> Role:
    given = request.POST.get("role", "")
    if given not in Role.values:
        raise Refusal("role", given, f"it must be one of {', '.join(Role.values)}", "Choose one of them.")
    return Role(given)


def _typed_twice(request: HttpRequest) -> str:
    pin = request.POST.get("pin", "")
    if pin != request.POST.get("again", ""):
        raise Refusal("pin", "typed differently", "it must be the same twice", "Type it again, slowly.")
    return pin
