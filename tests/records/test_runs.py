"""Runs kept: each entry once, in order, in the ledger, and nothing moves that may not."""

import uuid
from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from tests.builders import (
    AT,
    bring_to,
    make_clinic,
    make_intake,
    make_patient,
    make_person,
    make_plan,
    make_run,
    make_visit,
    moment_after,
    real_answer,
    tell,
)

from plasmawright.bench.entries import Kind
from plasmawright.bench.steps import ORDER, Step
from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import Entry, Meaning, Role, Run, RunEntry, Signature, Tablet
from plasmawright.records.selectors.ledger import ledger_verdict
from plasmawright.records.selectors.runs import entries, run_of_code, runs_on, signature, stand, vessels
from plasmawright.records.services.pins import set_pin
from plasmawright.records.services.run_entries import Told, take_entry
from plasmawright.records.services.runs import open_run
from plasmawright.records.services.signatures import ReadBack, discard_run, override_hold, release_run
from plasmawright.records.services.tablets import enrol_tablet

pytestmark = [pytest.mark.django_db, pytest.mark.database, pytest.mark.usefixtures("own_folder")]

PIN = "482913"


class Bench:
    """A clinic with a preparer, a clinician and an enrolled tablet, and one run."""

    def __init__(self, **run: object) -> None:
        self.clinic = make_clinic()
        self.pim = make_person(self.clinic)
        self.cleo = make_person(self.clinic, "cleo", Role.CLINICIAN)
        self.mo = make_person(self.clinic, "mo", Role.MANAGER)
        self.tablet: Tablet = enrol_tablet(clinic=self.clinic, name="bench", by=self.mo, at=AT)[0]
        set_pin(person=self.cleo, clinic=self.clinic, pin=PIN, by="test", at=AT)
        set_pin(person=self.pim, clinic=self.clinic, pin="719324", by="test", at=AT)
        self.run: Run = make_run(self.clinic, self.pim, self.cleo, **run)  # type: ignore[arg-type]

    def release(self, seconds: float = 3600.0, **changes: object) -> Signature:
        """Release as the clinician unless said otherwise."""
        given = {
            "signer": self.cleo, "pin": PIN, "tablet": self.tablet, "by": self.pim,
            "read": ReadBack(label=True, clock=True, prp_ml=3.0), "moment": moment_after(seconds),
        }  # fmt: skip
        return release_run(run=self.run, **(given | changes))  # type: ignore[arg-type]


@pytest.fixture
def bench() -> Bench:
    """Return a bench with a fresh run."""
    return Bench()


def test_a_run_opens_with_a_vessel_for_every_tube_and_syringe(bench: Bench) -> None:
    plan = real_answer()["chosen"]
    kinds = [vessel.kind for vessel in vessels(bench.run)]
    assert kinds.count("tube") == plan["tubes"]
    assert kinds.count("second_tube") == plan["hard"]["tubes"]
    assert kinds.count("syringe") == len(plan["sites"])
    assert kinds.count("ppp") == 1
    codes = {vessel.code for vessel in vessels(bench.run)}
    assert len(codes) == len(kinds)
    assert not any(code in str(bench.run.patient) for code in codes)


def test_every_step_of_a_run_stands_in_the_ledger_and_it_verifies(bench: Bench) -> None:
    bring_to(bench.run, Step.RELEASE, bench.pim)
    bench.release()
    kept = entries(bench.run)
    lines = Entry.objects.of(bench.clinic).filter(about_kind="runentry")
    assert [line.about_id for line in lines.order_by("seq")] == [entry.pk for entry in kept]
    assert ledger_verdict().broken is None
    bench.run.refresh_from_db()
    assert bench.run.step == Step.RELEASED


def test_the_step_kept_for_lists_is_the_step_told(bench: Bench) -> None:
    for step in ORDER:
        bring_to(bench.run, step, bench.pim)
        bench.run.refresh_from_db()
        assert bench.run.step == stand(bench.run).step == step


def test_an_entry_that_arrives_twice_is_kept_once(bench: Bench) -> None:
    arrived = Told(kind=Kind.DONE, step=Step.IDENTIFY, body={}, key="one", by=bench.pim, carried_by=bench.pim)
    first = take_entry(run=bench.run, arrived=arrived, moment=moment_after(5))
    again = take_entry(run=bench.run, arrived=arrived, moment=moment_after(9))
    assert (again.seq, again.digest, again.repeat) == (first.seq, first.digest, True)
    assert len(entries(bench.run)) == 1


def test_a_key_of_another_run_is_refused(bench: Bench) -> None:
    other = make_run(bench.clinic, bench.pim, bench.cleo, name="Bo Example", record_number="R-2")
    arrived = Told(kind=Kind.DONE, step=Step.IDENTIFY, body={}, key="one", by=bench.pim, carried_by=bench.pim)
    take_entry(run=bench.run, arrived=arrived, moment=moment_after(5))
    with pytest.raises(Refusal, match="another run"):
        take_entry(run=other, arrived=arrived, moment=moment_after(5))


def test_what_the_run_has_left_behind_is_kept_for_review(bench: Bench) -> None:
    bring_to(bench.run, Step.LABEL, bench.pim)
    late = tell(bench.run, Kind.DONE, bench.pim, step=Step.IDENTIFY)
    assert late.review
    assert stand(bench.run).step is Step.LABEL
    assert entries(bench.run)[-1].review


def test_an_entry_cannot_be_changed_or_deleted(bench: Bench) -> None:
    bring_to(bench.run, Step.DRAW, bench.pim)
    with pytest.raises(IntegrityError if connection.vendor == "sqlite" else Exception, match="never changed"):  # noqa: SIM117
        with transaction.atomic():
            RunEntry.objects.of(bench.clinic).update(step="load")


def test_one_patient_has_one_open_run(bench: Bench) -> None:
    assert bench.run.patient is not None
    assert bench.run.intake is not None
    with pytest.raises(Refusal, match="still open"):
        open_run(
            plan=bench.run.plan, patient=bench.run.patient, intake=bench.run.intake, lots=(), solo=False,
            practice=False, by=bench.cleo, moment=moment_after(),
        )  # fmt: skip


def test_a_run_needs_an_intake_signed_to_go_on(bench: Bench) -> None:
    patient = make_patient(bench.clinic, bench.pim, record_number="R-9")
    plan = make_plan(make_visit(bench.clinic, bench.cleo), bench.cleo, answer=real_answer())
    with pytest.raises(Refusal, match="intake"):
        open_run(
            plan=plan, patient=patient, intake=None, lots=(), solo=False, practice=False, by=bench.pim,
            moment=moment_after(),
        )  # fmt: skip
    elsewhere = make_patient(bench.clinic, bench.pim, record_number="R-10")
    intake = make_intake(elsewhere, bench.pim, bench.cleo)
    with pytest.raises(Refusal, match="intake"):
        open_run(
            plan=plan, patient=patient, intake=intake, lots=(), solo=False, practice=False, by=bench.pim,
            moment=moment_after(),
        )  # fmt: skip


def test_a_label_of_another_run_blocks_and_its_own_lifts(bench: Bench) -> None:
    other = make_run(bench.clinic, bench.pim, bench.cleo, name="Bo Example", record_number="R-2")
    foreign = next(vessel for vessel in vessels(other) if vessel.kind == "tube")
    own = next(vessel for vessel in vessels(bench.run) if vessel.kind == "tube")
    bring_to(bench.run, Step.LABEL, bench.pim)
    tell(
        bench.run, Kind.SCANNED, bench.pim, code=foreign.code, own=True
    )  # what the device says of it counts for nothing
    with pytest.raises(Refusals, match="another run"):
        tell(bench.run, Kind.DONE, bench.pim)
    tell(bench.run, Kind.SCANNED, bench.pim, code=own.code.lower())
    tell(bench.run, Kind.DONE, bench.pim)
    assert stand(bench.run).step is Step.CLOTS


def test_two_patients_tubes_are_open_at_the_hood_only_when_all_are_scanned(bench: Bench) -> None:
    other = make_run(bench.clinic, bench.pim, bench.cleo, name="Bo Example", record_number="R-2")
    bring_to(other, Step.WITHDRAW, bench.pim)
    bring_to(bench.run, Step.LOOK, bench.pim)
    with pytest.raises(Refusals, match="open at the hood"):
        tell(bench.run, Kind.DONE, bench.pim)
    for run in (other, bench.run):
        for vessel in vessels(run):
            if vessel.kind == "tube":
                tell(run, Kind.SCANNED, bench.pim, code=vessel.code)
    tell(bench.run, Kind.DONE, bench.pim)
    assert stand(bench.run).step is Step.WITHDRAW


def test_doubtful_tubes_cannot_be_amended_back(bench: Bench) -> None:
    bring_to(bench.run, Step.LOAD, bench.pim)
    tell(bench.run, Kind.MISHAP, bench.pim, mishap="tubes_mixed", tubes=[1])
    doubt = entries(bench.run)[-1]
    with pytest.raises(Refusal, match="stands"):
        tell(bench.run, Kind.AMENDED, bench.pim, position=doubt.position, body={"tubes": []}, words="it was fine")
    assert 1 not in {tube.number for tube in stand(bench.run).usable}


def test_a_second_person_releases_with_their_pin(bench: Bench) -> None:
    bring_to(bench.run, Step.RELEASE, bench.pim)
    signed = bench.release()
    assert signed.witnessed
    assert signed.signer == bench.cleo
    assert signature(bench.run) == signed


def test_the_preparer_does_not_release_a_run_of_two(bench: Bench) -> None:
    bring_to(bench.run, Step.RELEASE, bench.pim)
    with pytest.raises(Refusal, match="other than who prepared"):
        bench.release(signer=bench.pim, pin="719324")


def test_the_database_itself_refuses_a_witness_of_their_own_run(bench: Bench) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Signature(
            clinic=bench.clinic, run=bench.run, meaning=Meaning.RELEASED, signer=bench.pim, preparer=bench.pim,
            witnessed=True, signed_at=AT,
        ).save()  # fmt: skip


def test_a_wrong_pin_releases_nothing(bench: Bench) -> None:
    bring_to(bench.run, Step.RELEASE, bench.pim)
    with pytest.raises(Refusal, match="pin"):
        bench.release(pin="111222")
    assert stand(bench.run).step is Step.RELEASE
    with pytest.raises(Refusal, match="tablet"):
        bench.release(tablet=None)


def test_past_the_hold_limit_a_clinician_goes_on_with_a_reason(bench: Bench) -> None:
    bring_to(bench.run, Step.RELEASE, bench.pim)
    five_h = 5 * 3600.0
    with pytest.raises(Refusals, match="hold limit"):
        bench.release(five_h)
    with pytest.raises(Refusal, match="reason"):
        override_hold(
            run=bench.run, signer=bench.cleo, pin=PIN, tablet=bench.tablet, reason=" ", by=bench.pim,
            moment=moment_after(five_h),
        )  # fmt: skip
    with pytest.raises(Refusal, match="role"):
        override_hold(
            run=bench.run, signer=bench.pim, pin="719324", tablet=bench.tablet, reason="late", by=bench.pim,
            moment=moment_after(five_h),
        )  # fmt: skip
    override_hold(
        run=bench.run, signer=bench.cleo, pin=PIN, tablet=bench.tablet, reason="the patient was late", by=bench.pim,
        moment=moment_after(five_h),
    )  # fmt: skip
    assert bench.release(five_h + 60).witnessed


def test_a_solo_run_is_read_twice_a_minute_apart_and_is_not_witnessed() -> None:
    bench = Bench(solo=True)
    bring_to(bench.run, Step.RELEASE, bench.pim)
    checked_s = (entries(bench.run)[-1].at - AT).total_seconds()
    with pytest.raises(Refusals, match="pause"):
        bench.release(checked_s + 59, signer=bench.pim, pin="719324")
    with pytest.raises(Refusal, match="same person"):
        bench.release(checked_s + 60)
    signed = bench.release(checked_s + 60, signer=bench.pim, pin="719324")
    assert not signed.witnessed


def test_what_was_entered_later_is_never_witnessed(bench: Bench) -> None:
    bring_to(bench.run, Step.CHECK, bench.pim)
    on_paper = Told(
        kind=Kind.DONE, step=Step.CHECK, body={}, key=uuid.uuid4().hex, by=bench.pim, carried_by=bench.pim,
        true_at=AT + timedelta(minutes=40),
    )  # fmt: skip
    take_entry(run=bench.run, arrived=on_paper, moment=moment_after(3000))
    kept = entries(bench.run)[-1]
    assert kept.later
    assert kept.at > AT + timedelta(minutes=40)
    assert not bench.release(3100).witnessed


def test_discarding_needs_its_disposal_written_down(bench: Bench) -> None:
    bring_to(bench.run, Step.LOAD, bench.pim)
    with pytest.raises(Refusal, match="disposal"):
        discard_run(run=bench.run, disposal="", tablet=None, by=bench.pim, moment=moment_after(900))
    discard_run(run=bench.run, disposal="yellow bin", tablet=None, by=bench.pim, moment=moment_after(900))
    assert stand(bench.run).step is Step.DISCARDED


def test_a_jump_of_the_clock_on_the_wall_moves_no_deadline(bench: Bench) -> None:
    bring_to(bench.run, Step.SOFT_SPIN, bench.pim)
    last = entries(bench.run)[-1]
    back = moment_after(-3600.0)
    jumped = type(back)(at=back.at, boot_id=last.boot_id, boot_s=last.boot_s + 20.0)
    arrived = Told(kind=Kind.BEGAN, step=Step.SOFT_SPIN, body={}, key="spin", by=bench.pim, carried_by=bench.pim)
    take_entry(run=bench.run, arrived=arrived, moment=jumped)
    kept = entries(bench.run)[-1]
    assert kept.at - last.at == timedelta(seconds=20)
    assert kept.jump_s < -3600


def test_runs_of_a_day_leave_practice_out(bench: Bench) -> None:
    practice = make_run(bench.clinic, bench.pim, bench.cleo, practice=True)
    assert runs_on(bench.clinic, AT.date()) == [bench.run]
    assert runs_on(bench.clinic, AT.date(), practice=True) == [practice]
    assert run_of_code(bench.clinic, bench.run.code) == bench.run


def test_an_assistant_does_not_enter_later_and_a_manager_does_not_prepare(bench: Bench) -> None:
    with pytest.raises(Refusal, match="role"):
        tell(bench.run, Kind.DONE, bench.mo)


def test_who_worked_at_the_hood_does_not_witness_it(bench: Bench) -> None:
    bring_to(bench.run, Step.TAKE_OFF, bench.pim)
    bring_to(bench.run, Step.RELEASE, bench.cleo)
    with pytest.raises(Refusal, match="other than who prepared"):
        bench.release()


def test_the_volume_read_at_release_agrees_with_the_check_and_stands(bench: Bench) -> None:
    bring_to(bench.run, Step.CHECK, bench.pim)
    tell(bench.run, Kind.DONE, bench.pim, prp_ml=3.0, label_read=True, clock_read=True)
    with pytest.raises(Refusal, match="prp_ml"):
        bench.release(read=ReadBack(label=True, clock=True, prp_ml=None))
    with pytest.raises(Refusal, match="differ"):
        bench.release(read=ReadBack(label=True, clock=True, prp_ml=2.5))
    bench.release(read=ReadBack(label=True, clock=True, prp_ml=2.9))
    assert stand(bench.run).measured["prp_ml"] == 2.9


def test_with_the_dose_unknown_a_clinician_signs(bench: Bench) -> None:
    second = make_person(bench.clinic, "sam")
    set_pin(person=second, clinic=bench.clinic, pin="618405", by="test", at=AT)
    bring_to(bench.run, Step.SWIRL, bench.pim)
    tell(bench.run, Kind.MEASURED, bench.pim, what="swirl_look", value="clumps")
    bring_to(bench.run, Step.RELEASE, bench.pim)
    with pytest.raises(Refusal, match="clinician decides"):
        bench.release(signer=second, pin="618405")
    assert bench.release().witnessed


def test_a_run_that_was_stopped_is_closed_by_its_disposal(bench: Bench) -> None:
    bring_to(bench.run, Step.LOAD, bench.pim)
    tell(bench.run, Kind.MISHAP, bench.pim, mishap="patient_gone")
    tell(bench.run, Kind.CHOSEN, bench.pim, mishap="patient_gone", choice="stop")
    assert stand(bench.run).step is Step.STOPPED
    signed = discard_run(run=bench.run, disposal="yellow bin", tablet=None, by=bench.pim, moment=moment_after(900))
    assert signed.meaning == Meaning.DISCARDED
    assert stand(bench.run).step is Step.DISCARDED


def test_what_was_released_on_paper_keeps_its_time_and_is_not_witnessed(bench: Bench) -> None:
    bring_to(bench.run, Step.RELEASE, bench.pim)
    on_paper = AT + timedelta(hours=2)
    signed = bench.release(6 * 3600.0, true_at=on_paper)  # entered past the hold limit, released within it
    assert not signed.witnessed
    kept = entries(bench.run)[-1]
    assert kept.true_at == on_paper
    assert stand(bench.run).ended_at == on_paper


def test_an_intake_of_yesterday_opens_no_run(bench: Bench) -> None:
    patient = make_patient(bench.clinic, bench.pim, record_number="R-9")
    intake = make_intake(patient, bench.pim, bench.cleo)
    with pytest.raises(Refusal, match="another day"):
        open_run(
            plan=bench.run.plan, patient=patient, intake=intake, lots=(), solo=False, practice=False, by=bench.pim,
            moment=moment_after(25 * 3600.0),
        )  # fmt: skip
