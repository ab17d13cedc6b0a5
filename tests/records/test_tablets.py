"""Tablets a clinic enrols and revokes."""

import hashlib

import pytest
from django.db import IntegrityError, transaction
from tests.builders import AT, make_clinic, make_person

from plasmawright.errors import Refusal
from plasmawright.records.models import Clinic, Entry, Person, Role, Tablet
from plasmawright.records.selectors.ledger import history_of, ledger_verdict
from plasmawright.records.selectors.tablets import tablet, tablet_anywhere, tablet_of_token, tablets_of
from plasmawright.records.services.tablets import enrol_tablet, revoke_tablet

pytestmark = [pytest.mark.database, pytest.mark.django_db]


@pytest.fixture
def clinic() -> Clinic:
    return make_clinic()


@pytest.fixture
def manager(clinic: Clinic) -> Person:
    return make_person(clinic, username="mo", role=Role.MANAGER)


def test_only_the_digest_of_a_tablets_secret_is_kept(clinic: Clinic, manager: Person) -> None:
    enrolled, token = enrol_tablet(clinic=clinic, name=" hood ", by=manager, at=AT)
    kept = Tablet.objects.of(clinic).get()
    assert kept == enrolled
    assert (kept.name, kept.enrolled_by) == ("hood", manager)
    assert kept.token_hash == hashlib.sha256(token.encode()).hexdigest()
    assert len(token) >= 43  # 32 random bytes as text: nobody guesses it
    assert token not in "".join(Entry.objects.of(clinic).values_list("canonical", flat=True))
    assert enrol_tablet(clinic=clinic, name="chair", by=manager, at=AT)[1] != token


def test_a_secret_opens_its_own_clinic_only(clinic: Clinic, manager: Person) -> None:
    south = make_clinic("South Clinic")
    enrolled, token = enrol_tablet(clinic=clinic, name="hood", by=manager, at=AT)
    assert tablet_of_token(clinic, token) == enrolled
    assert tablet_of_token(south, token) is None
    assert tablet_of_token(clinic, enrolled.token_hash) is None  # what is kept is no key
    assert tablet_anywhere(token) == enrolled
    assert tablet_anywhere("") is None
    assert tablet(south, enrolled.pk) is None


def test_a_revoked_tablet_is_known_no_more_but_stays_in_history(clinic: Clinic, manager: Person) -> None:
    enrolled, token = enrol_tablet(clinic=clinic, name="hood", by=manager, at=AT)
    revoke_tablet(tablet=enrolled, by=manager, at=AT)
    assert tablet_of_token(clinic, token) is None
    assert tablet_anywhere(token) is None
    assert tablets_of(clinic) == []
    assert len(history_of(enrolled, clinic)) == 2
    assert ledger_verdict().broken is None
    with pytest.raises(Refusal, match="revoked before"):
        revoke_tablet(tablet=enrolled, by=manager, at=AT)
    again, _ = enrol_tablet(clinic=clinic, name="hood", by=manager, at=AT)  # the name is free once more
    assert tablets_of(clinic) == [again]


def test_a_name_is_given_and_given_once(clinic: Clinic, manager: Person) -> None:
    enrol_tablet(clinic=clinic, name="hood", by=manager, at=AT)
    for name, words in ((" ", "must not be empty"), ("hood", "is enrolled"), ("h" * 61, "at most 60")):
        with pytest.raises(Refusal, match=words):
            enrol_tablet(clinic=clinic, name=name, by=manager, at=AT)
    for name, token_hash in (("hood", "a" * 64), ("", "b" * 64), ("chair", "")):
        row = Tablet(clinic=clinic, name=name, token_hash=token_hash, enrolled_at=AT, enrolled_by=manager)
        with pytest.raises(IntegrityError), transaction.atomic():
            row.save()
