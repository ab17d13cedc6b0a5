"""The Patients pages as a browser without its scripts sees them."""

import re
import tomllib
from datetime import date
from html import unescape

import pytest
from django.test import Client
from tests.builders import ANSWER, AT, VISIT_TEXT, make_clinic, make_patient, make_person

from plasmawright.practice.intake import none_apply
from plasmawright.records.models import Clinic, Patient, Person, Role
from plasmawright.records.selectors.patients import patients, reference_of
from plasmawright.records.services.intake import open_intake
from plasmawright.records.services.plans import save_plan, save_visit

pytestmark = [pytest.mark.database, pytest.mark.django_db]

FORM = {
    "patient.name": "Ana Silva",
    "patient.birth_on": "1961-04-23",
    "patient.record_number": "R-17",
    "patient.sex_for_blood_volume": "female",
    "patient.weight_kg": "68",
    "patient.height_cm": "",
}


@pytest.fixture
def clinic() -> Clinic:
    return make_clinic()


@pytest.fixture
def pim(clinic: Clinic) -> Person:
    return make_person(clinic)


@pytest.fixture
def signed_in(client: Client, pim: Person) -> Client:
    client.force_login(pim)
    return client


def page(client: Client, address: str) -> str:
    """Return a page's words and marks."""
    answer = client.get(address)
    assert answer.status_code == 200
    return unescape(answer.content.decode())


def entry(html: str, name: str) -> str:
    """Return what stands in an entry."""
    found = re.search(rf'name="{re.escape(name)}"[^>]*?value="([^"]*)"', html)
    assert found is not None, name
    return found[1]


def test_a_patient_is_added_and_found_again(signed_in: Client, clinic: Clinic) -> None:
    answer = signed_in.post("/patients/new/", FORM)
    added = patients(clinic)[0]
    assert (answer.status_code, answer.headers["Location"]) == (302, f"/patients/{added.pk}/")
    assert "Ana Silva" in signed_in.post("/patients/", {"search": "silva 1961"}).content.decode()
    assert "Nobody fits" in signed_in.post("/patients/", {"search": "nobody here"}).content.decode()
    assert "Nobody fits" not in page(signed_in, "/patients/?search=nobody")  # no name is taken from an address
    shown = page(signed_in, f"/patients/{added.pk}/")
    assert "<bdi>Ana Silva</bdi>" in shown  # a name written from right to left turns nothing around it
    assert "1961-04-23" in shown
    assert "not measured" in shown


def test_a_search_while_typing_brings_the_list_alone(signed_in: Client) -> None:
    answer = signed_in.post("/patients/", {"search": "x"}, headers={"HX-Request": "true"})
    assert "<html" not in answer.content.decode()


def test_a_refused_form_keeps_everything_typed_and_marks_each_field(signed_in: Client, clinic: Clinic) -> None:
    typed = {**FORM, "patient.birth_on": "23.4.1961", "patient.weight_kg": "sixty"}
    answer = signed_in.post("/patients/new/", typed)
    html = unescape(answer.content.decode())
    assert answer.status_code == 422
    assert {name: entry(html, name) for name in typed if name != "patient.sex_for_blood_volume"} == {
        name: text for name, text in typed.items() if name != "patient.sex_for_blood_volume"
    }
    assert '<option value="female" selected>' in html
    assert html.count('aria-invalid="true"') == 2
    assert patients(clinic) == []


def test_a_taken_record_number_is_refused_at_its_entry(signed_in: Client, clinic: Clinic, pim: Person) -> None:
    make_patient(clinic, pim, record_number="R-17")
    answer = signed_in.post("/patients/new/", FORM)
    assert answer.status_code == 422
    assert "Search for it first" in answer.content.decode()


def test_names_that_could_be_taken_for_each_other_are_alerted_on_the_pages(
    signed_in: Client, clinic: Clinic, pim: Person
) -> None:
    one = make_patient(clinic, pim, name="Ana Silva", record_number="R-17")
    make_patient(clinic, pim, name="Anna Silva", record_number="R-452")
    for address in ("/patients/", f"/patients/{one.pk}/", f"/intake/{one.pk}/"):
        assert "Similar name and same birth date: another patient, record number ending 452." in page(
            signed_in, address
        ), address


def test_a_correction_starts_from_what_is_known(signed_in: Client, clinic: Clinic, pim: Person) -> None:
    known = make_patient(clinic, pim, name="Ana Silva")
    shown = page(signed_in, f"/patients/{known.pk}/correct/")
    assert entry(shown, "patient.name") == "Ana Silva"
    assert entry(shown, "patient.birth_on") == known.birth_on.isoformat()
    answer = signed_in.post(f"/patients/{known.pk}/correct/", FORM)
    assert answer.status_code == 302
    assert Patient.objects.of(clinic).get(pk=known.pk).birth_on == date(1961, 4, 23)


def test_a_plan_for_a_patient_starts_with_body_age_and_last_count(
    signed_in: Client, clinic: Clinic, pim: Person
) -> None:
    known = make_patient(clinic, pim)
    count = {"platelets_1e9_per_l": 232, "hematocrit_frac": 0.41, "counted_on": "2026-03-01"}
    open_intake(patient=known, answers={**none_apply(), "count": count}, by=pim, at=AT)
    shown = page(signed_in, f"/patients/{known.pk}/plan/")
    assert entry(shown, "patient.weight_kg") == "68.0"
    assert entry(shown, "patient.reference") == reference_of(known)
    assert known.name not in shown  # a visit's reference is opaque
    assert float(entry(shown, "blood.platelets_1e9_per_l")) == 232
    assert int(entry(shown, "blood.counted_days_ago")) >= 0


def test_a_patients_page_lists_the_plans_saved_for_them_alone(signed_in: Client, clinic: Clinic, pim: Person) -> None:
    known, other = make_patient(clinic, pim), make_patient(clinic, pim, record_number="R-2")
    document = tomllib.loads(VISIT_TEXT)
    document["patient"]["reference"] = reference_of(known)
    visit = save_visit(clinic=clinic, document=document, text=VISIT_TEXT, by=pim, at=AT)
    kept = save_plan(
        visit=visit, answer=ANSWER, settled_margin_mm=None, parameter_set=None, draws=16, seed=1,
        model_version="test", by=pim, at=AT,
    )  # fmt: skip
    shown = page(signed_in, f"/patients/{known.pk}/")
    assert f'href="/plan/{kept.pk}/"' in shown
    assert f'href="/bench/open/?patient={known.pk}&plan={kept.pk}"' in shown
    assert f'href="/plan/{kept.pk}/"' not in page(signed_in, f"/patients/{other.pk}/")


def test_another_clinics_patient_is_not_there(signed_in: Client) -> None:
    south = make_clinic("South")
    theirs = make_patient(south, make_person(south, username="sam"))
    for address in (f"/patients/{theirs.pk}/", f"/patients/{theirs.pk}/plan/", f"/intake/{theirs.pk}/"):
        assert signed_in.get(address).status_code == 404


def test_a_manager_sees_no_button_for_an_intake(client: Client, clinic: Clinic, pim: Person) -> None:
    known = make_patient(clinic, pim)
    client.force_login(make_person(clinic, username="mo", role=Role.MANAGER))
    assert "New intake" not in page(client, f"/patients/{known.pk}/")
