"""Back-entry after a downtime: both times are kept, nothing counts as witnessed, a refusal keeps what was typed."""

from datetime import timedelta
from html import unescape
from typing import Any

import pytest
from django.test import Client
from tests.builders import AT, bring_to, make_clinic, make_person, make_run, moment_after

from plasmawright.bench.moments import Moment
from plasmawright.bench.steps import Step
from plasmawright.documents.downtime import HOW_TO_GO_ON
from plasmawright.records.models import Clinic, Person, Role, Run, RunEntry, Signature
from plasmawright.records.selectors.runs import stand
from plasmawright.records.services.pins import set_pin
from plasmawright.records.services.tablets import enrol_tablet
from plasmawright.web import enter_later_views
from plasmawright.web.tablets import COOKIE

pytestmark = [pytest.mark.database, pytest.mark.django_db]

PAPER: dict[str, str] = {
    "day": f"{AT:%Y-%m-%d}",
    "identify.at": "09:31",
    "draw.from": "09:33",
    "draw.to": "09:37",
    "label.at": "09:39",
    "clots.at": "09:40",
    "stand.at": "09:40",
    "stoppers.at": "09:42",
    "load.at": "09:45",
    "soft_spin.from": "09:46",
    "soft_spin.to": "09:55",
    "look.at": "09:57",
    "look.interface_mm": "35.5",
    "look.interface_look": "sharp",
    "withdraw.at": "10:05",
    "withdraw.words": "slow hands, new gloves",
    "pool.at": "10:06",
    "pool.pooled_ml": "14,8",
}
"""As far as the pool; times of a clock, as they stand on a sheet."""
REST: dict[str, str] = {
    "rebalance.at": "10:08",
    "hard_spin.from": "10:09",
    "hard_spin.to": "10:19",
    "take_off.at": "10:22",
    "take_off.ppp_ml": "11.2",
    "rest.at": "10:33",
    "resuspend.at": "10:36",
    "resuspend.prp_ml": "3.3",
    "swirl.at": "10:37",
    "swirl.swirl_look": "swirl",
    "sample.at": "10:38",
    "fill.at": "10:40",
    "activation.at": "10:40",
    "check.at": "10:42",
    "check.read": "yes",
}


class Desk:
    """A run, a browser, and the machine's clocks two hours after the opening."""

    def __init__(self, client: Client) -> None:
        self.client = client
        self.clinic: Clinic = make_clinic()
        self.pim: Person = make_person(self.clinic)
        self.cleo: Person = make_person(self.clinic, "cleo", Role.CLINICIAN)
        self.run: Run = make_run(self.clinic, self.pim, self.cleo)
        client.force_login(self.pim)

    @property
    def address(self) -> str:
        return f"/bench/{self.run.pk}/enter-later/"

    def keep(self, paper: dict[str, str], *, key: str = "one-paper") -> Any:
        position = Run.objects.of(self.clinic).get(pk=self.run.pk).positions
        return self.client.post(self.address, {"position": position, "key": key, **paper})

    def entries(self) -> list[RunEntry]:
        return list(RunEntry.objects.of(self.clinic).filter(run=self.run).order_by("position"))


@pytest.fixture
def desk(client: Client) -> Desk:
    return Desk(client)


@pytest.fixture(autouse=True)
def clock(monkeypatch: pytest.MonkeyPatch) -> None:
    def now() -> Moment:
        return moment_after(7200.0)

    monkeypatch.setattr(enter_later_views, "moment_now", now)


def words(html: str) -> str:
    return " ".join(unescape(html).split())


def test_a_paper_brings_the_run_to_where_it_stopped_with_both_times(desk: Desk) -> None:
    assert desk.keep(PAPER).status_code == 302
    facts = stand(desk.run)
    assert facts.step is Step.REBALANCE
    assert facts.drawn_from == AT + timedelta(minutes=3), "the hold clock counts from the time on the paper"
    assert facts.cap_off_at == AT + timedelta(minutes=27)
    assert facts.measured["interface_mm"] == 35.5
    assert facts.measured["pooled_ml"] == 14.8
    for kept in desk.entries():
        assert kept.later
        assert kept.true_at is not None
        assert kept.true_at < kept.at == moment_after(7200.0).at
    history = words(desk.client.get(f"/bench/{desk.run.pk}/history/").content.decode())
    assert "09:33:00" in history
    assert "entered later, 11:30" in history
    assert "note: slow hands, new gloves" in history


def test_the_rest_of_the_paper_is_entered_where_the_first_part_ended_and_is_not_witnessed(desk: Desk) -> None:
    desk.keep(PAPER)
    page = desk.client.get(desk.address).content.decode()
    assert 'name="identify.at"' not in page
    assert 'name="rebalance.at"' in page
    assert desk.keep({"day": PAPER["day"], **REST}, key="second-paper").status_code == 302
    facts = stand(desk.run)
    assert facts.step is Step.RELEASE
    assert facts.checked_later
    mo = make_person(desk.clinic, "mo", Role.MANAGER)
    _, token = enrol_tablet(clinic=desk.clinic, name="Bench", by=mo, at=AT)
    desk.client.cookies[COOKIE] = token
    set_pin(person=desk.cleo, clinic=desk.clinic, pin="274916", by="test", at=AT)
    assert "Who signed on paper" in desk.client.get(desk.address).content.decode()
    signed = {
        "day": PAPER["day"], "release.at": "10:50", "prp_ml": "3.3", "label_read": "yes", "clock_read": "yes",
        "signer": str(desk.cleo.pk), "pin": "274916",
    }  # fmt: skip
    for wrong, says in (({"release.at": "10:30"}, "what came before"), ({"prp_ml": "x"}, "must be a number")):
        answer = desk.client.post(f"{desk.address}release/", {**signed, **wrong})
        assert answer.status_code == 422
        assert says in words(answer.content.decode())
        assert next(iter(wrong.values())) in answer.content.decode()
        assert "274916" not in answer.content.decode(), "a PIN is never sent back"
    assert desk.client.post(f"{desk.address}release/", signed).status_code == 302
    assert stand(desk.run).step is Step.RELEASED
    assert stand(desk.run).ended_at == AT + timedelta(minutes=80)
    assert not Signature.objects.of(desk.clinic).get(run=desk.run).witnessed


def test_a_paper_that_arrives_twice_is_kept_once(desk: Desk) -> None:
    desk.keep(PAPER)
    before = len(desk.entries())
    assert desk.keep(PAPER).status_code == 302
    assert len(desk.entries()) == before


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"label.at": ""}, "a later step has a time"),
        ({"label.at": "25:10"}, "it must be a time of a clock"),
        ({"label.at": "09:30"}, "what came before it was told at 2026-03-04 09:37 UTC"),
        ({"pool.at": "11:45"}, "it is 11:30 UTC now"),
        ({"pool.pooled_ml": "lots"}, "it must be a number"),
        ({"pool.pooled_ml": "9999"}, "it must lie between 0 and 1000"),
        ({"clots.tubes": "9"}, "tubes in use are 1, 2, 3"),
        ({"clots.tubes": "two"}, "it must hold numbers of tubes"),
        ({"draw.tubes": "9"}, "3 tubes were planned"),
        ({"day": "soon"}, "it must be a day"),
    ],
)
def test_a_refusal_keeps_what_was_typed_and_nothing_of_the_paper(desk: Desk, wrong: dict[str, str], says: str) -> None:
    answer = desk.keep({**PAPER, **wrong})
    assert answer.status_code == 422
    html = words(answer.content.decode())
    assert says in html
    for name, value in {**PAPER, **wrong}.items():
        if value and not name.endswith("_look"):
            assert f'value="{value}"' in html, name
    assert desk.entries() == []
    assert stand(desk.run).step is Step.IDENTIFY


def test_a_run_of_fewer_tubes_stands_as_it_was_written(desk: Desk) -> None:
    assert desk.keep({**PAPER, "draw.tubes": "2"}).status_code == 302
    assert [tube.number for tube in stand(desk.run).usable] == [1, 2]


def test_a_clot_and_red_seen_stand_as_they_were_written(desk: Desk) -> None:
    assert desk.keep({**PAPER, "clots.tubes": "3", "withdraw.tubes": "2"}).status_code == 302
    facts = stand(desk.run)
    assert [tube.number for tube in facts.usable] == [1, 2]
    assert [tube.number for tube in facts.usable if tube.red] == [2]


def test_times_run_on_past_midnight(desk: Desk) -> None:
    yesterday = AT - timedelta(days=1)
    paper = {"day": f"{yesterday:%Y-%m-%d}", "identify.at": "23:55", "draw.from": "23:58", "draw.to": "00:04"}
    assert desk.keep(paper).status_code == 302
    assert stand(desk.run).drawn_from == yesterday.replace(hour=23, minute=58)
    assert desk.entries()[-1].true_at == AT.replace(hour=0, minute=4)


def test_a_step_the_run_took_meanwhile_is_not_taken_twice(desk: Desk) -> None:
    stale = Run.objects.of(desk.clinic).get(pk=desk.run.pk).positions
    bring_to(desk.run, Step.LOAD, desk.pim)
    answer = desk.client.post(desk.address, {"position": stale, "key": "late", "day": PAPER["day"], "load.at": "10:40"})
    assert answer.status_code == 422
    assert "it has moved since this form was opened" in words(answer.content.decode())
    assert stand(desk.run).step is Step.LOAD


def test_an_assistant_and_practice_are_not_entered_from_paper(desk: Desk) -> None:
    desk.client.force_login(make_person(desk.clinic, "ash", Role.ASSISTANT))
    assert desk.client.get(desk.address).status_code == 403
    desk.client.force_login(desk.pim)
    desk.run = make_run(desk.clinic, desk.pim, desk.cleo, practice=True)
    assert desk.keep(PAPER).status_code == 422
    assert desk.entries() == []


def test_the_pack_and_today_call_it_by_one_name() -> None:
    assert any("from Today, “Enter from paper”" in line for line in HOW_TO_GO_ON)
