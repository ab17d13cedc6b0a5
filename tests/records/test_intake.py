"""Intakes: judged by the clinic's numbers of the day, decided once, by a clinician, with consent and a reason."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from tests.builders import AT, make_clinic, make_person

from plasmawright.errors import Refusal, Refusals
from plasmawright.practice.intake import NO, YES, none_apply
from plasmawright.records.models import Aside, Clinic, Decision, Intake, Patient, Person, Role
from plasmawright.records.selectors.intake import clinicians_of, intake, intakes_of, last_count
from plasmawright.records.selectors.ledger import ledger_verdict
from plasmawright.records.services.intake import needs_reason, open_intake, sign_intake
from plasmawright.records.services.patients import add_patient
from plasmawright.records.services.settings import set_setting

pytestmark = [pytest.mark.database, pytest.mark.django_db]

STEROID = {"steroid_local": {"answer": YES, "days_ago": 20}}
LATEX = {"allergy_latex": {"answer": YES}}


@pytest.fixture
def clinic(own_folder: object) -> Clinic:
    return make_clinic()


@pytest.fixture
def pim(clinic: Clinic) -> Person:
    return make_person(clinic)


@pytest.fixture
def cleo(clinic: Clinic) -> Person:
    return make_person(clinic, username="cleo", role=Role.CLINICIAN)


@pytest.fixture
def ana(clinic: Clinic, pim: Person) -> Patient:
    return add_patient(
        clinic=clinic, name="Ana Silva", birth_on=date(1961, 4, 23), record_number="R-17",
        sex_for_blood_volume="female", by=pim, at=AT,
    )  # fmt: skip


def opened(ana: Patient, by: Person, **changes: object) -> Intake:
    """Open an intake in which only what is named applies."""
    return open_intake(patient=ana, answers={**none_apply(), **changes}, by=by, at=AT)


def signed(kept: Intake, by: Person, **changes: Any) -> Intake:
    """Sign to go on with consent and no reason. Any: each argument has its own type."""
    given: dict[str, Any] = {"decision": "go_on", "reason": "", "consent": True}
    return sign_intake(intake=kept, **{**given, **changes}, by=by, at=AT + timedelta(minutes=2))


def test_an_intake_records_every_question_and_waits_for_a_clinician(ana: Patient, pim: Person) -> None:
    kept = opened(ana, pim)
    assert kept.decision == Decision.OPEN
    assert kept.cautions == []
    assert kept.answers["cancer"] == {"answer": NO}
    assert ledger_verdict().broken is None


def test_cautions_are_kept_by_the_numbers_of_the_day(ana: Patient, pim: Person, clinic: Clinic) -> None:
    kept = opened(ana, pim, **STEROID)
    manager = make_person(clinic, username="mo", role=Role.MANAGER)
    set_setting(clinic=clinic, key="local_steroid_days", value_text="10", by=manager, at=AT)
    assert opened(ana, pim, **STEROID).cautions == []
    found = intake(clinic, kept.pk)
    assert found is not None
    assert [caution["weight"] for caution in found.cautions] == ["relative"]
    assert "1 month" in found.cautions[0]["source"]


def test_a_clinician_goes_on_with_consent_and_nobody_decides_twice(ana: Patient, pim: Person, cleo: Person) -> None:
    kept = signed(opened(ana, pim), cleo)
    assert (kept.decision, kept.signed_by) == (Decision.GO_ON, cleo)
    assert kept.consent_at == kept.signed_at
    with pytest.raises(Refusal, match="decided already"):
        signed(kept, cleo, decision="not_today")
    assert [one.decision for one in intakes_of(ana)] == [Decision.GO_ON]
    assert ledger_verdict().broken is None


def test_only_a_clinician_signs(ana: Patient, pim: Person, clinic: Clinic) -> None:
    kept = opened(ana, pim)
    for role in (Role.MANAGER, Role.ASSISTANT):
        person = make_person(clinic, username=role.value, role=role)
        with pytest.raises(Refusal, match="must be clinician"):
            signed(kept, person)
    with pytest.raises(Refusal, match="must be clinician"):
        signed(kept, pim)
    assert intakes_of(ana)[0].decision == Decision.OPEN


def test_going_on_past_a_caution_needs_a_reason_and_a_note_to_take_care_does_not(
    ana: Patient, pim: Person, cleo: Person, clinic: Clinic
) -> None:
    standing = opened(ana, pim, **STEROID)
    assert needs_reason(standing)
    with pytest.raises(Refusals, match=r"intake\.reason"):
        signed(standing, cleo, reason="  ")
    kept = signed(standing, cleo, reason="Another joint, long ago enough.")
    assert kept.reason == "Another joint, long ago enough."
    assert Aside.objects.of(clinic).filter(words=kept.reason).exists()
    assert not needs_reason(opened(ana, pim, **LATEX))


def test_not_today_needs_neither_reason_nor_consent(ana: Patient, pim: Person, cleo: Person) -> None:
    kept = signed(opened(ana, pim, **STEROID), cleo, decision="not_today", consent=False)
    assert kept.decision == Decision.NOT_TODAY
    assert kept.consent_at is None


def test_nobody_goes_on_without_consent_whatever_a_service_forgets(ana: Patient, pim: Person, cleo: Person) -> None:
    kept = opened(ana, pim)
    with pytest.raises(Refusals, match=r"intake\.consent"):
        signed(kept, cleo, consent=False)
    rows = Intake.objects.of(ana.clinic).filter(pk=kept.pk)
    with pytest.raises(IntegrityError), transaction.atomic():
        rows.update(decision=Decision.GO_ON, signed_by=cleo, signed_at=AT)
    with pytest.raises(IntegrityError), transaction.atomic():
        rows.update(decision=Decision.NOT_TODAY)  # signed by nobody


@pytest.mark.parametrize("decision", ["open", "", "maybe"])
def test_a_decision_is_one_of_two(ana: Patient, pim: Person, cleo: Person, decision: str) -> None:
    with pytest.raises(Refusals, match="go on or not today"):
        signed(opened(ana, pim), cleo, decision=decision)


def test_a_question_left_open_is_refused_and_nothing_is_kept(ana: Patient, pim: Person) -> None:
    with pytest.raises(Refusals, match=r"intake\.cancer"):
        opened(ana, pim, cancer={"answer": ""})
    assert intakes_of(ana) == []


def test_the_last_count_is_carried_from_the_newest_intake_that_has_one(ana: Patient, pim: Person) -> None:
    count = {"platelets_1e9_per_l": 232, "counted_on": "2026-03-01"}
    opened(ana, pim, count=count)
    opened(ana, pim)
    assert last_count(ana) == count


def test_clinicians_are_those_who_hold_the_role_here(clinic: Clinic, pim: Person, cleo: Person) -> None:
    south = make_clinic("South")
    make_person(south, username="sam", role=Role.CLINICIAN)
    assert clinicians_of(clinic) == [cleo]
