"""How a run is opened and how it ends: released, let past a limit, discarded; refusals keep what was typed."""

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from tests.builders import (
    make_patient,
    make_person,
    make_plan,
    make_visit,
    moment_after,
    real_answer,
)
from tests.web.bench_desk import OTHER_PIN, PIN, Bench

from plasmawright.bench.steps import Step
from plasmawright.records.models import Run, SupplyKind
from plasmawright.records.selectors.runs import signature, stand
from plasmawright.records.services.lots import add_supply, receive_lot
from plasmawright.records.services.pins import set_pin
from plasmawright.records.services.settings import set_setting

pytestmark = [pytest.mark.database, pytest.mark.django_db, pytest.mark.usefixtures("clock")]


def released(bench: Bench, **changes: str) -> Any:
    """Post the release form, whole unless said otherwise."""
    form = {
        "label_read": "yes", "clock_read": "yes", "prp_ml": "2.9", "signer": str(bench.cleo.pk), "pin": OTHER_PIN,
    } | changes  # fmt: skip
    return bench.post("release", **{name: value for name, value in form.items() if value})


def test_a_second_persons_pin_on_an_enrolled_tablet_releases(bench: Bench) -> None:
    bench.enrol()
    bench.at(Step.RELEASE)
    assert released(bench).status_code == 302
    kept = signature(bench.run)
    assert kept is not None
    assert kept.witnessed
    page = bench.page()
    assert "Witnessed by a second person." in page
    assert f"/bench/{bench.run.pk}/record-a4.pdf" in page
    assert f"/bench/{bench.run.pk}/labels-a4.pdf" in page
    assert "2.9" in page


def test_the_preparer_is_not_offered_as_the_second_person(bench: Bench) -> None:
    bench.enrol()
    page = bench.at(Step.RELEASE).page()
    choices = re.search(r'<select id="signer".*?</select>', page, re.S)
    assert choices is not None
    assert "Cleo Example" in choices.group(0)
    assert "Pim Example" not in choices.group(0)


def test_a_tablet_that_is_not_enrolled_cannot_release(bench: Bench) -> None:
    page = bench.at(Step.RELEASE).page()
    assert "A PIN counts only on an enrolled tablet." in page
    answer = released(bench)
    assert answer.status_code == 422
    assert not stand(bench.run).ended


def test_a_wrong_pin_is_refused_and_what_was_read_back_stays(bench: Bench) -> None:
    bench.enrol()
    bench.at(Step.RELEASE)
    answer = released(bench, pin=PIN, prp_ml="2.7")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="2.7"' in page
    assert re.search(r'name="label_read" value="yes" checked', page)
    assert PIN not in page, "a PIN is typed anew"


def test_a_release_without_reading_the_label_is_refused(bench: Bench) -> None:
    bench.enrol()
    bench.at(Step.RELEASE)
    answer = released(bench, label_read="")
    assert answer.status_code == 422
    assert "label and clock must have been read back" in answer.content.decode()


def test_a_solo_run_waits_before_its_second_read_back_and_is_not_witnessed(
    client: Client, clock: Callable[[float], None]
) -> None:
    bench = Bench(client, solo=True)
    bench.enrol()
    bench.at(Step.RELEASE)
    last = 60.0 * stand(bench.run).position
    clock(last + 20)
    page = bench.page()
    assert "until the second read-back" in page
    assert "Wait 40 s more." in page
    own = {"signer": str(bench.pim.pk), "pin": PIN}
    assert released(bench, **own).status_code == 422
    clock(last + 61)
    assert released(bench, **own).status_code == 302
    assert "Not witnessed." in bench.page()


def test_past_the_hold_limit_only_a_clinicians_reason_lets_it_go_on(
    bench: Bench, clock: Callable[[float], None]
) -> None:
    bench.enrol()
    bench.at(Step.RELEASE)
    clock(5 * 3600.0)
    page = bench.page()
    assert "The hold limit of 4 h since the draw has passed." in page
    form = {"signer": str(bench.cleo.pk), "pin": OTHER_PIN}
    silent = bench.post("override", **form, reason=" ")
    assert silent.status_code == 422
    assert bench.post("override", **form, reason="the patient fainted and is well").status_code == 302
    assert "Go past the hold limit" not in bench.page()
    assert released(bench).status_code == 302
    assert "the patient fainted and is well" in bench.page()


def test_discarding_needs_its_disposal_in_words(bench: Bench) -> None:
    bench.at(Step.TAKE_OFF)
    assert bench.post("discard", disposal="").status_code == 422
    assert bench.post("discard", disposal="yellow bin, autoclaved").status_code == 302
    page = bench.page()
    assert "Nothing of this run is given to anybody." in page
    assert "yellow bin, autoclaved" in page


def opened(bench: Bench, **form: str) -> Any:
    """Press the button of the opening page for a new patient and plan."""
    visit = make_visit(bench.clinic, bench.cleo)
    plan = make_plan(visit, bench.cleo, answer=real_answer())
    patient, intake = bench.run.patient, bench.run.intake
    assert patient is not None
    assert intake is not None
    named = {"patient": str(patient.pk), "plan": str(plan.pk), "intake": str(intake.pk)}
    return bench.client.post("/bench/open/", {**named, **form})


def test_one_button_opens_a_run_with_the_lots_the_plan_takes(bench: Bench) -> None:
    bench.at(Step.LABEL)
    bench.post("discard", disposal="yellow bin")
    at = moment_after().at
    supply = add_supply(
        clinic=bench.clinic, name="collection", kind=SupplyKind.BLOOD_TUBE, touches_blood=True, reorder_level=2,
        by=bench.pim, at=at,
    )  # fmt: skip
    expires_on = at.date() + timedelta(days=90)
    receive_lot(supply=supply, number="L-77", expires_on=expires_on, quantity=20, by=bench.pim, at=at)
    visit = make_visit(bench.clinic, bench.cleo)
    plan = make_plan(visit, bench.cleo, answer=real_answer())
    patient = bench.run.patient
    assert patient is not None
    page = bench.client.get(f"/bench/open/?patient={patient.pk}&plan={plan.pk}").content.decode()
    tubes = real_answer()["chosen"]["tubes"]
    assert f'name="lot-{supply.pk}" inputmode="numeric" value="{tubes}"' in page
    assert "L-77" in page
    assert "read back twice" not in page, "the clinic lets nobody check their own run"
    answer = opened(bench, **{f"lot-{supply.pk}": str(tubes)})
    assert answer.status_code == 302
    run = Run.objects.of(bench.clinic).latest("pk")
    assert answer["Location"] == f"/bench/{run.pk}/"


def test_two_runs_of_one_patient_at_once_are_refused_and_what_was_chosen_stays(bench: Bench) -> None:
    set_setting(clinic=bench.clinic, key="solo", value_text="yes", by=bench.mo, at=moment_after().at)
    answer = opened(bench, people="one")
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "is still open" in page
    assert re.search(r'value="one" checked', page)


def test_one_person_alone_opens_no_run_where_the_clinic_wants_two(bench: Bench) -> None:
    answer = opened(bench, people="one")
    assert answer.status_code == 422
    assert "this clinic lets nobody check their own run" in answer.content.decode()


def test_an_intake_that_nobody_signed_is_told_before_the_button(bench: Bench) -> None:
    patient = make_patient(bench.clinic, bench.pim, name="Bea Blank", record_number="R-9")
    plan = bench.run.plan
    page = bench.client.get(f"/bench/open/?patient={patient.pk}&plan={plan.pk}").content.decode()
    assert "Go through the intake first." in page
    assert re.search(r'<button class="tap next" type="submit" disabled', page)


def test_with_the_dose_unknown_only_a_clinician_is_offered_to_sign(bench: Bench) -> None:
    kit = make_person(bench.clinic, "kit")  # may release where the dose is known
    set_pin(person=kit, clinic=bench.clinic, pin="481603", by="test", at=moment_after().at)
    bench.enrol()
    bench.at(Step.SWIRL)
    bench.tap("measured", {"what": "swirl_look", "value": "clumps"})
    page = bench.at(Step.RELEASE).page()
    assert "The dose is unknown: a clinician looks and signs" in page
    choices = re.search(r'<select id="signer".*?</select>', page, re.DOTALL)
    assert choices is not None
    assert re.findall(r">(\w+ Example)<", choices.group(0)) == ["Cleo Example"]


def test_a_stopped_run_asks_how_it_was_disposed_of(bench: Bench) -> None:
    bench.at(Step.LABEL)
    bench.tap("mishap", {"mishap": "faint"}, key="m")
    bench.tap("chosen", {"mishap": "faint", "choice": "stop"}, key="c")
    assert "How it was disposed of" in bench.page()
    assert bench.post("discard", disposal="yellow bin").status_code == 302
    assert "yellow bin" in bench.page()
