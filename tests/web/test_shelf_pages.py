"""The Shelf as a browser without scripts sees it: what stands there, its forms, refusals, recalls, the bore."""

import math
import re
from datetime import UTC, datetime, timedelta
from html import unescape
from typing import Any

import pytest
from django.test import Client
from tests.builders import AT, make_clinic, make_person, make_run

from plasmawright.practice.bore import water_density_kg_m3
from plasmawright.practice.checks import CheckKind
from plasmawright.records.models import (
    Centrifuge,
    Check,
    Clinic,
    Lot,
    Person,
    Role,
    Rotor,
    Supply,
    TubeKind,
)
from plasmawright.records.selectors.lots import pieces_left
from plasmawright.records.services.checks import check_centrifuge
from plasmawright.records.services.lots import add_supply, receive_lot, use_lot
from plasmawright.records.services.shelf import add_centrifuge, add_rotor, add_tube_kind
from plasmawright.web.shelf_forms import FORMS

pytestmark = [pytest.mark.database, pytest.mark.django_db]

TODAY = datetime.now(UTC).date()


@pytest.fixture
def clinic() -> Clinic:
    return make_clinic()


@pytest.fixture
def preparer(clinic: Clinic, client: Client) -> Person:
    """Sign a preparer in."""
    person = make_person(clinic)
    client.force_login(person)
    return person


def sign_in(client: Client, clinic: Clinic, role: Role, username: str) -> Person:
    person = make_person(clinic, username=username, role=role)
    client.force_login(person)
    return person


def a_lot(clinic: Clinic, person: Person, **changes: Any) -> Lot:
    supply = add_supply(
        clinic=clinic, name="blood tube", kind="blood_tube", touches_blood=True, reorder_level=30, by=person, at=AT
    )
    given = {"number": "B-17", "expires_on": TODAY + timedelta(days=6), "quantity": 20, **changes}
    return receive_lot(supply=supply, by=person, at=AT, **given)


def text_of(page: bytes) -> str:
    """Return what a person reads: no marks, one blank between words."""
    plain = re.sub(r"<[^>]+>", " ", page.decode())
    return re.sub(r"\s+", " ", unescape(plain))


def test_an_empty_shelf_shows_what_is_missing(client: Client, preparer: Person) -> None:
    page = client.get("/shelf/")
    assert page.status_code == 200
    said = text_of(page.content)
    assert "Nothing is on the shelf yet." in said
    assert "Certificate of the hood missing none is written down" in said
    assert 'aria-current="page">Shelf' in page.content.decode()


def test_the_shelf_says_what_is_left_what_to_open_and_what_to_order(
    client: Client, clinic: Clinic, preparer: Person
) -> None:
    a_lot(clinic, preparer)
    said = text_of(client.get("/shelf/").content)
    assert "Time to order: blood tube (20 left, order below 30)" in said
    assert "lot B-17 open this one" in said
    assert "6 days left" in said


def test_every_form_opens_and_refuses_an_empty_answer_with_its_entries_marked(client: Client, preparer: Person) -> None:
    for what in FORMS:
        address = f"/shelf/add/{what}/"
        assert client.get(address).status_code == 200, what
        refused = client.post(address, {})
        assert refused.status_code == 422, what
        assert 'aria-invalid="true"' in refused.content.decode(), what
        assert "Not kept yet" in refused.content.decode(), what
    assert client.get("/shelf/add/soup/").status_code == 404


def test_a_refused_form_keeps_every_entry(client: Client, preparer: Person) -> None:
    asked = {
        "tubes.name": "conical", "tubes.inner_diameter_mm": "14.6", "tubes.bottom": "conical",
        "tubes.cone_height_mm": "22", "tubes.tip_diameter_mm": "20", "tubes.capacity_ml": "15", "tubes.max_rcf": "",
        "tubes.empty_mass_g": "6.8", "tubes.graduated": "true",
    }  # fmt: skip
    refused = client.post("/shelf/add/tube-kind/", asked)
    page = refused.content.decode()
    assert refused.status_code == 422
    # the tube's own name does not keep the refusal from its entry
    assert 'id="tubes-tip_diameter_mm-why">tubes.tip_diameter_mm is 20' in page
    assert 'value="14.6"' in page
    assert client.post("/shelf/add/tube-kind/", {**asked, "tubes.tip_diameter_mm": "2"}).status_code == 302
    assert '<option value="true" selected>yes' in page


def test_what_a_form_says_is_kept(client: Client, clinic: Clinic, preparer: Person) -> None:
    def kept(what: str, **entries: str) -> None:
        named = {name.replace("__", "."): value for name, value in entries.items()}
        answer = client.post(f"/shelf/add/{what}/", named)
        assert answer.status_code == 302, text_of(answer.content)

    kept("centrifuge", centrifuge__name="bench", centrifuge__serial_number="77")
    machine = str(Centrifuge.objects.of(clinic).get().pk)
    kept(
        "rotor", rotor__name="swing", rotor__centrifuge="", rotor__bottom_radius_mm="160", rotor__angle_deg="90",
        rotor__max_rcf="3000", rotor__places="8",
    )  # fmt: skip
    kept("place-rotor", rotor__rotor=str(Rotor.objects.of(clinic).get().pk), rotor__centrifuge=machine)
    assert Rotor.objects.of(clinic).get().centrifuge is not None
    kept(
        "supply", supply__name="needle", supply__kind="needle", supply__touches_blood="true", supply__reorder_level="5"
    )
    supply = str(Supply.objects.of(clinic).get().pk)
    kept("level", supply__supply=supply, supply__reorder_level="50")
    kept("lot", lot__supply=supply, lot__number="N-1", lot__expires_on=f"{TODAY}", lot__quantity="40")
    lot = Lot.objects.of(clinic).get()
    kept("count", lot__lot=str(lot.pk), lot__counted="38", lot__why="two were bent")
    assert pieces_left(lot) == 38
    today = {"done_on": f"{TODAY}"}
    kept("speed", speed__centrifuge=machine, speed__set_to="1500", speed__read="1700", speed__tolerance="0.05",
         speed__done_on=today["done_on"])  # fmt: skip
    kept("timer", timer__centrifuge=machine, timer__set_to="600", timer__read="601", timer__tolerance="0.05",
         timer__done_on=today["done_on"])  # fmt: skip
    kept("scale", scale__name="bench scale", scale__set_to="50", scale__read="50", scale__tolerance="0.1",
         scale__done_on=today["done_on"])  # fmt: skip
    kept("hood", hood__name="hood", hood__number="C-1", hood__done_on=today["done_on"],
         hood__expires_on=f"{TODAY + timedelta(days=365)}", hood__passed="true")  # fmt: skip
    assert Check.objects.of(clinic).count() == 4
    said = text_of(client.get("/shelf/").content)
    assert "Speed check of bench failed" in said
    assert "needle (38 left, order below 50)" in said
    assert "swing bench" in said


def test_a_swap_is_answered_with_the_form_alone_and_then_sent_on(client: Client, preparer: Person) -> None:
    refused = client.post("/shelf/add/centrifuge/", {}, headers={"HX-Request": "true"})
    assert refused.status_code == 422
    assert "<html" not in refused.content.decode()
    asked = {"centrifuge.name": "bench", "centrifuge.serial_number": ""}
    kept = client.post("/shelf/add/centrifuge/", asked, headers={"HX-Request": "true"})
    assert kept.headers["HX-Redirect"] == "/shelf/#centrifuges"


def test_who_may_not_keep_the_shelf_reads_it_and_finds_no_doors(client: Client, clinic: Clinic) -> None:
    sign_in(client, clinic, Role.ASSISTANT, "ash")
    page = client.get("/shelf/").content.decode()
    assert "/shelf/add/" not in page
    assert "/shelf/recall/" not in page
    for address in ("/shelf/add/lot/", "/shelf/bore/", "/shelf/recall/"):
        assert client.get(address).status_code == 403
        assert client.post(address, {}).status_code == 403


def test_a_manager_recalls_a_lot_with_a_reason_and_sees_who_got_it(
    client: Client, clinic: Clinic, preparer: Person
) -> None:
    lot = a_lot(clinic, preparer)
    clinician = make_person(clinic, username="cleo", role=Role.CLINICIAN)
    run = make_run(clinic, preparer, clinician, name="Ida Example", record_number="100-7")
    use_lot(run=run, lot=lot, quantity=4, by=preparer, at=AT)
    assert client.post("/shelf/recall/", {"lot.lot": str(lot.pk), "lot.why": "x"}).status_code == 403
    sign_in(client, clinic, Role.MANAGER, "mo")
    refused = client.post("/shelf/recall/", {"lot.lot": str(lot.pk), "lot.why": ""})
    assert refused.status_code == 422
    assert 'id="lot-why-why"' in refused.content.decode()
    sent_on = client.post("/shelf/recall/", {"lot.lot": str(lot.pk), "lot.why": "maker's letter"}, follow=True)
    said = text_of(sent_on.content)
    assert "Recall a lot: kept." in said
    assert "Lot B-17: 1 use" in said
    assert "recalled maker's letter" in said
    assert "Ida Example 100-7" in said
    assert f"blood tube 4 {run.code}" in said
    assert "No lot of that number" in text_of(client.get("/shelf/lot-search/?number=Z").content)


def test_a_bore_is_measured_step_by_step_and_written_into_its_kind(
    client: Client, clinic: Clinic, preparer: Person
) -> None:
    kind = add_tube_kind(
        clinic=clinic, name="collection", inner_diameter_mm=12.5, bottom="round", capacity_ml=11, graduated=False,
        by=preparer, at=AT,
    )  # fmt: skip
    g_per_mm = math.pi / 4 * 13.0**2 * water_density_kg_m3(22) * 1e-6
    told = {"kind": str(kind.pk), "temperature_c": "22"}
    for number in range(2):
        told |= {
            f"tubes.{number}.lower_mm": "20", f"tubes.{number}.lower_g": f"{20 * g_per_mm:.3f}",
            f"tubes.{number}.upper_mm": "70", f"tubes.{number}.upper_g": f"{70 * g_per_mm:.3f}",
        }  # fmt: skip
    assert "Choose the kind of tube" in client.get("/shelf/bore/").content.decode()
    assert "measure its temperature" in client.get(f"/shelf/bore/?kind={kind.pk}").content.decode()
    given: dict[str, str] = {"measured": "1", "step": "next"}
    for name, value in list(told.items())[:6]:
        given[name] = value
        page = client.post("/shelf/bore/", given)
        assert page.status_code == 200, text_of(page.content)
    assert "13.00 mm, ± 0.05 mm" in text_of(page.content)
    assert "The shelf says 12.5 mm" in text_of(page.content)
    more = client.post("/shelf/bore/", {**given, "step": "more"}).content.decode()
    assert "Lower level, tube 2" in more
    whole = {**told, "measured": "2"}
    assert "13.00 mm, ± 0.03 mm" in text_of(client.post("/shelf/bore/", {**whole, "step": "next"}).content)
    kept = client.post("/shelf/bore/", {**whole, "step": "keep"}, follow=True)
    assert "collection: bore 13.00 ± 0.03 mm, kept." in text_of(kept.content)
    assert TubeKind.objects.of(clinic).get().inner_diameter_mm == 13.0


def test_a_wrong_reading_is_asked_again_and_what_went_before_is_kept(
    client: Client, clinic: Clinic, preparer: Person
) -> None:
    kind = add_tube_kind(
        clinic=clinic, name="collection", inner_diameter_mm=12.5, bottom="round", capacity_ml=11, graduated=False,
        by=preparer, at=AT,
    )  # fmt: skip
    told = {"measured": "1", "step": "next", "kind": str(kind.pk), "temperature_c": "22", "tubes.0.lower_mm": "20"}
    for wrong in ({"tubes.0.lower_g": "two"}, {"tubes.0.lower_g": ""}):
        page = client.post("/shelf/bore/", {**told, **wrong})
        assert page.status_code == 422
        assert 'aria-invalid="true"' in page.content.decode()
        assert '<input type="hidden" name="tubes.0.lower_mm" value="20">' in page.content.decode()
    whole = {**told, "tubes.0.lower_g": "2.6", "tubes.0.upper_mm": "25", "tubes.0.upper_g": "9.2"}
    page = client.post("/shelf/bore/", whole)
    assert page.status_code == 422
    assert "upper_mm is 25; it must stand at least 10 mm above" in text_of(page.content)
    back = client.post("/shelf/bore/", {**told, "step": "back"})
    assert back.status_code == 200
    assert 'name="tubes.0.lower_mm" type="text"' in back.content.decode()
    assert client.post("/shelf/bore/", {**told, "step": "keep"}).status_code == 422
    hot = client.post("/shelf/bore/", {"measured": "1", "step": "next", "kind": str(kind.pk), "temperature_c": "72"})
    assert "temperature_c is 72" in text_of(hot.content)


def test_another_clinics_shelf_is_not_shown(client: Client, clinic: Clinic, preparer: Person) -> None:
    south = make_clinic("South Clinic")
    cleo = make_person(south, username="cleo")
    theirs = a_lot(south, cleo)
    machine = add_centrifuge(clinic=south, name="theirs", serial_number="", by=cleo, at=AT)
    add_rotor(clinic=south, name="far", bottom_radius_mm=160, max_rcf=3000, places=8, by=cleo, at=AT)
    page = text_of(client.get("/shelf/").content)
    assert "B-17" not in page
    assert "far" not in page
    refused = client.post("/shelf/add/count/", {"lot.lot": str(theirs.pk), "lot.counted": "1", "lot.why": "x"})
    assert refused.status_code == 422
    assert pieces_left(theirs) == 20
    check_centrifuge(
        centrifuge=machine, kind=CheckKind.SPEED, set_to=1500, read=1500, done_on=AT.date(), by=cleo, at=AT
    )
    assert Check.objects.of(clinic).count() == 0
