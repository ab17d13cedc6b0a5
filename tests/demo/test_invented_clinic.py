"""The invented clinic is made by the services that a clinic uses."""

from collections.abc import Mapping
from datetime import timedelta

import pytest
from django.contrib.auth import authenticate
from tests.builders import AT

from plasmawright.demo.bench import lay_out_bench
from plasmawright.demo.clinic import PEOPLE, Invented, invent_clinic
from plasmawright.demo.visits import visit_texts
from plasmawright.exchange.toml.decode import decode
from plasmawright.records.models import Clinic, Membership, Person, Role, SupplyKind
from plasmawright.records.selectors.checks import checks_due
from plasmawright.records.selectors.intake import intakes_of
from plasmawright.records.selectors.ledger import ledger_verdict
from plasmawright.records.selectors.lots import below_reorder, lots_in_use, lots_of_run, refusals_of
from plasmawright.records.selectors.patients import name_alerts, patients, reference_of
from plasmawright.records.selectors.people import clinic_named
from plasmawright.records.selectors.plans import plans_of, visits_of
from plasmawright.records.selectors.runs import ended_runs, signature, stand
from plasmawright.records.selectors.shelf import bench_sections, rotors, tube_kinds
from plasmawright.records.selectors.tablets import tablet_of_token
from plasmawright.records.services.people import add_person, open_clinic

pytestmark = [pytest.mark.database, pytest.mark.django_db]


@pytest.fixture
def invented() -> Invented:
    """Return the invented clinic's sign-ins once it is made."""
    return invent_clinic(AT)


@pytest.mark.slow
def test_the_first_day_shows_people_who_can_sign_in_and_three_planned_visits(invented: Invented) -> None:
    clinic = clinic_named("Invented Clinic")
    assert clinic is not None
    assert [sign_in.role for sign_in in invented.sign_ins] == list(Role)
    assert Membership.objects.of(clinic).count() == len(Role)
    for sign_in in invented.sign_ins:
        assert authenticate(username=sign_in.name, password=sign_in.password) is not None
    assert [rotor.angle_deg for rotor in rotors(clinic)] == [45.0, 90.0]
    assert len(tube_kinds(clinic)) == 3
    assert len(visits_of(clinic)) == len(visit_texts()) == len(plans_of(clinic))
    for plan in plans_of(clinic):
        assert len(plan.answer["alternatives"]) >= 3  # the contract promises at least three
    assert tablet_of_token(clinic, invented.tablet_code) is not None
    assert ledger_verdict().broken is None


@pytest.mark.slow
def test_the_first_day_has_a_visit_that_waits_and_a_run_that_is_finished(invented: Invented) -> None:
    clinic = clinic_named("Invented Clinic")
    assert clinic is not None
    assert invented.tablet_code
    waiting, *others = patients(clinic)
    assert any(name_alerts([waiting, *others]).values()), "two of the names are alike, so that the alert is seen"
    (finished,) = ended_runs(clinic)
    signed = signature(finished)
    assert signed is not None
    assert signed.witnessed
    facts = stand(finished)
    assert facts.ended_at is not None
    assert facts.ended_at < AT  # it was finished before the demo opened
    assert lots_of_run(finished)
    opened = [intake for patient in (waiting, *others) for intake in intakes_of(patient) if intake.decision == "go_on"]
    assert len(opened) == 3
    assert {plan.visit.reference for plan in plans_of(clinic)} == {reference_of(one) for one in (waiting, *others)}


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


def test_the_invented_shelf_is_ready_for_a_run_with_one_lot_nearly_out_of_date_and_one_supply_short() -> None:
    clinic, person = _clinic_and_person()
    lay_out_bench(clinic, person, AT)
    lots = lots_in_use(clinic, AT.date())
    assert {lot.supply.kind for lot in lots} == set(SupplyKind.values) - {SupplyKind.OTHER}
    assert refusals_of(lots, AT.date()) == ()
    assert min(lot.expires_on for lot in lots if lot.expires_on) == AT.date() + timedelta(days=6)
    assert [stands.supply.name for stands in below_reorder(clinic, AT.date())] == ["second tube"]
    assert checks_due(clinic, AT.date()) == []
    assert all(rotor.centrifuge is not None for rotor in rotors(clinic))


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
