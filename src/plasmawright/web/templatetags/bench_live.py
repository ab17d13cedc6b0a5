"""What the bench's live part shows besides the run."""

from django import template
from django.http import HttpRequest

from plasmawright.records.models import Person
from plasmawright.records.permissions import Action, may
from plasmawright.records.selectors.people import members_of
from plasmawright.web.sign_in import clinics_open_to
from plasmawright.web.tablets import tablet_of

register = template.Library()


@register.simple_tag(takes_context=True)
def signers_here(context: template.Context) -> list[Person]:
    """Return who may go on with a run by PIN on the tablet that asks; nobody on one that is not enrolled."""
    request: HttpRequest = context["request"]
    clinic = next(iter(clinics_open_to(request)), None)
    if clinic is None or tablet_of(request, clinic) is None:
        return []
    holders = [member.person for member in members_of(clinic) if member.roles and member.pin]
    return [person for person in holders if may(person=person, clinic=clinic, action=Action.PREPARE)]
