"""The Intake pages as a browser without its scripts sees them: few taps, nothing lost, a clinician's signature."""

import re
from datetime import UTC, datetime
from html import unescape

import pytest
from django.test import Client
from tests.builders import AT, make_clinic, make_patient, make_person

from plasmawright.practice.intake import NO, QUESTIONS, none_apply
from plasmawright.records.models import Clinic, Decision, Intake, Patient, Person, Role
from plasmawright.records.selectors.intake import intakes_of
from plasmawright.records.services.intake import open_intake
from plasmawright.records.services.pins import set_pin
from plasmawright.records.services.tablets import enrol_tablet
from plasmawright.web.tablets import COOKIE

pytestmark = [pytest.mark.database, pytest.mark.django_db]

PIN = "274916"
TAPS_MAX = 6


@pytest.fixture
def clinic() -> Clinic:
    return make_clinic()


@pytest.fixture
def pim(clinic: Clinic) -> Person:
    return make_person(clinic)


@pytest.fixture
def cleo(clinic: Clinic) -> Person:
    person = make_person(clinic, username="cleo", role=Role.CLINICIAN)
    set_pin(person=person, clinic=clinic, pin=PIN, by=person, at=AT)
    return person


@pytest.fixture
def ada(clinic: Clinic, pim: Person) -> Patient:
    return make_patient(clinic, pim)


@pytest.fixture
def preparing(client: Client, pim: Person) -> Client:
    client.force_login(pim)
    return client


@pytest.fixture
def hood(client: Client, clinic: Clinic) -> None:
    """Make the client an enrolled tablet."""
    manager = make_person(clinic, username="mo", role=Role.MANAGER)
    client.cookies[COOKIE] = enrol_tablet(clinic=clinic, name="hood", by=manager, at=AT)[1]


def kept(ada: Patient, by: Person, **applying: object) -> Intake:
    """Open an intake in which only what is named applies."""
    return open_intake(patient=ada, answers={**none_apply(), **applying}, by=by, at=AT)


def followed(client: Client, html: str, words: str) -> str:
    """Tap the link that says ``words`` and return the page it leads to."""
    found = re.search(rf'<a[^>]*href="([^"]+)"[^>]*>(?:(?!</a>).)*?{re.escape(words)}', html, re.DOTALL)
    assert found is not None, words
    return client.get(unescape(found[1])).content.decode()


def opened_and_shown(client: Client, address: str, form: dict[str, str]) -> tuple[str, str]:
    """Post a form and return where it led and what stands there."""
    answer = client.post(address, form)
    assert answer.status_code == 302, unescape(answer.content.decode())
    return answer.headers["Location"], client.get(answer.headers["Location"]).content.decode()


def test_a_healthy_returning_patient_takes_five_taps_when_a_clinician_is_signed_in(
    client: Client, ada: Patient, cleo: Person
) -> None:
    client.force_login(cleo)
    html = client.get("/patients/").content.decode()
    taps = (ada.name, "New intake")
    for words in taps:
        html = followed(client, html, words)
    assert html.count("None of these apply") == 1  # the third tap
    address, html = opened_and_shown(client, f"/intake/{ada.pk}/", {"asked": "all"})
    assert 'id="consent"' in html  # the fourth, and the fifth signs
    opened_and_shown(client, address, {"consent": "yes", "decision": "go_on"})
    assert intakes_of(ada)[0].decision == Decision.GO_ON
    assert len(taps) + 3 <= TAPS_MAX


def test_it_takes_six_with_the_clinicians_pin_on_an_enrolled_tablet(
    preparing: Client, hood: None, ada: Patient, cleo: Person
) -> None:
    # patient, New intake, None apply, consent, PIN (counts one), sign: the only clinician is chosen already
    address, html = opened_and_shown(preparing, f"/intake/{ada.pk}/", {"asked": "all"})
    chosen = re.findall(r'<option value="(\d+)"', html)
    assert chosen == [str(cleo.pk)]
    signing = {"consent": "yes", "decision": "go_on", "clinician": chosen[0], "pin": PIN}
    opened_and_shown(preparing, address, signing)
    assert intakes_of(ada)[0].signed_by == cleo


def test_each_question_left_unticked_is_recorded_as_answered_no(preparing: Client, ada: Patient) -> None:
    form = {"asked": "all", "intake.steroid_local": "yes", "intake.steroid_local.days_ago": "20"}
    _, html = opened_and_shown(preparing, f"/intake/{ada.pk}/", form)
    answers = intakes_of(ada)[0].answers
    no = [question.key for question in QUESTIONS if answers[question.key] == {"answer": NO}]
    assert len(no) == len(QUESTIONS) - 1
    assert "1 caution to weigh" in html
    assert "relative" in html


def test_without_the_button_that_says_so_nothing_was_answered(preparing: Client, ada: Patient) -> None:
    answer = preparing.post(f"/intake/{ada.pk}/", {"intake.cancer": "yes"})
    assert answer.status_code == 422
    assert answer.content.decode().count("it must be answered") == len(QUESTIONS) - 1
    assert intakes_of(ada) == []


def test_a_refusal_loses_nothing_that_was_entered(preparing: Client, ada: Patient) -> None:
    form = {
        "asked": "all",
        "intake.antiinflammatory": "yes",
        "intake.antiinflammatory.medicine": "naproxen",
        "intake.antiinflammatory.hours_ago": "yesterday",
        "intake.count.platelets_1e9_per_l": "232000",
        "intake.count.counted_on": "2026-03-01",
    }
    answer = preparing.post(f"/intake/{ada.pk}/", form)
    html = unescape(answer.content.decode())
    assert answer.status_code == 422
    for typed in ("yesterday", "232000", "2026-03-01"):
        assert f'value="{typed}"' in html
    assert 'value="naproxen" checked' in html
    assert re.search(r'name="intake.antiinflammatory" value="yes" checked', html)
    assert "divide a count per µL by 1000" in html
    assert "Write how many h ago" in html


def test_a_fresh_count_is_offered_again_and_an_old_one_is_not(preparing: Client, ada: Patient, pim: Person) -> None:
    now = datetime.now(UTC)
    count = {"platelets_1e9_per_l": 231, "counted_on": now.date().isoformat()}
    open_intake(patient=ada, answers={**none_apply(), "count": count}, by=pim, at=now)
    assert 'value="231"' in preparing.get(f"/intake/{ada.pk}/").content.decode()
    old = {**none_apply(), "count": {"platelets_1e9_per_l": 199, "counted_on": "2020-01-01"}}
    open_intake(patient=ada, answers=old, by=pim, at=now)
    assert 'value="199"' not in preparing.get(f"/intake/{ada.pk}/").content.decode()


def test_a_caution_that_stands_asks_for_a_reason_and_keeps_what_was_typed(
    client: Client, ada: Patient, cleo: Person
) -> None:
    client.force_login(cleo)
    standing = kept(ada, cleo, steroid_local={"answer": "yes", "days_ago": 20})
    address = f"/intake/{ada.pk}/{standing.pk}/"
    refused = client.post(address, {"consent": "yes", "decision": "go_on", "reason": ""})
    html = unescape(refused.content.decode())
    assert refused.status_code == 422
    assert "Write why, in a few words." in html
    assert 'name="consent" value="yes" checked' in html
    typed = client.post(address, {"decision": "go_on", "reason": "another joint"})
    assert typed.status_code == 422
    assert "another joint</textarea>" in unescape(typed.content.decode())
    _, html = opened_and_shown(client, address, {"consent": "yes", "decision": "go_on", "reason": "another joint"})
    assert "another joint" in html
    assert "Signed by" in html


def test_a_preparer_cannot_sign_alone(preparing: Client, ada: Patient, pim: Person) -> None:
    open_one = kept(ada, pim)
    address = f"/intake/{ada.pk}/{open_one.pk}/"
    assert "Waits for a clinician" in preparing.get(address).content.decode()
    answer = preparing.post(address, {"consent": "yes", "decision": "go_on"})
    assert answer.status_code == 422
    assert "use an enrolled tablet" in answer.content.decode()
    assert intakes_of(ada)[0].decision == Decision.OPEN


def test_a_wrong_pin_signs_nothing_and_is_never_given_back(
    preparing: Client, hood: None, ada: Patient, cleo: Person
) -> None:
    open_one = kept(ada, cleo, cancer={"answer": "yes"})
    form = {
        "consent": "yes", "decision": "go_on", "clinician": str(cleo.pk), "pin": "274917",
        "reason": "spoken with the oncologist",
    }  # fmt: skip
    answer = preparing.post(f"/intake/{ada.pk}/{open_one.pk}/", form)
    html = unescape(answer.content.decode())
    assert answer.status_code == 422
    assert "274917" not in html
    assert "spoken with the oncologist</textarea>" in html
    assert intakes_of(ada)[0].decision == Decision.OPEN


def test_no_preparer_signs_by_a_pin_of_their_own(preparing: Client, hood: None, ada: Patient, pim: Person) -> None:
    set_pin(person=pim, clinic=ada.clinic, pin=PIN, by=pim, at=AT)
    open_one = kept(ada, pim)
    form = {"consent": "yes", "decision": "go_on", "clinician": str(pim.pk), "pin": PIN}
    answer = preparing.post(f"/intake/{ada.pk}/{open_one.pk}/", form)
    assert answer.status_code == 422
    assert intakes_of(ada)[0].decision == Decision.OPEN


def test_an_intake_stands_under_its_own_patient_alone(preparing: Client, ada: Patient, pim: Person) -> None:
    other = make_patient(ada.clinic, pim, record_number="R-2")
    assert preparing.get(f"/intake/{other.pk}/{kept(ada, pim).pk}/").status_code == 404
