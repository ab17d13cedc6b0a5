"""The page that shows what one preparation becomes, as a browser without scripts sees it."""

import re

import pytest
from django.test import Client
from tests.builders import AT, PASSWORD, make_clinic, make_person

from plasmawright.records.models import Person
from plasmawright.web.form import FIELDS, entered

pytestmark = [pytest.mark.database, pytest.mark.django_db]


@pytest.fixture
def signed_in(client: Client) -> Client:
    """Return a client signed in as a preparer."""
    client.force_login(make_person(make_clinic()))
    return client


def test_a_stranger_is_sent_to_sign_in(client: Client) -> None:
    answer = client.get("/tube/")
    assert (answer.status_code, answer.headers["Location"]) == (302, "/sign-in/?next=/tube/")


def test_a_person_without_a_clinic_sees_nothing(client: Client) -> None:
    person = Person(username="nobody", display_name="Nobody", added_by="test", added_at=AT)
    person.set_password(PASSWORD)
    person.save()
    client.force_login(person)
    answer = client.get("/tube/")
    assert answer.status_code == 403
    assert "Haematocrit" not in answer.content.decode()


def test_a_member_signs_in_and_is_shown_a_prediction(client: Client) -> None:
    make_person(make_clinic())
    arrived = client.post("/sign-in/", {"login": "pim", "password": PASSWORD}, follow=True)
    assert arrived.redirect_chain[-1][0] == "/today/"
    page = client.get("/tube/").content.decode()
    assert "Stop 3 mm above the red you see." in page
    assert '<span class="tag">predicted</span>' in page


def test_nobody_adds_themselves(client: Client) -> None:
    page = client.get("/sign-up/")
    client.post("/sign-up/", {"username": "eve", "password1": PASSWORD})
    assert "Sign-up is closed" in page.content.decode()
    assert not Person.objects.filter(username="eve").exists()


def test_a_sixth_wrong_password_is_not_even_looked_at(client: Client) -> None:
    make_person(make_clinic(), username="cleo")
    for _ in range(5):  # the limit in settings: five failures in five minutes for one name
        client.post("/sign-in/", {"login": "cleo", "password": "wrong"})
    answer = client.post("/sign-in/", {"login": "cleo", "password": PASSWORD})
    assert answer.status_code != 302
    assert "Too many" in answer.content.decode()


def test_the_form_starts_with_an_example_that_is_answered(signed_in: Client) -> None:
    page = signed_in.get("/tube/").content.decode()
    for field in FIELDS:
        assert f'name="{field.name}"' in page
    assert 'role="img"' in page
    assert page.count("<svg") == 1


def test_another_haematocrit_gives_another_answer(signed_in: Client) -> None:
    thin = signed_in.post("/tube/", {**entered({}), "blood.hematocrit_frac": "0.30"}, headers={"HX-Request": "true"})
    thick = signed_in.post("/tube/", {**entered({}), "blood.hematocrit_frac": "0.50"}, headers={"HX-Request": "true"})
    assert thin.status_code == thick.status_code == 200
    assert expected_ml(thin.content.decode()) > expected_ml(thick.content.decode())  # fewer cells leave more plasma


def test_a_percentage_is_refused_beside_its_field_and_every_other_entry_is_kept(signed_in: Client) -> None:
    given = {**entered({}), "blood.hematocrit_frac": "42", "blood.platelets_1e9_per_l": "311", "steps.0.minutes": "7"}
    answer = signed_in.post("/tube/", given, headers={"HX-Request": "true"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert not page.lstrip().startswith("<!doctype")
    assert re.search(r'id="blood-hematocrit_frac-why">blood\.hematocrit_frac is 42; it must', page)
    for kept in ("42", "311", "7"):
        assert f'value="{kept}"' in page
    assert page.count('aria-invalid="true"') == 1
    assert "<svg" not in page


def test_every_refused_entry_is_marked_at_once(signed_in: Client) -> None:
    given = {**entered({}), "blood.hematocrit_frac": "abc", "collection.tubes": "0", "steps.2.rcf": "90000"}
    answer = signed_in.post("/tube/", given)
    assert answer.status_code == 422
    assert answer.content.decode().count('aria-invalid="true"') == 3


@pytest.mark.parametrize(
    ("stop", "value", "words"),
    [
        ("above_cells_mm", "4", "Stop 4 mm above the red you see."),
        ("volume_ml", "3.5", "Stop after taking 3.5 mL from each tube."),
        ("with_buffy_coat", "1", "Stop 1 mm below the top of the red you see."),
    ],
)
def test_the_page_says_where_to_stop_in_the_words_of_the_bench(
    signed_in: Client, stop: str, value: str, words: str
) -> None:
    answer = signed_in.post("/tube/", {**entered({}), "steps.1.stop": stop, "steps.1.value": value})
    assert answer.status_code == 200
    assert words in answer.content.decode()


def test_any_shape_of_first_tube_is_drawn(signed_in: Client) -> None:
    cone = {"tubes.collection.cone_height_mm": "20", "tubes.collection.tip_diameter_mm": "2"}
    for shape in ({"tubes.collection.bottom": "flat"}, {"tubes.collection.bottom": "conical", **cone}):
        answer = signed_in.post("/tube/", {**entered({}), **shape})
        assert answer.status_code == 200, shape
        assert 'class="wall"' in answer.content.decode()


def test_what_may_be_left_out_is_assumed_and_listed(signed_in: Client) -> None:
    left_out = {field.name: "" for field in FIELDS if field.when_empty == "population"}
    page = signed_in.post("/tube/", {**entered({}), **left_out}).content.decode()
    assert len(left_out) == 8
    assert assumed_count(page) > assumed_count(signed_in.get("/tube/").content.decode())


@pytest.mark.parametrize("value", ["nan", "inf", "-1", "1e999", "", "0x10", "<b>", "٣", "9" * 5000])
def test_whatever_is_typed_for_a_number_is_answered_or_refused(signed_in: Client, value: str) -> None:
    answer = signed_in.post("/tube/", {**entered({}), "blood.hematocrit_frac": value})
    assert answer.status_code == 422
    assert "<b>" not in answer.content.decode()


def test_every_page_forbids_what_does_not_come_from_here(signed_in: Client) -> None:
    policy = signed_in.get("/tube/").headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "http" not in policy


def test_no_page_carries_a_style_or_script_of_its_own(signed_in: Client) -> None:
    page = signed_in.get("/tube/").content.decode()
    assert not re.search(r"<style|\sstyle=|\son[a-z]+=", page)
    assert re.findall(r"<script(?![^>]*\bsrc=)", page) == []
    assert re.findall(r'(?:src|href)="(?!/|#)', page) == []


def expected_ml(page: str) -> float:
    """Return the millilitres that the page expects out of each tube."""
    found = re.search(r'expect about <span class="p">([\d.]+)</span> mL', page)
    assert found is not None
    return float(found.group(1))


def assumed_count(page: str) -> int:
    """Return how many assumed values the page lists."""
    found = re.search(r"where it was read \((\d+)\)", page)
    assert found is not None
    return int(found.group(1))
