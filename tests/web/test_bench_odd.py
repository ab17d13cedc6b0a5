"""The bench's pages where something is out: a tube, a lot, a paper without its key, a browser that would keep names."""

import re
from datetime import timedelta

import pytest
from tests.builders import AT, make_intake, make_patient, moment_after
from tests.web.bench_desk import Bench

from plasmawright.bench.entries import Kind
from plasmawright.bench.steps import Step
from plasmawright.errors import Refusal
from plasmawright.records.models import SupplyKind
from plasmawright.records.selectors.runs import entries, stand, vessels
from plasmawright.records.services.entered_later import Line, enter_later
from plasmawright.records.services.lots import add_supply, recall_lot, receive_lot

pytestmark = [pytest.mark.database, pytest.mark.django_db, pytest.mark.usefixtures("clock")]


def test_a_void_tube_that_is_scanned_stops_with_a_full_page(bench: Bench) -> None:
    bench.at(Step.LOAD)
    bench.tap("mishap", {"mishap": "tubes_mixed", "tubes": [2]}, key="m")
    bench.tap("chosen", {"mishap": "tubes_mixed", "choice": "go_on_without"}, key="c")
    bench.at(Step.WITHDRAW)
    codes = {vessel.number: vessel.code for vessel in vessels(bench.run) if vessel.kind == "tube"}
    bench.tap("scanned", {"code": codes[2]}, key="s")
    page = bench.page()
    assert "Stop. This tube is out of this run." in page
    assert "data-primary" not in page
    bench.tap("scanned", {"code": codes[1]}, key="t")
    assert "data-primary" in bench.page()


def test_a_run_is_not_opened_by_one_press_when_all_tubes_are_recalled(bench: Bench) -> None:
    supply = add_supply(
        clinic=bench.clinic, name="Tubes", kind=SupplyKind.BLOOD_TUBE, touches_blood=True, reorder_level=0,
        by=bench.pim, at=AT,
    )  # fmt: skip
    lot = receive_lot(
        supply=supply, number="T1", expires_on=(AT + timedelta(days=900)).date(), quantity=9, by=bench.pim, at=AT
    )
    recall_lot(lot=lot, why="its maker", by=bench.mo, at=AT)
    patient = make_patient(bench.clinic, bench.pim, name="Bo Example", record_number="R-2")
    make_intake(patient, bench.pim, bench.cleo)
    address = f"/bench/open/?patient={patient.pk}&plan={bench.run.plan_id}"
    page = bench.client.get(address).content.decode()
    shown = re.search(rf'name="lot-{supply.pk}"[^>]*value="(\d+)"', page)
    assert shown is not None
    form = {"patient": patient.pk, "plan": bench.run.plan_id, f"lot-{supply.pk}": shown.group(1)}
    answer = bench.client.post("/bench/open/", form)
    assert answer.status_code == 422
    assert "recalled" in answer.content.decode()
    assert bench.client.post("/bench/open/", {**form, f"lot-{supply.pk}": "0"}).status_code == 302


@pytest.mark.parametrize("address", ["/bench/{run}/", "/bench/{run}/step/", "/bench/{run}/history/", "/patients/"])
def test_no_browser_keeps_a_page_that_names_a_patient(bench: Bench, address: str) -> None:
    answer = bench.client.get(address.format(run=bench.run.pk))
    assert answer.status_code == 200
    assert "no-store" in answer.headers["Cache-Control"]


def test_a_paper_without_a_key_of_its_own_is_refused(bench: Bench) -> None:
    # kept under an empty key, the next such paper would be taken for the same one and lost
    line = Line(kind=Kind.DONE, at=AT + timedelta(minutes=1), name="identify-at")
    with pytest.raises(Refusal, match="key"):
        enter_later(
            run=bench.run, position=0, lines=[line], key=" ", tablet=None, by=bench.pim, moment=moment_after(600)
        )
    assert entries(bench.run) == []
    assert stand(bench.run).step is Step.IDENTIFY
