"""What stands on the shelf, and what the database itself would never let stand there."""

from typing import Any

import pytest
from django.db import IntegrityError, transaction
from tests.builders import AT, make_clinic, make_person

from plasmawright.errors import OutOfRange, Refusal, Refusals
from plasmawright.records.models import Clinic, Person, Rotor, TubeKind
from plasmawright.records.selectors.ledger import history_of
from plasmawright.records.selectors.shelf import adapter, bench_sections, rotors, tube_kinds
from plasmawright.records.services.shelf import add_adapter, add_rotor, add_tube_kind

pytestmark = [pytest.mark.database, pytest.mark.django_db]

ROTOR = {"bottom_radius_mm": 160.0, "max_rcf": 3000.0, "places": 8}
CONICAL: dict[str, Any] = {
    "inner_diameter_mm": 14.6, "bottom": "conical", "cone_height_mm": 22.0, "tip_diameter_mm": 2.0,
    "capacity_ml": 15.0, "graduated": True, "max_rcf": 4000.0,
}  # fmt: skip


@pytest.fixture
def clinic() -> Clinic:
    return make_clinic()


@pytest.fixture
def person(clinic: Clinic) -> Person:
    return make_person(clinic)


def a_rotor(clinic: Clinic, person: Person, **changes: Any) -> Rotor:
    return add_rotor(clinic=clinic, by=person, at=AT, **{"name": "swing-out", **ROTOR, **changes})


def a_tube(clinic: Clinic, person: Person, **changes: Any) -> TubeKind:
    return add_tube_kind(clinic=clinic, by=person, at=AT, **{"name": "conical", **CONICAL, **changes})


def test_what_is_added_stands_on_the_shelf_and_in_the_ledger(clinic: Clinic, person: Person) -> None:
    rotor, kind = a_rotor(clinic, person), a_tube(clinic, person)
    carried = add_adapter(rotor=rotor, tube_kind=kind, bottom_radius_mm=150, by=person, at=AT)
    assert rotors(clinic) == [rotor]
    assert tube_kinds(clinic) == [kind]
    assert adapter(rotor, kind) == carried
    for row in (rotor, kind, carried):
        assert len(history_of(row, clinic)) == 1


def test_an_adapters_radius_and_the_lower_limit_stand_in_the_visits_section(clinic: Clinic, person: Person) -> None:
    rotor, kind = a_rotor(clinic, person), a_tube(clinic, person)
    bare = bench_sections(rotor, [kind])
    assert bare["rotor"] == {"bottom_radius_mm": 160.0, "angle_deg": 90.0, "max_rcf": 3000.0}
    assert bare["tubes"] == {"conical": CONICAL}  # what was not measured is left out, as in a file
    add_adapter(rotor=rotor, tube_kind=kind, bottom_radius_mm=150, max_rcf=2500, by=person, at=AT)
    carried = {"conical": {**CONICAL, "bottom_radius_mm": 150.0, "max_rcf": 2500.0}}
    assert bench_sections(rotor, [kind])["tubes"] == carried


def test_a_number_out_of_range_is_refused_in_the_words_of_the_file(clinic: Clinic, person: Person) -> None:
    with pytest.raises(Refusals, match=r"rotor\.bottom_radius_mm is 16; .* Centimetres\? Write 160"):
        a_rotor(clinic, person, bottom_radius_mm=16)
    with pytest.raises(OutOfRange, match=r"rotor\.places"):
        a_rotor(clinic, person, places=0)
    with pytest.raises(Refusals, match=r"tubes\.conical\.cone_height_mm"):
        a_tube(clinic, person, cone_height_mm=None)
    with pytest.raises(OutOfRange, match=r"adapter\.bottom_radius_mm"):
        add_adapter(
            rotor=a_rotor(clinic, person), tube_kind=a_tube(clinic, person), bottom_radius_mm=5, by=person, at=AT
        )


def test_a_name_is_given_and_given_once(clinic: Clinic, person: Person) -> None:
    rotor, kind = a_rotor(clinic, person), a_tube(clinic, person)
    add_adapter(rotor=rotor, tube_kind=kind, bottom_radius_mm=150, by=person, at=AT)
    for again in (
        lambda: a_rotor(clinic, person),
        lambda: a_tube(clinic, person),
        lambda: add_adapter(rotor=rotor, tube_kind=kind, bottom_radius_mm=150, by=person, at=AT),
    ):
        with pytest.raises(Refusal, match="already"):
            again()
    with pytest.raises(Refusal, match="must not be empty"):
        a_rotor(clinic, person, name=" ")


def test_another_clinics_shelf_is_out_of_sight_and_out_of_reach(clinic: Clinic, person: Person) -> None:
    south = make_clinic("South Clinic")
    kind = a_tube(clinic, person)
    cleo = make_person(south, username="cleo")
    rotor = a_rotor(south, cleo)
    assert tube_kinds(south) == []
    assert rotors(clinic) == []
    assert adapter(rotor, kind) is None
    with pytest.raises(Refusal, match="the rotor's own shelf"):
        add_adapter(rotor=rotor, tube_kind=kind, bottom_radius_mm=150, by=cleo, at=AT)
    with pytest.raises(Refusal, match="role is none here"):
        add_adapter(rotor=rotor, tube_kind=kind, bottom_radius_mm=150, by=person, at=AT)


@pytest.mark.parametrize(
    "wrong", [{"bottom_radius_mm": 0}, {"angle_deg": 91}, {"max_rcf": -1}, {"places": 0}, {"name": ""}]
)
def test_a_rotor_that_could_never_be_is_refused_by_the_database(clinic: Clinic, wrong: dict[str, Any]) -> None:
    row = Rotor(clinic=clinic, **{"name": "swing-out", "angle_deg": 90.0, **ROTOR, **wrong})
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()


@pytest.mark.parametrize(
    "wrong",
    [
        {"bottom": "square"},
        {"bottom": "round"},  # with the cone's measures still there
        {"cone_height_mm": None},
        {"tip_diameter_mm": 14.6},  # as wide as the bore: no cone
        {"capacity_ml": 0},
        {"empty_mass_g": 0},
        {"max_rcf": 0},
    ],
)
def test_a_tube_that_could_never_be_is_refused_by_the_database(clinic: Clinic, wrong: dict[str, Any]) -> None:
    row = TubeKind(clinic=clinic, **{"name": "conical", **CONICAL, **wrong})
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()
