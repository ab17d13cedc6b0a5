"""Clinics, the people in them, and the rules the database itself keeps."""

import pytest
from django.contrib.auth import authenticate
from django.db import IntegrityError, transaction
from tests.builders import AT, PASSWORD, make_clinic, make_person

from plasmawright.errors import Refusal
from plasmawright.records.models import Clinic, Membership, Person, Role
from plasmawright.records.selectors.ledger import history_of, ledger_verdict
from plasmawright.records.selectors.people import clinics_of, member, members_of, roles_of
from plasmawright.records.services.people import add_person, end_role, give_role

pytestmark = [pytest.mark.database, pytest.mark.django_db]


def test_a_person_is_seen_only_in_their_own_clinic() -> None:
    north, south = make_clinic("North"), make_clinic("South")
    person = make_person(north)
    assert clinics_of(person) == [north]
    assert roles_of(person=person, clinic=north) == [Role.PREPARER]
    assert roles_of(person=person, clinic=south) == []


def test_a_person_may_hold_two_roles_and_each_only_once() -> None:
    clinic = make_clinic()
    person = make_person(clinic)
    for _ in range(2):
        give_role(person=person, clinic=clinic, role=Role.MANAGER, by="test", at=AT)
    assert roles_of(person=person, clinic=clinic) == [Role.PREPARER, Role.MANAGER]
    assert Membership.objects.of(clinic).count() == 2


def test_a_role_that_was_taken_away_opens_nothing_and_stays_in_history() -> None:
    clinic = make_clinic()
    person, manager = make_person(clinic), make_person(clinic, username="mo", role=Role.MANAGER)
    held = Membership.objects.of(clinic).get(person=person)
    end_role(person=person, clinic=clinic, role=Role.PREPARER, by=manager, at=AT)
    assert roles_of(person=person, clinic=clinic) == []
    assert clinics_of(person) == []
    assert len(history_of(held, clinic)) == 2
    with pytest.raises(Refusal, match="does not hold it"):
        end_role(person=person, clinic=clinic, role=Role.PREPARER, by=manager, at=AT)
    again = give_role(person=person, clinic=clinic, role=Role.PREPARER, by=manager, at=AT)
    assert again.pk != held.pk
    assert roles_of(person=person, clinic=clinic) == [Role.PREPARER]
    assert ledger_verdict().broken is None
    Membership.objects.of(clinic).filter(pk=held.pk).update(ended_at=None, role=Role.CLINICIAN)
    assert ledger_verdict().broken is not None  # nobody gives a role back behind the ledger's back


def test_a_clinic_is_never_left_without_a_manager() -> None:
    clinic = make_clinic()
    first = make_person(clinic, username="mo", role=Role.MANAGER)
    with pytest.raises(Refusal, match="a clinic needs one"):
        end_role(person=first, clinic=clinic, role=Role.MANAGER, by=first, at=AT)
    second = make_person(clinic, username="max", role=Role.MANAGER)
    end_role(person=first, clinic=clinic, role=Role.MANAGER, by=first, at=AT)
    with pytest.raises(Refusal, match="role is none here"):
        give_role(person=first, clinic=clinic, role=Role.MANAGER, by=first, at=AT)
    with pytest.raises(Refusal, match="a clinic needs one"):
        end_role(person=second, clinic=clinic, role=Role.MANAGER, by=second, at=AT)


def test_members_are_told_with_what_they_hold_and_those_who_left_come_last() -> None:
    clinic = make_clinic()
    manager, gone = make_person(clinic, username="zoe", role=Role.MANAGER), make_person(clinic, username="abe")
    end_role(person=gone, clinic=clinic, role=Role.PREPARER, by=manager, at=AT)
    assert [(found.person, found.roles) for found in members_of(clinic)] == [(manager, (Role.MANAGER,)), (gone, ())]
    assert member(clinic, gone.pk) == gone
    assert member(make_clinic("South Clinic"), gone.pk) is None


def test_a_name_longer_than_its_column_is_refused() -> None:
    clinic = make_clinic()
    with pytest.raises(Refusal, match="at most 60 letters"):
        make_person(clinic, username="p" * 61)


def test_a_role_nobody_knows_is_refused_by_the_database() -> None:
    clinic = make_clinic()
    person = make_person(clinic)
    row = Membership(clinic=clinic, person=person, role="surgeon", added_by="test", added_at=AT)
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()


def test_the_same_role_twice_is_refused_by_the_database() -> None:
    clinic = make_clinic()
    person = make_person(clinic)
    row = Membership(clinic=clinic, person=person, role=Role.PREPARER, added_by="test", added_at=AT)
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()


def test_a_username_that_differs_only_in_case_is_refused_by_the_service_and_by_the_database() -> None:
    clinic = make_clinic()
    make_person(clinic, username="pim")
    with pytest.raises(Refusal, match="username is PIM"):
        make_person(clinic, username="PIM")
    with pytest.raises(IntegrityError), transaction.atomic():
        Person(username="PIM", display_name="Another", added_by="test", added_at=AT).save()


def test_two_clinics_of_one_name_are_refused() -> None:
    make_clinic("North")
    with pytest.raises(Refusal, match="open already"):
        make_clinic("North")


def test_a_refused_password_is_never_repeated() -> None:
    clinic = make_clinic()
    with pytest.raises(Refusal) as refusal:
        add_person(
            clinic=clinic,
            username="pim",
            display_name="Pim",
            role=Role.PREPARER,
            password="hunter",
            by="test",
            at=AT,
        )
    assert "hunter" not in str(refusal.value)
    assert not Person.objects.exists()


def test_a_password_is_kept_as_an_argon2_digest_and_opens_the_door() -> None:
    person = make_person(make_clinic())
    assert person.password.startswith("argon2$")
    assert authenticate(username="pim", password=PASSWORD) == person
    assert authenticate(username="pim", password="another long tube") is None


def test_a_clinic_with_people_cannot_be_deleted() -> None:
    clinic = make_clinic()
    make_person(clinic)
    with pytest.raises(IntegrityError), transaction.atomic():
        Clinic.objects.filter(pk=clinic.pk).delete()
