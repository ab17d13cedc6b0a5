"""The invented clinic is made by the services that a clinic uses."""

from collections.abc import Mapping

import pytest
from django.contrib.auth import authenticate
from tests.builders import AT

from plasmawright.demo.bench import lay_out_bench
from plasmawright.demo.clinic import PEOPLE, invent_clinic
from plasmawright.demo.visits import visit_texts
from plasmawright.exchange.toml.decode import decode
from plasmawright.records.models import Clinic, Membership, Person, Role
from plasmawright.records.selectors.ledger import ledger_verdict
from plasmawright.records.selectors.people import clinic_named
from plasmawright.records.selectors.plans import plans_of, visits_of
from plasmawright.records.selectors.shelf import bench_sections, rotors, tube_kinds
from plasmawright.records.services.people import add_person, open_clinic

pytestmark = [pytest.mark.database, pytest.mark.django_db]


@pytest.mark.slow
def test_the_first_day_shows_people_who_can_sign_in_a_bench_three_planned_visits_and_a_whole_ledger() -> None:
    sign_ins = invent_clinic(AT)
    clinic = clinic_named("Invented Clinic")
    assert clinic is not None
    assert [sign_in.role for sign_in in sign_ins] == list(Role)
    assert Membership.objects.of(clinic).count() == len(Role)
    for sign_in in sign_ins:
        assert authenticate(username=sign_in.name, password=sign_in.password) is not None
    assert [rotor.angle_deg for rotor in rotors(clinic)] == [45.0, 90.0]
    assert len(tube_kinds(clinic)) == 3
    assert {visit.visit_text for visit in visits_of(clinic)} == set(visit_texts().values())
    assert {plan.visit_id for plan in plans_of(clinic)} == {visit.pk for visit in visits_of(clinic)}
    for plan in plans_of(clinic):
        assert len(plan.answer["alternatives"]) >= 3  # the contract promises at least three
    verdict = ledger_verdict()
    assert verdict.broken is None
    assert verdict.entries == 1 + 2 * 4 + (2 + 3 + 5) + 2 * 3  # clinic; people and roles; shelf; visits and plans


def test_every_invented_visit_stands_on_the_invented_bench() -> None:
    clinic, person = _clinic_and_person()
    lay_out_bench(clinic, person, AT)
    kinds = {kind.name: kind for kind in tube_kinds(clinic)}
    for name, text in visit_texts().items():
        document = decode(text.encode(), name)
        told = document["tubes"]
        assert isinstance(told, Mapping)
        benches = [bench_sections(rotor, [kinds[kind] for kind in told]) for rotor in rotors(clinic)]
        assert {"rotor": document["rotor"], "tubes": told} in benches, name


def test_the_three_visits_are_a_heel_with_its_calf_a_back_and_a_scalp() -> None:
    sites = [decode(text.encode(), name)["sites"] for name, text in visit_texts().items()]
    named = [[str(site["name"]) for site in each] for each in sites if isinstance(each, list)]
    assert [names[0].split(",")[0] for names in named] == ["heel", "lumbar", "scalp"]
    heel = sites[0]
    assert isinstance(heel, list)
    assert [site["product"] for site in heel] == ["prp", "ppp"]


def _clinic_and_person() -> tuple[Clinic, Person]:
    clinic = open_clinic(name="Another", by="test", at=AT)
    username, display_name, role = PEOPLE[0]
    person = add_person(
        clinic=clinic, username=username, display_name=display_name, role=role, password="a long tube", by="test", at=AT
    )
    return clinic, person
