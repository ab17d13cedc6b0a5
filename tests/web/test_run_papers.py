"""Papers of a run and of a day, asked for through the front door."""

import shutil
import uuid
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from django.test import Client
from django.utils import timezone
from tests.builders import (
    AT,
    bring_to,
    make_clinic,
    make_patient,
    make_person,
    make_plan,
    make_run,
    make_visit,
    moment_after,
    real_answer,
    tell,
)
from tests.documents.printed_pages import codes_in, pictures_of
from tests.documents.read_back import standards_of, words_of

from plasmawright.bench.entries import Kind
from plasmawright.bench.steps import Step
from plasmawright.documents.render import render_downtime_pack, render_labels, render_record
from plasmawright.records.models import ChainHead, Clinic, Person, Plan, Role, Run
from plasmawright.records.selectors.patients import reference_of
from plasmawright.records.selectors.runs import stand, vessels
from plasmawright.records.services.lots import add_supply, receive_lot, use_lot
from plasmawright.records.services.plans import save_visit
from plasmawright.records.services.run_entries import Told, take_entry
from plasmawright.records.services.runs import keep_foresight
from plasmawright.records.services.signatures import discard_run
from plasmawright.web.downtime_papers import downtime_pack, plans_waiting
from plasmawright.web.run_labels import labels_of
from plasmawright.web.run_record import record_of

pytestmark = [pytest.mark.django_db, pytest.mark.database]

LATER_AT = AT + timedelta(hours=2)


class Bench:
    """A clinic with a preparer and a clinician."""

    def __init__(self) -> None:
        self.clinic: Clinic = make_clinic()
        self.pim: Person = make_person(self.clinic)
        self.cleo: Person = make_person(self.clinic, "cleo", Role.CLINICIAN)

    def run(self, *, solo: bool = False, practice: bool = False, **patient: str) -> Run:
        """Open a run."""
        return make_run(self.clinic, self.pim, self.cleo, solo=solo, practice=practice, **patient)

    def plan_for_nobody_yet(self, reference: str) -> Plan:
        """Save a plan that waits, under a reference."""
        document = dict(make_visit(self.clinic, self.cleo).document)
        document["patient"] = {**document["patient"], "reference": reference}
        visit = save_visit(clinic=self.clinic, document=document, text="a visit", by=self.cleo, at=AT)
        return make_plan(visit, self.cleo, answer=real_answer())


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """Return a bench whose ledger has a folder of its own."""
    monkeypatch.setenv("PLASMAWRIGHT_DATA", str(tmp_path))
    return Bench()


def record_words(run: Run) -> str:
    """Return all words of a run's record."""
    run.refresh_from_db()
    return " ".join(words_of(render_record(record_of(run, at=LATER_AT), paper="a4")))


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_paper_comes_as_a_tagged_pdf(bench: Bench, client: Client, paper: str) -> None:
    client.force_login(bench.pim)
    run = bench.run()
    for address in (
        f"/bench/{run.pk}/record-{paper}.pdf",
        f"/bench/{run.pk}/labels-{paper}.pdf",
        f"/bench/{run.pk}/labels-{paper}.pdf?from=5",
        f"/bench/{run.pk}/labels-{paper}.pdf?single=1",
        f"/bench/commands-{paper}.pdf",
        f"/today/downtime-{paper}.pdf",
    ):
        answer = client.get(address)
        assert (answer.status_code, answer.headers["Content-Type"]) == (200, "application/pdf"), address
        assert standards_of(answer.content) == (True, True, True)


def test_papers_of_another_clinic_or_of_no_paper_are_not_found(bench: Bench, client: Client) -> None:
    run = bench.run()
    client.force_login(bench.pim)
    assert client.get(f"/bench/{run.pk}/record-a3.pdf").status_code == 404
    client.force_login(make_person(make_clinic("South Clinic"), "sam"))
    assert client.get(f"/bench/{run.pk}/record-a4.pdf").status_code == 404
    assert client.get(f"/bench/{run.pk}/labels-a4.pdf").status_code == 404


@pytest.mark.parametrize("given", ["0", "28", "-1", "x", "", "٣", "99999999999"])
def test_a_position_that_is_not_there_is_refused_with_a_way_out(bench: Bench, client: Client, given: str) -> None:
    client.force_login(bench.pim)
    answer = client.get(f"/bench/{bench.run().pk}/labels-a4.pdf", {"from": given})
    assert answer.status_code == 422
    assert "Count along the rows" in answer.content.decode()


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler-utils is not installed")
def test_every_vessel_of_a_run_reads_back_from_its_label(bench: Bench, tmp_path: Path) -> None:
    run = bench.run()
    pages = pictures_of(render_labels(labels_of(run, paper="a4", first=1, at=AT), paper="a4"), tmp_path)
    assert codes_in(pages[0]) == sorted(vessel.code for vessel in vessels(run))


def test_labels_carry_times_only_once_they_are_true(bench: Bench) -> None:
    run = bench.run()
    fresh = labels_of(run, paper="a4", first=1, at=AT).labels
    assert {(label.prepared, label.use_by, label.volume) for label in fresh} == {("", "", "")}
    bring_to(run, Step.ACTIVATION, bench.pim)
    run.refresh_from_db()
    filled = {label.vessel: label for label in labels_of(run, paper="a4", first=1, at=AT).labels}
    drawn_from = stand(run).drawn_from
    assert drawn_from is not None
    until = drawn_from + timedelta(hours=run.policy_document["hold_h"])
    assert filled["syringe 1 of 2"].use_by == f"{until:%Y-%m-%d %H:%M} UTC"
    assert filled["syringe 1 of 2"].prepared > f"{drawn_from:%Y-%m-%d %H:%M} UTC"
    assert (filled["syringe 1 of 2"].volume, filled["syringe 1 of 2"].product) == ("3.0 mL", "PRP")
    assert filled["tube 1 of 3"].volume == "8.5 mL"


def test_labels_carry_what_the_clinic_chose_and_a_name_alert(bench: Bench) -> None:
    run = bench.run()
    (who,) = {label.identifiers for label in labels_of(run, paper="a4", first=1, at=AT).labels}
    chosen = run.policy_document["label_identifiers"]
    assert len(who) == len(chosen) >= 2
    assert not labels_of(run, paper="a4", first=1, at=AT).labels[0].name_alert
    make_patient(bench.clinic, bench.pim, name="Ada Exampel", record_number="R-2")
    assert all(label.name_alert for label in labels_of(run, paper="a4", first=1, at=AT).labels)


def test_the_record_shows_plan_entries_amendments_and_what_came_late(bench: Bench) -> None:
    run = bench.run()
    bring_to(run, Step.LOOK, bench.pim)
    tell(run, Kind.MEASURED, bench.pim, what="interface_mm", value=36.0)
    place = stand(run).position
    tell(run, Kind.AMENDED, bench.cleo, position=place, body={"value": 35.0}, words="read from below")
    tell(run, Kind.DONE, bench.pim, step=Step.DRAW)  # the run has moved on
    tell(run, Kind.DIFFERS, bench.pim, words="lamp was out")
    late = Told(
        kind=Kind.MEASURED, step=Step.LOOK, body={"what": "plasma_look", "value": "clear"}, key=uuid.uuid4().hex,
        by=bench.pim, carried_by=bench.cleo, true_at=AT + timedelta(minutes=15),
    )  # fmt: skip
    take_entry(run=run, arrived=late, moment=moment_after(6000))
    words = record_words(run)
    assert words.index("red seen at 36 mm") < words.index("red seen at 35 mm (read from below; Cleo Example)")
    for said in (
        "1280 rpm", "expect the red at", "under review", "something differs: lamp was out", "plasma clear",
        "entered later, at 11:10:00", "Pim Example (sent in by Cleo Example)", "The red was seen at 35 mm",
        "1 of 16 entries were entered later" if stand(run).position == 16 else "entries were entered later",
    ):  # fmt: skip
        assert said in words, said


def test_the_record_shows_lots_vessels_intake_and_the_head_of_the_ledger(bench: Bench) -> None:
    run = bench.run()
    supply = add_supply(
        clinic=bench.clinic, name="citrate tube", kind="blood_tube", touches_blood=True, reorder_level=4,
        by=bench.cleo, at=AT,
    )  # fmt: skip
    lot = receive_lot(supply=supply, number="L-77", expires_on=date(2027, 1, 31), quantity=20, by=bench.cleo, at=AT)
    use_lot(run=run, lot=lot, quantity=3, by=bench.pim, at=AT)
    words = record_words(run)
    head = ChainHead.objects.of(bench.clinic).get()
    assert f"Ledger line {head.seq}, {head.digest}" in words
    for said in ("citrate tube L-77 2027-01-31 3", "go on: Cleo Example", "given 2026-03-04 09:30 UTC", "Ada Example"):
        assert said in words, said
    for vessel in vessels(run):
        assert vessel.code in words


def test_a_discarded_run_shows_its_disposal_and_that_nobody_witnessed(bench: Bench) -> None:
    run = bench.run(solo=True)
    bring_to(run, Step.RELEASE, bench.pim)
    run.refresh_from_db()
    disposal = "clinical waste, yellow bin"
    discard_run(run=run, disposal=disposal, tablet=None, by=bench.pim, moment=moment_after(7000))
    words = record_words(run)
    assert f"{disposal}" in words
    assert "not witnessed" in words
    assert "Solo setting" in words


def test_a_lost_dose_is_told_as_unknown(bench: Bench) -> None:
    run = bench.run()
    bring_to(run, Step.SWIRL, bench.pim)
    tell(run, Kind.MEASURED, bench.pim, what="swirl_look", value="clumps")
    words = record_words(run)
    assert "dose unknown" in words
    assert "by the plan" not in words


def test_predictions_stand_before_and_after_what_was_seen(bench: Bench) -> None:
    run = bench.run()
    bring_to(run, Step.LOOK, bench.pim)
    tell(run, Kind.MEASURED, bench.pim, what="interface_mm", value=36.0)
    before = {"prp_platelets_1e9": {"p05": 2.9, "p50": 3.6, "p95": 4.4}, "prp_ml": {"p05": 3.4, "p50": 3.5, "p95": 3.6}}
    after = {**before, "prp_platelets_1e9": {"p05": 3.1, "p50": 3.4, "p95": 3.8}}
    document = {"before": before, "after": after, "regime_words": "Under-spun: a height helps."}
    keep_foresight(run=run, upto_position=stand(run).position, document=document, by=bench.pim, at=LATER_AT)
    words = record_words(run)
    assert "3.6 billion (2.9 to 4.4) 3.4 billion (3.1 to 3.8)" in words
    assert "Under-spun: a height helps." in words
    assert "predicted 3.4 billion (3.1 to 3.8)" in words


def test_clocks_are_told_against_their_limits(bench: Bench) -> None:
    run = bench.run()
    bring_to(run, Step.FILL, bench.pim)
    opened_at = stand(run).cap_off_at
    assert opened_at is not None
    tell(run, Kind.DONE, bench.pim, seconds=(opened_at - AT).total_seconds() + 61 * 60)
    run.refresh_from_db()
    words = " ".join(words_of(render_record(record_of(run, at=AT + timedelta(hours=9)), paper="a4")))
    assert "1 h 1 min, past the caution; caution at 60 min, common practice without a source" in words
    assert "of 4 h, from 2026-03-04 09:32 UTC, over the limit. The limit's source" in words


def test_a_clock_that_jumped_is_told(bench: Bench) -> None:
    run = bench.run()
    there = moment_after(60)
    arrived = Told(kind=Kind.DONE, step=Step.IDENTIFY, body={}, key="k", by=bench.pim, carried_by=bench.pim)
    take_entry(run=run, arrived=arrived, moment=replace(there, at=there.at + timedelta(hours=1)))
    assert "This machine's clock jumped 60 min ahead" in record_words(run)


def test_practice_is_marked_on_every_page_of_record_and_labels(bench: Bench) -> None:
    run = bench.run(practice=True)
    for page in words_of(render_record(record_of(run, at=LATER_AT), paper="a4")):
        assert "PRACTICE" in page
    for page in words_of(render_labels(labels_of(run, paper="a4", first=1, at=AT), paper="a4")):
        assert "PRACTICE" in page


def test_the_pack_holds_open_runs_and_waiting_plans_and_no_practice(bench: Bench) -> None:
    run = bench.run()
    bench.run(practice=True)
    waits = make_patient(bench.clinic, bench.pim, name="Bo Waiting", record_number="R-9")
    bench.plan_for_nobody_yet(reference_of(waits))
    pack = downtime_pack(bench.clinic, day=AT.date(), paper="a4", at=LATER_AT)
    by_title = {one.title: one for one in pack.runs}
    assert f"run {run.code}" in by_title
    waiting = by_title[reference_of(waits)]
    assert waiting.labels is not None
    assert {label.code for label in waiting.labels.labels} == {None}
    assert "Bo Waiting" in waiting.identifiers
    words = " ".join(words_of(render_downtime_pack(pack, paper="a4")))
    assert "PRACTICE" not in words
    assert "compare both identifiers" in words


def test_a_plan_waits_until_its_run_is_opened_and_only_for_a_day(bench: Bench) -> None:
    bench.plan_for_nobody_yet("V-0099")
    newest = bench.plan_for_nobody_yet("V-0099")
    waiting = {one.plan.visit.reference: one.plan for one in plans_waiting(bench.clinic, AT.date())}
    assert waiting["V-0099"] == newest
    assert "V-0099" in [one.plan.visit.reference for one in plans_waiting(bench.clinic, AT.date() + timedelta(days=1))]
    assert plans_waiting(bench.clinic, AT.date() + timedelta(days=2)) == []
    bench.run()  # of V-0007, the example's visit
    assert "V-0007" not in {one.plan.visit.reference for one in plans_waiting(bench.clinic, AT.date())}


def test_a_day_without_anything_still_prints(bench: Bench, client: Client) -> None:
    client.force_login(bench.pim)
    words = " ".join(words_of(client.get("/today/downtime-letter.pdf").content))
    assert "No run is planned for this day." in words
    assert f"{timezone.now():%Y-%m-%d}" in words
