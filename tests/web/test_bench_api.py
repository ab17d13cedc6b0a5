"""The bench's address for scripts: what a device tapped arrives once, or is told in JSON why not."""

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.builders import AT, PASSWORD, make_clinic, make_person, make_run, tell

from plasmawright.bench.entries import FIELDS, Kind
from plasmawright.bench.steps import Step
from plasmawright.records.models import Clinic, Person, Role, Run, RunEntry
from plasmawright.records.selectors.runs import entries, run, stand
from plasmawright.records.services.people import end_role
from plasmawright.records.services.pins import set_pin
from plasmawright.records.services.tablets import enrol_tablet, revoke_tablet
from plasmawright.web.bench_api import BYTES_MAX
from plasmawright.web.tablets import COOKIE

pytestmark = [pytest.mark.database, pytest.mark.django_db]

KEY = "0b7f9e2c-2f6c-4a3e-8a43-9c1f0a4a7d55"
PIN = "483920"


class Bench:
    """A run at its first step, and a device that its preparer has signed in on."""

    def __init__(self, client: Client) -> None:
        self.clinic: Clinic = make_clinic()
        self.pim: Person = make_person(self.clinic)
        self.cleo: Person = make_person(self.clinic, "cleo", Role.CLINICIAN)
        self.mo: Person = make_person(self.clinic, "mo", Role.MANAGER)
        self.run: Run = make_run(self.clinic, self.pim, self.cleo)
        self.client = client
        client.force_login(self.pim)

    def send(self, *, key: str = KEY, run_id: int | None = None, **changes: Any) -> Any:
        """Post the press that ends the first step, or whatever else is named. Any: an answer of the test client."""
        document = {"kind": "done", "step": "identify", "body": {}, "by": "pim", **changes}
        return self.post(json.dumps(document), key=key, run_id=run_id)

    def post(self, text: str, *, key: str = KEY, run_id: int | None = None, **more: Any) -> Any:
        """Post a text as it is. Any: an answer of the test client."""
        kind = more.pop("content_type", "application/json")
        address = f"/api/runs/{self.run.pk if run_id is None else run_id}/entries"
        return self.client.post(address, text, content_type=kind, headers={"Idempotency-Key": key}, **more)

    def enrol(self) -> None:
        """Make the device an enrolled tablet."""
        _, token = enrol_tablet(clinic=self.clinic, name="hood", by=self.mo, at=AT)
        self.client.cookies[COOKIE] = token

    def kept(self) -> list[RunEntry]:
        """Return what the run holds."""
        return entries(self.run)

    def step(self) -> str:
        """Return where the run stands."""
        return stand(self.run).step.value


@pytest.fixture
def bench(client: Client) -> Bench:
    """Return a bench with a run that nobody has told anything yet."""
    return Bench(client)


def refusal(answer: Any) -> dict[str, str]:
    """Return the one refusal an answer lists. Any: an answer of the test client."""
    listed: list[dict[str, str]] = answer.json()
    assert len(listed) == 1, listed
    assert set(listed[0]) == {"field", "value", "limit", "remedy"}
    return listed[0]


def test_an_entry_is_kept_and_answered_with_its_place_in_the_ledger(bench: Bench) -> None:
    answer = bench.send(device_seq=7, device_at="2026-03-04T10:00:00+01:00")
    assert answer.status_code == 201
    assert set(answer.json()) == {"seq", "digest"}
    (kept,) = bench.kept()
    assert (kept.device_seq, kept.device_at) == (7, datetime(2026, 3, 4, 9, tzinfo=UTC))
    assert bench.step() == "draw"


def test_what_arrives_again_is_answered_as_before_and_kept_once(bench: Bench) -> None:
    first, again = bench.send(), bench.send()
    assert (first.status_code, first.json()) == (again.status_code, again.json()) == (201, first.json())
    assert len(bench.kept()) == 1


def test_an_entry_for_a_step_that_is_over_is_kept_for_review_and_said_so_each_time(bench: Bench) -> None:
    bench.send()
    late, again = bench.send(key="late"), bench.send(key="late")
    assert late.status_code == again.status_code == 409
    assert late.json() == again.json() == {**late.json(), "review": True}
    assert set(late.json()) == {"seq", "digest", "review"}
    assert [kept.review for kept in bench.kept()] == [False, True]
    assert bench.step() == "draw"


def test_who_is_not_signed_in_is_told_so_in_json_and_sent_nowhere(bench: Bench) -> None:
    bench.client.logout()
    answer = bench.send()
    assert answer.status_code == 401
    assert "Location" not in answer.headers
    assert refusal(answer)["remedy"] == "Sign in again."
    assert bench.kept() == []


def test_a_stranger_without_any_token_is_told_to_sign_in_rather_than_that_the_token_is_missing(bench: Bench) -> None:
    bench.client = Client(enforce_csrf_checks=True)
    assert bench.send().status_code == 401


def test_a_write_without_the_sessions_token_is_refused_and_the_token_can_be_asked_for(bench: Bench) -> None:
    bench.client = Client(enforce_csrf_checks=True)
    bench.client.force_login(bench.pim)
    without = bench.send()
    assert (without.status_code, refusal(without)["field"]) == (403, "X-CSRFToken")
    told = bench.client.get("/api/here/").json()
    assert told["person"] == "pim"
    text = json.dumps({"kind": "done", "step": "identify", "body": {}})
    assert bench.post(text, HTTP_X_CSRFTOKEN=told["csrf_token"]).status_code == 201


def test_somebody_without_a_clinic_is_refused(bench: Bench) -> None:
    bench.client.force_login(Person.objects.create(username="no", display_name="No", added_by="test", added_at=AT))
    assert bench.send(by="no").status_code == 403


def test_a_manager_may_not_tell_a_run_anything(bench: Bench) -> None:
    bench.client.force_login(bench.mo)
    answer = bench.send(by="mo")
    assert (answer.status_code, refusal(answer)["field"]) == (403, "role")


def test_another_clinics_run_is_not_there(bench: Bench) -> None:
    other = make_clinic("South Clinic")
    preparer = make_person(other, "sam")
    theirs = make_run(other, preparer, make_person(other, "sue", Role.CLINICIAN))
    assert bench.send(run_id=theirs.pk).status_code == 404
    assert bench.send(run_id=10**15).status_code == 404
    assert entries(theirs) == []


def test_a_blocked_step_is_refused_with_what_lifts_it(bench: Bench) -> None:
    assert bench.send(kind="scanned", body={"code": "notours2"}, key="scan").status_code == 201
    answer = bench.send()
    assert answer.status_code == 422
    assert "label of another run" in refusal(answer)["limit"]
    assert bench.step() == "identify"


def test_an_amendment_that_takes_a_number_back_can_still_be_told(bench: Bench) -> None:
    bench.send()
    body = {"mishap": "wrong_spin", "rpm": 900.0, "minutes": 4.0, "words": "dial"}
    for step in ("draw", "label"):
        bench.send(kind="mishap", step=step, body=body, key=f"mishap {step}")
    amended = {"position": 2, "body": {"rpm": None, "minutes": None, "tubes": None}, "words": "not so"}
    assert bench.send(kind="amended", step="draw", body=amended, key="amend").status_code == 201
    assert stand(bench.run).position == len(bench.kept())
    assert bench.client.get(f"/api/runs/{bench.run.pk}/ahead").status_code == 200


def test_every_wrong_field_is_named_at_once(bench: Bench) -> None:
    answer = bench.send(kind="dnoe", step="nowhere", device_seq=-1, device_at="half past nine", held_s="long", bdoy={})
    assert answer.status_code == 422
    fields = {one["field"]: one["remedy"] for one in answer.json()}
    assert set(fields) == {"kind", "step", "device_seq", "device_at", "held_s", "bdoy"}
    assert fields["bdoy"] == "Did you mean body?"
    assert bench.kept() == []


@pytest.mark.parametrize("text", ["", "{", "[]", "1", "null", "[" * 30_000, '{"kind": NaN}', "\ud800"])
def test_what_is_no_entry_is_refused(bench: Bench, text: str) -> None:
    answer = bench.post(text.encode("utf-8", "surrogatepass").decode("latin-1"))
    assert answer.status_code == 422
    assert answer.json()


def test_an_entry_that_is_too_large_is_refused_unread(bench: Bench) -> None:
    answer = bench.send(body={"words": "x" * BYTES_MAX})
    assert answer.status_code == 413
    assert "65536" in refusal(answer)["limit"]


def test_a_form_is_no_entry(bench: Bench) -> None:
    assert bench.post("kind=done&step=identify", content_type="application/x-www-form-urlencoded").status_code == 422


def test_an_entry_without_a_key_is_refused(bench: Bench) -> None:
    assert refusal(bench.send(key=""))["field"] == "Idempotency-Key"


@pytest.mark.parametrize("kind", ["signed", "overridden"])
def test_nobody_signs_by_sending_an_entry(bench: Bench, kind: str) -> None:
    assert refusal(bench.send(kind=kind))["field"] == "kind"


def test_on_an_enrolled_tablet_an_entry_keeps_who_tapped_and_who_carried_it(bench: Bench) -> None:
    bench.enrol()
    bench.client.force_login(bench.cleo)
    assert bench.send(by="pim").status_code == 201
    (kept,) = bench.kept()
    assert (kept.written_by, kept.carried_by) == (bench.pim, bench.cleo)
    assert kept.tablet is not None
    assert kept.tablet.name == "hood"


def test_off_an_enrolled_tablet_nobody_carries_what_another_tapped(bench: Bench) -> None:
    bench.client.force_login(bench.cleo)
    answer = bench.send(by="pim")
    assert (answer.status_code, refusal(answer)["field"]) == (403, "by")
    assert bench.kept() == []


def test_who_tapped_must_be_of_this_clinic_and_hold_a_role_that_prepares(bench: Bench) -> None:
    bench.enrol()
    assert refusal(bench.send(by="nobody"))["field"] == "by.name"
    assert bench.send(by="mo").status_code == 403
    end_role(clinic=bench.clinic, person=bench.cleo, role=Role.CLINICIAN, by=bench.mo, at=AT)
    assert bench.send(by="cleo").status_code == 403
    assert bench.kept() == []


def test_a_manager_carries_nothing_either(bench: Bench) -> None:
    bench.enrol()
    bench.client.force_login(bench.mo)
    assert bench.send(by="pim").status_code == 403
    assert bench.kept() == []


def test_a_session_begun_by_pin_ends_with_its_tablet_and_says_so_in_json(bench: Bench) -> None:
    bench.client.logout()
    tablet, token = enrol_tablet(clinic=bench.clinic, name="hood", by=bench.mo, at=AT)
    bench.client.cookies[COOKIE] = token
    set_pin(person=bench.pim, clinic=bench.clinic, pin=PIN, by=bench.pim, at=AT)
    signed_in = bench.client.post("/pin/", {"person": bench.pim.pk, "pin": PIN}, headers={"Accept": "application/json"})
    assert signed_in.status_code == 200
    assert bench.send().status_code == 201
    revoke_tablet(tablet=tablet, by=bench.mo, at=AT)
    assert bench.send(key="after").status_code == 401


def test_what_was_held_back_happened_when_it_was_tapped(bench: Bench) -> None:
    bench.send(device_at="2026-03-04T09:30:00Z")
    bench.send(kind="note", step="draw", body={"words": "now"}, key="first")
    before = bench.kept()[-1].at
    bench.send(kind="note", step="draw", body={"words": "long ago"}, key="second", held_s=3600)
    assert bench.kept()[-1].at == before, "nothing happened before what was kept already"


def test_a_wrong_clock_on_the_tablet_changes_nothing(bench: Bench) -> None:
    for number, wrong in enumerate(["1970-01-01T00:00:00Z", "2026-03-04T08:30:00Z", "2099-01-01T00:00:00+14:00"]):
        told = bench.send(kind="note", step="identify", body={"words": "x"}, key=str(number), device_at=wrong)
        assert told.status_code == 201
    times = [kept.at for kept in bench.kept()]
    assert times == sorted(times)
    assert times[-1] - times[0] < timedelta(minutes=5)


def test_what_is_entered_later_keeps_its_own_time_and_cannot_lie_ahead(bench: Bench) -> None:
    assert bench.send(true_at="2026-03-04T09:31:00Z").status_code == 201
    (kept,) = bench.kept()
    assert kept.later
    assert kept.true_at == datetime(2026, 3, 4, 9, 31, tzinfo=UTC)
    ahead = (datetime.now(UTC) + timedelta(hours=1)).isoformat()
    assert refusal(bench.send(key="ahead", true_at=ahead))["field"] == "true_at"


def test_what_comes_next_is_told_as_far_as_the_step_goes(bench: Bench) -> None:
    bench.send()
    told = bench.client.get(f"/api/runs/{bench.run.pk}/ahead").json()
    tubes = int(bench.run.plan.answer["chosen"]["tubes"])
    assert (told["position"], told["step"], told["ended"]) == (1, "draw", False)
    assert [one["entry"]["body"].get("tube") for one in told["presses"]][-tubes:] == list(range(1, tubes + 1))
    assert {one["entry"]["step"] for one in told["presses"]} == {"draw"}


def test_a_spin_that_is_about_to_begin_tells_its_timer(bench: Bench) -> None:
    while stand(bench.run).step is not Step.SOFT_SPIN:
        press = bench.client.get(f"/api/runs/{bench.run.pk}/ahead").json()["presses"][0]["entry"]
        tell(bench.run, Kind(press["kind"]), bench.pim, **press["body"])
    begins, ends = bench.client.get(f"/api/runs/{bench.run.pk}/ahead").json()["presses"]
    spin = bench.run.plan.answer["chosen"]["soft"]
    assert (begins["entry"]["kind"], begins["clock"]) == ("began", None)
    assert ends["entry"]["kind"] == "done"
    assert ends["clock"]["lasts_s"] == spin["minutes"] * 60 + 30 + 60  # and the rotor's way up and down


def test_a_practice_run_may_be_told_by_everybody(bench: Bench) -> None:
    practice = make_run(bench.clinic, bench.pim, bench.cleo, practice=True)
    bench.client.force_login(bench.mo)
    assert bench.send(by="mo", run_id=practice.pk).status_code == 201


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20) | st.sampled_from(list(Step)),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
fields = sorted({name for known in FIELDS.values() for name in known})
likely: st.SearchStrategy[object] = st.sampled_from(
    ["filled", "counted", "withdrawn", "failed", "interface_mm", "plasma_look", "pink", "clumps", "red_drawn_up",
     "wrong_spin", "broken_tube", "tubes_mixed", "go_on_without", "spin", 1, 2, 3, 0.5, True, [1], {}, None, "\0",
     "\ud800"]
)  # fmt: skip
bodies = st.dictionaries(st.sampled_from(fields) | st.text(max_size=5), likely | anything, max_size=5)
documents = st.fixed_dictionaries(
    {"kind": st.sampled_from(list(Kind)) | anything, "step": st.sampled_from(list(Step)) | anything},
    optional={
        "body": bodies | anything,
        "by": st.sampled_from(["pim", "cleo", "mo"]) | anything,
        "device_seq": anything,
        "device_at": st.datetimes().map(str) | st.sampled_from(["0001-01-01T00:00:00+23:59", "2026-01-01Z"]) | anything,
        "held_s": anything,
        "true_at": st.sampled_from(["9999-12-31T23:59:59-23:59", "2026-03-04T10:00:00Z"]) | anything,
        "more": anything,
    },
)


@pytest.mark.slow
@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(document=documents, key=st.text("abcdef0123456789", max_size=70))
def test_no_entry_whatever_it_holds_is_a_fault_of_ours(bench: Bench, document: Any, key: str) -> None:
    if COOKIE not in bench.client.cookies:
        bench.enrol()
    answer = bench.post(json.dumps(document), key=key)
    assert answer.status_code in {201, 403, 409, 422}, answer.content
    found = run(bench.clinic, bench.run.pk)
    assert found is not None
    stand(found)  # and what was kept can be told
    assert bench.client.get(f"/api/runs/{bench.run.pk}/ahead").status_code == 200


def test_signing_in_by_password_needs_no_tablet(bench: Bench) -> None:
    bench.client.logout()
    assert bench.client.login(username="pim", password=PASSWORD)
    assert bench.send().status_code == 201
