"""Patients: kept by three identifiers, found by any, and alerted where two could be taken for each other."""

from datetime import date
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from tests.builders import AT, make_clinic, make_person

from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import Aside, Clinic, Patient, Person
from plasmawright.records.selectors.ledger import ledger_verdict
from plasmawright.records.selectors.patients import alerts_of, name_alerts, patient, patients
from plasmawright.records.services.patients import add_patient, correct_patient

pytestmark = [pytest.mark.database, pytest.mark.django_db]


@pytest.fixture
def clinic(own_folder: object) -> Clinic:
    return make_clinic()


@pytest.fixture
def pim(clinic: Clinic) -> Person:
    return make_person(clinic)


def added(clinic: Clinic, by: Person, **changes: Any) -> Patient:
    """Add a patient whose every field is defaulted. Any: each field has its own type."""
    fields: dict[str, Any] = {
        "name": "Ana Silva",
        "birth_on": date(1961, 4, 23),
        "record_number": "R-17",
        "sex_for_blood_volume": "female",
        "weight_kg": 68.0,
        "height_cm": 171.0,
    }
    return add_patient(clinic=clinic, **{**fields, **changes}, by=by, at=AT)


def test_a_patient_is_kept_with_a_line_in_the_ledger(clinic: Clinic, pim: Person) -> None:
    kept = added(clinic, pim, name="  שרה   לוי ")
    found = patient(clinic, kept.pk)
    assert found is not None
    assert found.name == "שרה לוי"
    assert found.added_by == pim
    assert ledger_verdict().broken is None


def test_whoever_has_no_record_number_is_given_the_next_free_one(clinic: Clinic, pim: Person) -> None:
    added(clinic, pim, record_number="N-00002")  # typed by hand, so it is taken
    numbers = [added(clinic, pim, record_number="").record_number for _ in range(2)]
    assert numbers == ["N-00003", "N-00004"]


def test_a_record_number_is_one_patients_within_a_clinic_and_free_in_another(clinic: Clinic, pim: Person) -> None:
    kept = added(clinic, pim)
    with pytest.raises(Refusals, match="another patient's already"):
        added(clinic, pim, name="Omar Haddad")
    south = make_clinic("South")
    assert added(south, make_person(south, username="cleo")).record_number == "R-17"
    with pytest.raises(IntegrityError), transaction.atomic():  # by the database, whatever a service forgets
        Patient(**{**_columns(kept), "name": "Omar Haddad"}).save()


@pytest.mark.parametrize(
    "change",
    [
        {"name": ""},
        {"record_number": ""},
        {"sex_for_blood_volume": "either"},
        {"weight_kg": 680},
        {"height_cm": 1.71},
        {"birth_on": date(1789, 7, 14)},
    ],
)
def test_the_database_refuses_what_no_patient_is(clinic: Clinic, pim: Person, change: dict[str, Any]) -> None:
    kept = added(clinic, pim)
    with pytest.raises(IntegrityError), transaction.atomic():
        Patient(**{**_columns(kept), "record_number": "R-18", **change}).save()


def _columns(kept: Patient) -> dict[str, Any]:
    columns = {field.attname: getattr(kept, field.attname) for field in Patient._meta.concrete_fields}
    return {name: value for name, value in columns.items() if name != "id"}


def test_everything_wrong_is_told_at_once_at_its_field(clinic: Clinic, pim: Person) -> None:
    with pytest.raises(Refusals) as refused:
        added(
            clinic, pim, name="?", birth_on=date(2030, 1, 1), record_number="x" * 41, sex_for_blood_volume="",
            weight_kg=680,
        )  # fmt: skip
    assert [refusal.field for refusal in refused.value.found] == [
        "patient.name", "patient.birth_on", "patient.record_number", "patient.sex_for_blood_volume",
        "patient.weight_kg",
    ]  # fmt: skip
    assert patients(clinic) == []


def test_what_stood_before_a_correction_is_kept_beside_the_ledger(clinic: Clinic, pim: Person) -> None:
    kept = added(clinic, pim)
    now = correct_patient(
        patient=kept, name="Ana Sylva", birth_on=kept.birth_on, record_number="", sex_for_blood_volume="female",
        weight_kg=70.0, height_cm=171.0, by=pim, at=AT,
    )  # fmt: skip
    assert (now.name, now.weight_kg, now.record_number) == ("Ana Sylva", 70.0, "R-17")
    last = Aside.objects.of(clinic).order_by("-entry__seq").first()
    assert last is not None
    assert "Ana Silva" in last.words
    assert "68.0 kg" in last.words
    assert ledger_verdict().broken is None


@pytest.mark.parametrize(
    "search", ["silva", "SILVA ana", "Ana Sílva", "R-17", "r-1 ana", "1961-04", "1961-04-23 silva"]
)
def test_a_patient_is_found_by_any_identifier(clinic: Clinic, pim: Person, search: str) -> None:
    kept = added(clinic, pim)
    added(clinic, pim, name="Omar Haddad", record_number="Q-2", birth_on=date(1980, 12, 30))
    assert patients(clinic, search) == [kept]


def test_a_name_in_another_script_is_found_and_one_clinic_never_finds_anothers(clinic: Clinic, pim: Person) -> None:
    kept = added(clinic, pim, name="محمد علي")
    assert patients(clinic, "علي") == [kept]
    south = make_clinic("South")
    assert patients(south) == []
    assert patient(south, kept.pk) is None


def test_patients_of_one_day_who_could_be_taken_for_each_other_are_alerted(clinic: Clinic, pim: Person) -> None:
    one = added(clinic, pim)
    like = added(clinic, pim, name="Silva, Anna", record_number="R-452", birth_on=date(1990, 1, 31))
    born = added(clinic, pim, name="Omar Haddad", record_number="R-900")
    alerts = name_alerts([one, like, born])
    assert alerts[one.pk] == (
        "Similar name: another patient, record number ending 452.",
        "Same birth date: another patient, record number ending 900.",
    )
    assert set(alerts_of(one)) == set(alerts[one.pk])
    assert name_alerts([one]) == {}


def test_a_stranger_to_the_clinic_adds_nobody(clinic: Clinic, pim: Person) -> None:
    south = make_clinic("South")
    with pytest.raises(Refusal, match="role"):
        added(south, pim)
    assert patients(south) == []
