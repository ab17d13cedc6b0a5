"""Who belongs where."""

from plasmawright.records.models import Clinic, Membership, Person, Role


def clinics_of(person: Person) -> list[Clinic]:
    """Return the clinics ``person`` is a member of, by name."""
    return list(Clinic.objects.filter(membership__person=person).distinct().order_by("name"))


def roles_of(*, person: Person, clinic: Clinic) -> list[Role]:
    """Return the roles ``person`` holds in ``clinic``, in the order of :class:`Role`."""
    held = set(Membership.objects.of(clinic).filter(person=person).values_list("role", flat=True))
    return [role for role in Role if role in held]


def clinic_named(name: str) -> Clinic | None:
    """Return the clinic of that name, or nothing."""
    return Clinic.objects.filter(name=name).first()
