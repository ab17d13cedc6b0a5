"""Who belongs where."""

from dataclasses import dataclass

from plasmawright.records.models import Clinic, Membership, Person, Pin, Role


@dataclass(frozen=True, kw_only=True)
class Member:
    """Somebody who holds a role in a clinic, or once held one."""

    person: Person
    roles: tuple[Role, ...]
    pin: Pin | None


def clinics_of(person: Person) -> list[Clinic]:
    """Return the clinics ``person`` holds a role in, by name."""
    held = Clinic.objects.filter(membership__person=person, membership__ended_at=None)
    return list(held.distinct().order_by("name"))


def roles_of(*, person: Person, clinic: Clinic) -> list[Role]:
    """Return the roles ``person`` holds in ``clinic``, in the order of :class:`Role`."""
    held = set(Membership.objects.of(clinic).filter(person=person, ended_at=None).values_list("role", flat=True))
    return [role for role in Role if role in held]


def clinic_named(name: str) -> Clinic | None:
    """Return the clinic of that name, or nothing."""
    return Clinic.objects.filter(name=name).first()


def members_of(clinic: Clinic) -> list[Member]:
    """Return everybody who holds or held a role in ``clinic``, those who hold one first, by name."""
    memberships = Membership.objects.of(clinic).select_related("person")
    people = {membership.person_id: membership.person for membership in memberships}
    held = {(membership.person_id, membership.role) for membership in memberships if membership.ended_at is None}
    pins = {pin.person_id: pin for pin in Pin.objects.of(clinic)}
    found = [
        Member(person=person, roles=tuple(role for role in Role if (person.pk, role) in held), pin=pins.get(person.pk))
        for person in people.values()
    ]
    return sorted(found, key=lambda member: (not member.roles, member.person.display_name, member.person.pk))


def member(clinic: Clinic, person_id: int) -> Person | None:
    """Return one person who holds or held a role in ``clinic``, or nothing."""
    return Person.objects.filter(membership__clinic=clinic, pk=person_id).distinct().first()


def member_named(clinic: Clinic, username: str) -> Person | None:
    """Return the person of that username who holds or held a role in ``clinic``, or nothing."""
    return Person.objects.filter(membership__clinic=clinic, username=username).distinct().first()
