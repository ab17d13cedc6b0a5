"""The Plan page as a browser without its scripts sees it: questions, answers, refusals, saving, reopening."""

import json
import re
import time
from html import unescape
from typing import Any

import pytest
from django.test import Client
from tests.builders import AT, make_clinic, make_person

from plasmawright.parameters.sets import drawn
from plasmawright.planning.choose import choose_plan
from plasmawright.planning.reading import visit_from
from plasmawright.records.services.plans import save_plan, save_visit
from plasmawright.records.services.shelf import add_adapter, add_rotor, add_tube_kind
from plasmawright.web.example import EXAMPLE, example_settled, example_values
from plasmawright.web.shelf_offers import shelf_of

pytestmark = [pytest.mark.database, pytest.mark.django_db]

PAGE = "0123456789abcdef"


@pytest.fixture
def signed_in(client: Client) -> Client:
    """Return a client signed in as a preparer."""
    client.force_login(make_person(make_clinic()))
    return client


def question(**changes: str) -> dict[str, str]:
    """Return the example as a page posts it; dots of a field's name are written as two underscores."""
    changed = {name.replace("__", "."): value for name, value in changes.items()}
    return {**example_values(), "page": PAGE, "settled": example_settled(), "margin_mm": "", **changed}


def told_at_last(client: Client, address: str) -> dict[str, Any]:
    """Return what a ticket tells once it is no longer worked on."""
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline:
        told: dict[str, Any] = client.get(address).json()
        if told["state"] != "working":
            return told
        time.sleep(0.05)
    raise AssertionError("the intervals never came")


def plasma_ml(page: str) -> float:
    """Return the millilitres that the page expects out of each tube."""
    found = re.search(r'expect about <span class="p">([\d.]+)</span>', page)
    assert found is not None
    return float(found.group(1))


def begun(client: Client, asked: dict[str, str]) -> str:
    """Ask for intervals and return where they are told."""
    answer = client.post("/plan/intervals/", asked)
    assert answer.status_code == 202
    address: str = answer.json()["told"]
    return address


def test_a_moved_stop_is_answered_with_single_numbers(signed_in: Client) -> None:
    near = signed_in.post("/plan/point/", question(margin_mm="3"))
    far = signed_in.post("/plan/point/", question(margin_mm="8"))
    assert near.status_code == far.status_code == 200
    page = far.content.decode()
    assert 'Stop <span class="mm">8</span> mm above the red you see.' in page
    # 5 mm of a tube of 13 mm bore are 0.66 mL that stay in it
    assert plasma_ml(near.content.decode()) - plasma_ml(page) == pytest.approx(0.66, abs=0.11)
    assert "the interval follows" in page


def test_more_red_cells_leave_less_plasma(signed_in: Client) -> None:
    thin, thick = (
        signed_in.post("/plan/point/", question(blood__hematocrit_frac=share)).content.decode()
        for share in ("0.36", "0.50")
    )
    assert plasma_ml(thin) > plasma_ml(thick) + 1


def test_a_count_left_out_is_no_refusal(signed_in: Client) -> None:
    counts = {"blood__hematocrit_frac": "", "blood__platelets_1e9_per_l": "", "blood__counted_days_ago": ""}
    assert signed_in.post("/plan/point/", question(**counts)).status_code == 200


def test_a_refused_entry_carries_the_command_lines_sentence_and_every_other_is_kept(signed_in: Client) -> None:
    asked = question(blood__hematocrit_frac="41", patient__weight_kg="71", sites__1__name="calf, three points")
    for address in ("/plan/point/", "/plan/intervals/", "/plan/save/"):
        answer = signed_in.post(address, asked)
        page = answer.content.decode()
        assert answer.status_code == 422
        assert re.search(r'id="blood-hematocrit_frac-why">blood\.hematocrit_frac is 41; it must lie between', page)
        assert page.count('aria-invalid="true"') == 1
        for kept in ("41", "71", "calf, three points"):
            assert f'value="{kept}"' in page


def test_a_refused_tube_is_marked_whatever_it_is_called(signed_in: Client) -> None:
    asked = question(bench__tube="a tube of ours", tubes__first__capacity_ml="0")
    page = signed_in.post("/plan/point/", asked).content.decode()
    assert re.search(r'id="tubes-first-capacity_ml-why">tubes\.a tube of ours\.capacity_ml is 0', page)


def test_an_untouched_page_asks_for_what_is_missing_and_nothing_else(signed_in: Client) -> None:
    page = signed_in.get("/plan/").content.decode()
    assert "Nothing is planned yet." in page
    empty = {name: "" for name in example_values() if not name.startswith("sites.1.")}
    answer = signed_in.post("/plan/intervals/", {**empty, "page": PAGE, "want": "choice"})
    assert answer.status_code == 422
    assert "patient.weight_kg is missing" in answer.content.decode()


@pytest.mark.slow
def test_a_choice_comes_with_alternatives_map_and_sources(signed_in: Client) -> None:
    told = told_at_last(signed_in, begun(signed_in, {**question(settled=""), "want": "choice"}))
    assert told["state"] == "done"
    page = told["html"]
    assert "the interval follows" not in page
    assert page.count("data-settle=") >= 3
    assert 'class="ridge"' in page
    assert page.count("<svg") == 3  # the tube, the bar of the one wish, the map
    assert "where it was read" in page


@pytest.mark.slow
def test_of_two_requests_only_the_newer_is_answered(signed_in: Client) -> None:
    older = begun(signed_in, question(margin_mm="3"))
    newer = begun(signed_in, question(margin_mm="6"))
    assert signed_in.get(older).json() == {"state": "superseded", "html": ""}
    told = told_at_last(signed_in, newer)
    assert told["state"] == "done"
    assert 'Stop <span class="mm">6</span> mm' in told["html"]
    assert signed_in.get(older).json()["state"] == "superseded"


def test_nobody_reads_the_answer_of_another_person(signed_in: Client, client: Client) -> None:
    address = begun(signed_in, question())
    stranger = Client()
    stranger.force_login(make_person(make_clinic("South Clinic"), username="sal"))
    assert stranger.get(address).json()["state"] == "superseded"


@pytest.mark.slow
def test_a_saved_plan_reopens_with_the_numbers_stored(signed_in: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    told = told_at_last(signed_in, begun(signed_in, {**question(settled=""), "want": "choice"}))
    settled = html_value(told["html"], "settled")
    kept = signed_in.post("/plan/save/", question(settled=settled))
    assert kept.status_code == 200
    monkeypatch.setattr("plasmawright.planning.choose.choose_plan", None)  # nothing is computed when it is opened
    page = signed_in.get(kept.json()["saved"]).content.decode()
    assert plasma_ml(page) == plasma_ml(told["html"])
    for words in ("Saved by Pim Example", "seed 1", "512 draws", "Plan from this", 'data-part="reasons"'):
        assert words in page
    assert "data-step" not in page
    assert "data-settle" not in page
    again = signed_in.get(f"{kept.json()['saved']}from/").content.decode()
    assert 'value="heel, tendon attachment"' in again
    assert "EXAMPLE" in signed_in.get("/plan/").content.decode()


@pytest.mark.slow
def test_a_plan_is_saved_with_the_stop_a_hand_chose_even_if_nobody_asked_for_intervals(signed_in: Client) -> None:
    kept = signed_in.post("/plan/save/", question(margin_mm="5.5", page="fedcba9876543210"))
    page = signed_in.get(kept.json()["saved"]).content.decode()
    assert 'Stop <span class="mm">5.5</span> mm' in page


@pytest.mark.slow
def test_an_answer_of_the_command_line_is_opened_drawn_and_printed(client: Client) -> None:
    clinic = make_clinic()
    person = make_person(clinic)
    answer = choose_plan(visit_from(EXAMPLE), drawn(count=32, seed=1)).as_document()
    visit = save_visit(clinic=clinic, document=EXAMPLE, text="", by=person, at=AT)
    plan = save_plan(
        visit=visit, answer=answer, settled_margin_mm=None, parameter_set=None, draws=32, seed=1, model_version="0",
        by=person, at=AT,
    )  # fmt: skip
    client.force_login(person)
    page = client.get(f"/plan/{plan.pk}/").content.decode()
    assert "32 draws" in page
    assert 'id="tube-picture"' in page
    papers = re.findall(r'<a href="([^"]+\.pdf)">', page)
    assert len(papers) == 4
    for paper in papers:
        printed = client.get(paper)
        assert (printed.status_code, printed.headers["Content-Type"]) == (200, "application/pdf")
        assert printed.content.startswith(b"%PDF")
    assert client.get(papers[0].replace("a4", "a3")).status_code == 404


def test_the_shelf_fills_a_tube_as_the_chosen_rotor_carries_it(client: Client) -> None:
    clinic = make_clinic()
    person = make_person(clinic)
    rotor = add_rotor(clinic=clinic, name="big", bottom_radius_mm=170, max_rcf=2500, places=12, by=person, at=AT)
    add_rotor(clinic=clinic, name="small", bottom_radius_mm=98, max_rcf=2000, places=6, by=person, at=AT)
    kind = add_tube_kind(
        clinic=clinic, name="ours", inner_diameter_mm=13, bottom="round", capacity_ml=11, graduated=False, by=person,
        at=AT,
    )  # fmt: skip
    add_adapter(rotor=rotor, tube_kind=kind, bottom_radius_mm=165, by=person, at=AT)
    slots = {slot.label: slot.offers for slot in shelf_of(clinic)}
    tube = json.loads(slots["First tube"][0].values)
    assert tube["big"]["tubes.first.bottom_radius_mm"] == "165.0"
    assert tube["small"]["tubes.first.bottom_radius_mm"] == ""
    assert json.loads(slots["Rotor"][0].values)["big"]["bench.places"] == "12"
    client.force_login(person)
    assert client.get("/plan/").content.decode().count("data-fills") == 3


def test_another_clinics_plan_is_not_found(signed_in: Client) -> None:
    assert signed_in.get("/plan/4711/").status_code == 404
    assert signed_in.get("/plan/4711/from/").status_code == 404


def test_no_page_of_a_plan_carries_a_style_or_script_of_its_own(signed_in: Client) -> None:
    page = signed_in.get("/plan/example/").content.decode()
    assert not re.search(r"<style|\sstyle=|\son[a-z]+=", page)
    assert re.findall(r"<script(?![^>]*\bsrc=)", page) == []


@pytest.mark.parametrize(
    "settled", ["x", "[]", "{}", '{"tubes": "many"}', '{"look": 3}', "null", '{"look":{"then":[1]}}']
)
def test_whatever_a_page_claims_to_have_settled_is_answered_or_refused(signed_in: Client, settled: str) -> None:
    assert signed_in.post("/plan/point/", question(settled=settled)).status_code == 422


@pytest.mark.parametrize("margin", ["nan", "inf", "-1", "1e9", "three", "61"])
def test_a_stop_that_is_no_place_is_refused(signed_in: Client, margin: str) -> None:
    answer = signed_in.post("/plan/point/", question(margin_mm=margin))
    assert answer.status_code == 422
    assert "stop.above_cells_mm" in answer.content.decode()


def html_value(page: str, name: str) -> str:
    """Return what a hidden entry holds."""
    found = re.search(rf'name="{name}"[^>]*value="([^"]*)"', page)
    assert found is not None
    return unescape(found.group(1))
