"""Runs told by two hands at once, at the edge of a day, and amended into what they never were."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from tests.builders import (
    AT,
    bring_to,
    make_intake,
    make_patient,
    make_plan,
    make_run,
    make_visit,
    moment_after,
    real_answer,
    tell,
)
from tests.records.test_runs import PIN, Bench

from plasmawright.bench.entries import Kind
from plasmawright.bench.steps import Step
from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import Lot, SupplyKind
from plasmawright.records.selectors.runs import entries, signature, stand, vessels
from plasmawright.records.services import signatures
from plasmawright.records.services.lots import add_supply, receive_lot, use_lot
from plasmawright.records.services.pins import check_pin
from plasmawright.records.services.runs import open_run
from plasmawright.records.services.signatures import ReadBack, discard_run, override_hold

pytestmark = [pytest.mark.django_db, pytest.mark.database, pytest.mark.usefixtures("own_folder")]


@pytest.fixture
def bench() -> Bench:
    """Return a bench with a fresh run."""
    return Bench()


def lot_until(bench: Bench, expires_on: date) -> Lot:
    supply = add_supply(
        clinic=bench.clinic, name="tubes", kind=SupplyKind.BLOOD_TUBE, touches_blood=True, reorder_level=0,
        by=bench.pim, at=AT,
    )  # fmt: skip
    return receive_lot(supply=supply, number="L1", expires_on=expires_on, quantity=9, by=bench.pim, at=AT)


def test_a_way_that_is_not_offered_cannot_be_chosen(bench: Bench) -> None:
    bring_to(bench.run, Step.LOAD, bench.pim)
    tell(bench.run, Kind.MISHAP, bench.pim, mishap="patient_gone")
    with pytest.raises(Refusal, match=r"body\.choice"):  # whose blood it is has left: only stopping is left
        tell(bench.run, Kind.CHOSEN, bench.pim, mishap="patient_gone", choice="go_on")
    assert stand(bench.run).open_mishap is not None


def test_plasma_in_the_second_tubes_is_not_mixed_with_its_cells_again(bench: Bench) -> None:
    bring_to(bench.run, Step.HARD_SPIN, bench.pim)
    tell(bench.run, Kind.MISHAP, bench.pim, mishap="power_cut", minutes=2.0)
    with pytest.raises(Refusal, match=r"body\.choice"):
        tell(bench.run, Kind.CHOSEN, bench.pim, mishap="power_cut", choice="mix_and_spin")


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        (Kind.MISHAP, {"mishap": "tubes_mixed", "tubes": [60]}),  # else doubt would void nothing
        (Kind.RED_FATE, {"tube": 60, "fate": "left_out"}),
        (Kind.MEASURED, {"what": "withdrawn_ml", "value": 3.0, "tube": 60}),
    ],
)
def test_a_tube_the_run_has_not_is_refused(bench: Bench, kind: Kind, body: dict[str, Any]) -> None:
    bring_to(bench.run, Step.WITHDRAW, bench.pim)
    with pytest.raises(Refusal, match=r"body\.tube"):
        tell(bench.run, kind, bench.pim, **body)


def test_clumps_are_not_amended_away(bench: Bench) -> None:
    bring_to(bench.run, Step.SWIRL, bench.pim)
    tell(bench.run, Kind.MEASURED, bench.pim, what="swirl_look", value="clumps")
    seen = entries(bench.run)[-1]
    with pytest.raises(Refusal, match="stays unknown"):
        tell(bench.run, Kind.AMENDED, bench.pim, position=seen.position, body={"value": "swirl"}, words="mis-tap")
    assert stand(bench.run).dose_unknown


def test_an_amendment_leads_no_run_elsewhere(bench: Bench) -> None:
    bring_to(bench.run, Step.TAKE_OFF, bench.pim)
    looked = next(one for one in entries(bench.run) if one.step == Step.LOOK and one.kind == Kind.DONE)
    before = stand(bench.run)
    with pytest.raises(Refusal, match="elsewhere"):
        tell(bench.run, Kind.AMENDED, bench.pim, position=looked.position, body={"more_minutes": 2.0}, words="spun on")
    assert stand(bench.run) == before


def test_a_mishap_is_not_amended_into_another(bench: Bench) -> None:
    bring_to(bench.run, Step.LABEL, bench.pim)
    tell(bench.run, Kind.MISHAP, bench.pim, mishap="clot", tubes=[1])
    told = entries(bench.run)[-1]
    for name in ("faint", "tubes_mixed"):
        with pytest.raises(Refusal, match="as they were told"):
            tell(bench.run, Kind.AMENDED, bench.pim, position=told.position, body={"mishap": name}, words="no")


def test_the_tube_of_a_clot_is_put_right(bench: Bench) -> None:
    bring_to(bench.run, Step.LABEL, bench.pim)
    tell(bench.run, Kind.MISHAP, bench.pim, mishap="clot", tubes=[1])
    told = entries(bench.run)[-1]
    tell(bench.run, Kind.AMENDED, bench.pim, position=told.position, body={"tubes": [2]}, words="the other one")
    assert {1, 2} & {tube.number for tube in stand(bench.run).usable} == {1}


@pytest.mark.parametrize("volume_ml", [float("nan"), float("inf"), -3.0, 5000.0])
def test_a_volume_no_syringe_holds_is_refused_at_release(bench: Bench, volume_ml: float) -> None:
    bring_to(bench.run, Step.RELEASE, bench.pim)
    with pytest.raises(Refusal, match="prp_ml"):
        bench.release(read=ReadBack(label=True, clock=True, prp_ml=volume_ml))
    assert signature(bench.run) is None


def test_what_is_told_while_the_second_person_signs_is_looked_at_first(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bring_to(bench.run, Step.RELEASE, bench.pim)

    def while_somebody_tells(**given: Any) -> None:
        check_pin(**given)
        tell(bench.run, Kind.MEASURED, bench.pim, what="swirl_look", value="clumps")

    monkeypatch.setattr(signatures, "check_pin", while_somebody_tells)
    with pytest.raises(Refusal, match="more was told"):
        bench.release()
    assert signature(bench.run) is None
    assert stand(bench.run).step is Step.RELEASE


def test_two_who_discard_at_once_are_told_so(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bring_to(bench.run, Step.LOAD, bench.pim)
    discard_run(run=bench.run, disposal="yellow bin", tablet=None, by=bench.pim, moment=moment_after(900))
    monkeypatch.setattr(signatures, "blockers", lambda *_: ())  # the second saw the run as it was before
    with pytest.raises(Refusal, match="ended meanwhile"):
        discard_run(run=bench.run, disposal="red bin", tablet=None, by=bench.pim, moment=moment_after(900))


def test_a_run_discarded_with_a_mishap_open_asks_nothing_more(bench: Bench) -> None:
    bring_to(bench.run, Step.LOAD, bench.pim)
    tell(bench.run, Kind.MISHAP, bench.pim, mishap="faint")
    discard_run(run=bench.run, disposal="yellow bin", tablet=None, by=bench.pim, moment=moment_after(900))
    assert stand(bench.run).mishaps_open == ()


def test_a_label_scanned_after_release_stops_and_waits_for_nobody(bench: Bench) -> None:
    other = make_run(bench.clinic, bench.pim, bench.cleo, name="Bo Example", record_number="R-2")
    bring_to(bench.run, Step.RELEASE, bench.pim)
    bench.release()
    syringe = next(vessel for vessel in vessels(other) if vessel.kind == "syringe")
    assert not tell(bench.run, Kind.SCANNED, bench.pim, code=syringe.code).review
    assert stand(bench.run).foreign_code == syringe.code


def test_a_lot_expires_by_the_clinics_own_day(bench: Bench) -> None:
    lot = lot_until(bench, AT.date())
    bring_to(bench.run, Step.DRAW, bench.pim)
    use_lot(run=bench.run, lot=lot, quantity=1, by=bench.pim, at=AT)
    late_s = 3 * 3600.0  # 12:30 UTC: in Auckland the day after has begun
    with timezone.override("Pacific/Auckland"):
        with pytest.raises(Refusal, match="expired"):
            use_lot(run=bench.run, lot=lot, quantity=1, by=bench.pim, at=AT + timedelta(seconds=late_s))
        with pytest.raises(Refusals, match="expired"):
            tell(bench.run, Kind.DONE, bench.pim, seconds=late_s)


def test_opening_locks_the_lots_before_the_ledger(bench: Bench) -> None:
    """A recall holds the lot and waits for the ledger: taken the other way round, each would wait for the other."""
    from django.test.utils import CaptureQueriesContext

    lot = lot_until(bench, AT.date() + timedelta(days=90))
    patient = make_patient(bench.clinic, bench.pim, name="Bo Example", record_number="R-2")
    intake = make_intake(patient, bench.pim, bench.cleo)
    plan = make_plan(make_visit(bench.clinic, bench.cleo), bench.cleo, answer=real_answer())
    with CaptureQueriesContext(connection) as asked:
        open_run(
            plan=plan, patient=patient, intake=intake, lots=[(lot, 1)], solo=False, practice=False, by=bench.pim,
            moment=moment_after(),
        )  # fmt: skip
    tables = [one["sql"] for one in asked]
    lots = next(place for place, sql in enumerate(tables) if sql.startswith("SELECT") and "records_lot" in sql)
    head = next(place for place, sql in enumerate(tables) if "records_chainhead" in sql)
    assert lots < head


def test_runs_come_to_the_hood_one_after_the_other(bench: Bench) -> None:
    """Each of two at once would find the hood free, had neither a lock to wait for before it looked."""
    make_run(bench.clinic, bench.pim, bench.cleo, name="Bo Example", record_number="R-2")
    bring_to(bench.run, Step.LOOK, bench.pim)
    with CaptureQueriesContext(connection) as asked:
        tell(bench.run, Kind.DONE, bench.pim)
    tables = [one["sql"] for one in asked]
    head = next(place for place, sql in enumerate(tables) if "records_chainhead" in sql)
    others = next(place for place, sql in enumerate(tables) if "'resuspend'" in sql and sql.startswith("SELECT"))
    assert head < others
    assert stand(bench.run).step is Step.WITHDRAW


def test_the_hold_is_not_lifted_before_it_is_over(bench: Bench) -> None:
    bring_to(bench.run, Step.RELEASE, bench.pim)
    given: dict[str, Any] = {
        "run": bench.run, "signer": bench.cleo, "pin": PIN, "tablet": bench.tablet, "reason": "to be safe",
        "by": bench.pim,
    }  # fmt: skip
    with pytest.raises(Refusal, match="must have passed"):
        override_hold(**given, moment=moment_after(3600))
    discard_run(run=bench.run, disposal="yellow bin", tablet=None, by=bench.pim, moment=moment_after(3600))
    with pytest.raises(Refusal, match="has ended"):
        override_hold(**given, moment=moment_after(5 * 3600))
    assert stand(bench.run).overridden == {}
