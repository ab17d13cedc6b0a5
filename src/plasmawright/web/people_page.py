"""What the People page shows: staff, roles, PINs and tablets, each form beside the sentence that refuses it."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from plasmawright.records.models import Clinic, Person, Pin, Role, Tablet
from plasmawright.records.permissions import IN_WORDS, MAY, Action, may
from plasmawright.records.selectors.people import Member, members_of
from plasmawright.records.selectors.tablets import tablets_of

SHOWN_AGAIN = ("username", "display_name", "role", "name")
"""What a refused form is filled with once more; secrets are typed anew."""


@dataclass(frozen=True, kw_only=True)
class Returned:
    """A form that was refused: which, where in it, why, and what was typed into it."""

    form: str = ""
    entry: str = ""
    sentence: str = ""
    values: Mapping[str, str] = field(default_factory=dict)

    def why(self, form: str) -> str:
        """Return the sentence that refuses ``form``, or nothing."""
        return self.sentence if form == self.form else ""


@dataclass(frozen=True, kw_only=True)
class MemberLine:
    """One person in the list."""

    member: Member
    offered: tuple[Role, ...]
    why: str


@dataclass(frozen=True, kw_only=True)
class TabletLine:
    """One enrolled tablet in the list."""

    tablet: Tablet
    why: str


@dataclass(frozen=True, kw_only=True)
class ActionLine:
    """One row of who may do what: for each role of the heading whether it may."""

    words: str
    by_role: tuple[bool, ...]


@dataclass(frozen=True, kw_only=True)
class PeoplePage:
    """Everything the page shows to one person."""

    members: tuple[MemberLine, ...]
    tablets: tuple[TabletLine, ...]
    this_tablet: Tablet | None
    own_pin: Pin | None
    manages: bool
    enrols: bool
    own_why: str
    add_why: str
    enrol_why: str
    entry: str
    values: Mapping[str, str]
    roles: tuple[Role, ...]
    actions: tuple[ActionLine, ...]


def people_page(clinic: Clinic, person: Person, *, this_tablet: Tablet | None, returned: Returned) -> PeoplePage:
    """Return the page for ``person``."""
    members = members_of(clinic)
    return PeoplePage(
        members=tuple(_member_line(member, returned) for member in members),
        tablets=tuple(
            TabletLine(tablet=tablet, why=returned.why(f"tablet-{tablet.pk}")) for tablet in tablets_of(clinic)
        ),
        this_tablet=this_tablet,
        own_pin=next((member.pin for member in members if member.person.pk == person.pk), None),
        manages=may(person=person, clinic=clinic, action=Action.MANAGE_PEOPLE),
        enrols=may(person=person, clinic=clinic, action=Action.ENROL_TABLETS),
        own_why=returned.why("own"),
        add_why=returned.why("add"),
        enrol_why=returned.why("enrol"),
        entry=returned.entry,
        values=returned.values,
        roles=tuple(Role),
        actions=tuple(
            ActionLine(words=IN_WORDS[action], by_role=tuple(role in MAY[action] for role in Role)) for action in Action
        ),
    )


def _member_line(member: Member, returned: Returned) -> MemberLine:
    return MemberLine(
        member=member,
        offered=tuple(role for role in Role if role not in member.roles),
        why=returned.why(f"person-{member.person.pk}"),
    )
