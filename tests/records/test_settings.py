"""A clinic's own choices: bounded, kept one after the other, and what the bench and the intake read of them."""

import pytest
from django.db import DatabaseError, transaction
from tests.builders import AT, make_clinic, make_person

from plasmawright.bench.policy import Policy
from plasmawright.errors import Refusal
from plasmawright.records.models import Clinic, ClinicSetting, Person, Role
from plasmawright.records.selectors.ledger import ledger_verdict
from plasmawright.records.selectors.settings import choices_of, policy_of, thresholds_of
from plasmawright.records.services.settings import set_setting

pytestmark = [pytest.mark.database, pytest.mark.django_db]


@pytest.fixture
def clinic(own_folder: object) -> Clinic:
    return make_clinic()


@pytest.fixture
def mo(clinic: Clinic) -> Person:
    return make_person(clinic, username="mo", role=Role.MANAGER)


def chosen(clinic: Clinic, by: Person, key: str, text: str) -> ClinicSetting | None:
    """Choose one setting."""
    return set_setting(clinic=clinic, key=key, value_text=text, by=by, at=AT)


def test_a_new_clinic_starts_from_the_defaults(clinic: Clinic) -> None:
    assert policy_of(clinic) == Policy(
        hold_h=4,  # published, from the start of preparation
        open_caution_min=60,  # common practice
        stand_min=0,
        rest_min=10,
        solo_pause_s=60,
        solo=False,
        count_tube_ml=2,
        label_identifiers=("name", "birth_on", "record_number"),
        activation=False,
    )
    assert thresholds_of(clinic).platelets_relative_1e9_per_l == 100


def test_a_choice_is_read_by_the_bench_and_the_one_before_it_stays_readable(clinic: Clinic, mo: Person) -> None:
    chosen(clinic, mo, "hold_h", "3")
    chosen(clinic, mo, "hold_h", "1")
    chosen(clinic, mo, "solo", "yes")
    assert policy_of(clinic).hold_h == 1
    assert policy_of(clinic).solo
    assert [row.value_text for row in ClinicSetting.objects.of(clinic).filter(key="hold_h").order_by("pk")] == [
        "3",
        "1",
    ]
    assert choices_of(clinic)["hold_h"].set_by == mo
    assert ledger_verdict().broken is None


def test_a_choice_that_stands_already_leaves_no_row(clinic: Clinic, mo: Person) -> None:
    assert chosen(clinic, mo, "hold_h", "4") is None
    assert choices_of(clinic) == {}


def test_a_choice_once_made_is_never_changed(clinic: Clinic, mo: Person) -> None:
    chosen(clinic, mo, "hold_h", "3")
    with pytest.raises(DatabaseError, match="never changed"), transaction.atomic():
        ClinicSetting.objects.of(clinic).update(value_text="6")


def test_one_clinics_choice_is_no_other_clinics(clinic: Clinic, mo: Person) -> None:
    chosen(clinic, mo, "hold_h", "3")
    assert policy_of(make_clinic("South")).hold_h == 4


@pytest.mark.parametrize(("key", "text"), [("hold_h", "12"), ("solo", "perhaps"), ("solo_pause_s", "30"), ("x", "1")])
def test_what_lies_outside_is_refused_and_nothing_is_kept(clinic: Clinic, mo: Person, key: str, text: str) -> None:
    with pytest.raises(Refusal):
        chosen(clinic, mo, key, text)
    assert choices_of(clinic) == {}


def test_a_label_never_loses_its_second_identifier(clinic: Clinic, mo: Person) -> None:
    chosen(clinic, mo, "label_record_number", "no")
    with pytest.raises(Refusal, match="2 identifiers"):
        chosen(clinic, mo, "label_name", "no")
    assert policy_of(clinic).label_identifiers == ("name", "birth_on")


@pytest.mark.parametrize("role", [Role.PREPARER, Role.CLINICIAN, Role.ASSISTANT])
def test_only_a_manager_changes_settings(clinic: Clinic, role: Role) -> None:
    person = make_person(clinic, username="one", role=role)
    with pytest.raises(Refusal, match="role"):
        chosen(clinic, person, "hold_h", "3")
