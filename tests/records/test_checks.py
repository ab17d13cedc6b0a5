"""Checks written down: judged by the clinic's tolerance, kept as they were, told when a run is opened."""

import math
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from tests.builders import AT, make_clinic, make_person

from plasmawright.errors import Refusal, Refusals
from plasmawright.practice.bore import Levels, water_density_kg_m3
from plasmawright.practice.checks import CheckKind
from plasmawright.records.models import Centrifuge, Check, Clinic, Person, Role, TubeKind
from plasmawright.records.selectors.checks import checks_due, last_bore, last_checks, opening_cautions, opening_refusals
from plasmawright.records.selectors.ledger import history_of
from plasmawright.records.services.checks import check_centrifuge, check_scale, keep_bore, keep_certificate
from plasmawright.records.services.shelf import add_centrifuge, add_rotor, add_tube_kind, place_rotor

pytestmark = [pytest.mark.database, pytest.mark.django_db]

TODAY = AT.date()


@pytest.fixture
def clinic() -> Clinic:
    return make_clinic()


@pytest.fixture
def person(clinic: Clinic) -> Person:
    return make_person(clinic)


@pytest.fixture
def centrifuge(clinic: Clinic, person: Person) -> Centrifuge:
    return add_centrifuge(clinic=clinic, name="bench", serial_number="", by=person, at=AT)


def a_speed(centrifuge: Centrifuge, person: Person, **changes: Any) -> Check:
    given = {"kind": CheckKind.SPEED, "set_to": 1500.0, "read": 1510.0, "done_on": TODAY, **changes}
    return check_centrifuge(centrifuge=centrifuge, by=person, at=AT, **given)


def all_done(clinic: Clinic, centrifuge: Centrifuge, person: Person) -> None:
    """Write down one passed check of everything."""
    a_speed(centrifuge, person)
    a_speed(centrifuge, person, kind=CheckKind.TIMER, set_to=600.0, read=601.0)
    check_scale(clinic=clinic, name="bench scale", nominal_g=50, read_g=50.02, done_on=TODAY, by=person, at=AT)
    keep_certificate(
        clinic=clinic, name="hood", number="C-1", done_on=TODAY, expires_on=date(2027, 2, 1), passed=True, by=person,
        at=AT,
    )  # fmt: skip


def test_a_check_keeps_what_was_set_read_and_chosen(clinic: Clinic, centrifuge: Centrifuge, person: Person) -> None:
    check = a_speed(centrifuge, person, tolerance_frac=0.02)
    assert (check.set_to, check.read, check.tolerance, check.passed) == (1500, 1510, 0.02, True)
    assert check.due_on == date(2027, 3, 4)  # a year on
    assert "1500 rpm set, 1510 rpm read" in check.reading_text
    assert len(history_of(check, clinic)) == 1
    assert a_speed(centrifuge, person).tolerance == 0.05  # until a clinic chooses, the row of practice


def test_nothing_is_due_when_everything_was_checked(clinic: Clinic, centrifuge: Centrifuge, person: Person) -> None:
    assert {check.about for check in checks_due(clinic, TODAY)} == {"bench", "the hood", "the scale"}
    assert len(opening_cautions(clinic, rotor=None, on=TODAY)) == 4
    all_done(clinic, centrifuge, person)
    assert checks_due(clinic, TODAY) == []
    assert opening_cautions(clinic, rotor=None, on=TODAY) == ()
    assert opening_refusals(clinic, rotor=None) == ()
    assert {check.about for check in last_checks(clinic)} == {"bench", "hood", "bench scale"}


def test_a_check_past_due_is_told_at_the_opening_and_does_not_stop_it(
    clinic: Clinic, centrifuge: Centrifuge, person: Person
) -> None:
    all_done(clinic, centrifuge, person)
    (scale,) = opening_cautions(clinic, rotor=None, on=date(2026, 6, 5))  # three months and a day
    assert scale.text.startswith("Scale check of bench scale: was due by 2026-06-04")
    assert len(opening_cautions(clinic, rotor=None, on=date(2027, 3, 5))) == 4
    assert opening_refusals(clinic, rotor=None) == ()


def test_a_failed_check_stops_until_one_passes(clinic: Clinic, centrifuge: Centrifuge, person: Person) -> None:
    all_done(clinic, centrifuge, person)
    a_speed(centrifuge, person, read=1700.0)
    (refusal,) = opening_refusals(clinic, rotor=None)
    assert refusal.field == "checks.speed"
    a_speed(centrifuge, person)  # later the same day
    assert opening_refusals(clinic, rotor=None) == ()


def test_another_centrifuges_failure_stops_only_runs_that_might_turn_in_it(
    clinic: Clinic, centrifuge: Centrifuge, person: Person
) -> None:
    other = add_centrifuge(clinic=clinic, name="old", serial_number="", by=person, at=AT)
    a_speed(other, person, read=1700.0)
    rotor = add_rotor(clinic=clinic, name="swing", bottom_radius_mm=160, max_rcf=3000, places=8, by=person, at=AT)
    assert len(opening_refusals(clinic, rotor=rotor)) == 1  # nobody said where it turns
    place_rotor(rotor=rotor, centrifuge=centrifuge, by=person, at=AT)
    assert opening_refusals(clinic, rotor=rotor) == ()
    place_rotor(rotor=rotor, centrifuge=other, by=person, at=AT)
    assert len(opening_refusals(clinic, rotor=rotor)) == 1


def test_a_scale_that_shows_too_much_and_a_hood_that_failed_stop(clinic: Clinic, person: Person) -> None:
    scale = check_scale(clinic=clinic, name="Scale", nominal_g=50, read_g=50.2, done_on=TODAY, by=person, at=AT)
    assert not scale.passed
    keep_certificate(
        clinic=clinic, name="hood", number="C-1", done_on=TODAY, expires_on=TODAY, passed=False, by=person, at=AT
    )
    assert {refusal.field for refusal in opening_refusals(clinic, rotor=None)} == {"checks.scale", "checks.hood"}
    # the same scale, spelled otherwise
    check_scale(clinic=clinic, name="scale", nominal_g=50, read_g=50, done_on=TODAY, by=person, at=AT)
    assert {refusal.field for refusal in opening_refusals(clinic, rotor=None)} == {"checks.hood"}


def test_what_cannot_be_is_refused(clinic: Clinic, centrifuge: Centrifuge, person: Person) -> None:
    with pytest.raises(Refusal, match="lies ahead"):
        a_speed(centrifuge, person, done_on=TODAY + timedelta(days=2))
    with pytest.raises(Refusal, match=r"check\.kind"):
        a_speed(centrifuge, person, kind=CheckKind.SCALE)
    with pytest.raises(Refusal, match=r"hood\.expires_on"):
        keep_certificate(
            clinic=clinic, name="hood", number="C-1", done_on=TODAY, expires_on=TODAY - timedelta(days=1), passed=True,
            by=person, at=AT,
        )  # fmt: skip
    with pytest.raises(Refusal, match=r"scale\.name"):
        check_scale(clinic=clinic, name=" ", nominal_g=50, read_g=50, done_on=TODAY, by=person, at=AT)
    assistant = make_person(clinic, username="ash", role=Role.ASSISTANT)
    with pytest.raises(Refusal, match="role"):
        a_speed(centrifuge, assistant)


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "speed", "name": "bench"},  # whose?
        {"kind": "hood", "name": ""},
        {"kind": "hood", "name": "hood", "due_on": None},
        {"kind": "scale", "name": "scale"},  # without what was read
        {"kind": "horoscope", "name": "bench"},
        {"kind": "hood", "name": "hood", "reading_text": ""},
    ],
)
def test_a_check_that_could_never_be_is_refused_by_the_database(
    clinic: Clinic, person: Person, wrong: dict[str, Any]
) -> None:
    given = {"done_on": TODAY, "due_on": TODAY, "reading_text": "as read", "passed": True, **wrong}
    with pytest.raises(IntegrityError), transaction.atomic():
        Check(clinic=clinic, written_at=AT, by=person, **given).save(force_insert=True)


def a_kind(clinic: Clinic, person: Person, **changes: Any) -> TubeKind:
    given = {"name": "collection", "inner_diameter_mm": 12.5, "bottom": "round", "capacity_ml": 11.0, **changes}
    return add_tube_kind(clinic=clinic, graduated=False, by=person, at=AT, **given)


def filled(diameter_mm: float, lower_mm: float = 20, upper_mm: float = 70) -> Levels:
    g_per_mm = math.pi / 4 * diameter_mm**2 * water_density_kg_m3(22) * 1e-6
    return Levels(lower_mm=lower_mm, lower_g=lower_mm * g_per_mm, upper_mm=upper_mm, upper_g=upper_mm * g_per_mm)


def test_a_bore_by_water_is_written_into_its_kind_beside_its_readings(clinic: Clinic, person: Person) -> None:
    kind = a_kind(clinic, person)
    assert last_bore(kind) is None
    check = keep_bore(tube_kind=kind, tubes=[filled(13.0)], temperature_c=22, by=person, at=AT)
    kept = TubeKind.objects.of(clinic).get()
    assert kept.inner_diameter_mm == 13.0
    assert last_bore(kept) == check
    assert "13.00 ± 0.0" in check.reading_text
    assert "20 mm" in check.reading_text
    assert len(history_of(kept, clinic)) == 2  # added, then measured


def test_a_bore_that_does_not_go_with_its_tube_leaves_the_tube_as_it_was(clinic: Clinic, person: Person) -> None:
    cone = {"bottom": "conical", "cone_height_mm": 22.0, "tip_diameter_mm": 9.0, "inner_diameter_mm": 14.6}
    kind = a_kind(clinic, person, name="conical", **cone)
    with pytest.raises(Refusals, match=r"straight only above 22\.0 mm"):
        keep_bore(tube_kind=kind, tubes=[filled(14.5)], temperature_c=22, by=person, at=AT)
    with pytest.raises(Refusals, match="tip_diameter_mm"):
        keep_bore(tube_kind=kind, tubes=[filled(9.1, lower_mm=30)], temperature_c=22, by=person, at=AT)
    kept = TubeKind.objects.of(clinic).get()
    assert kept.inner_diameter_mm == 14.6
    assert last_bore(kept) is None
