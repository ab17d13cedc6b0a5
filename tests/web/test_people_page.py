"""The People page and the PIN at the door, as a browser without scripts sees them."""

import re

import pytest
from django.test import Client
from tests.builders import AT, PASSWORD, make_clinic, make_person

from plasmawright.records.models import Clinic, Person, Pin, Role, Tablet
from plasmawright.records.selectors.people import roles_of
from plasmawright.records.selectors.tablets import tablets_of
from plasmawright.records.services.people import end_role
from plasmawright.records.services.pins import check_pin, set_pin
from plasmawright.records.services.tablets import enrol_tablet, revoke_tablet
from plasmawright.web.tablets import COOKIE

pytestmark = [pytest.mark.database, pytest.mark.django_db]

PIN = "274916"


@pytest.fixture
def clinic() -> Clinic:
    return make_clinic()


@pytest.fixture
def pim(clinic: Clinic) -> Person:
    return make_person(clinic)


@pytest.fixture
def mo(clinic: Clinic) -> Person:
    return make_person(clinic, username="mo", role=Role.MANAGER)


@pytest.fixture
def managing(client: Client, mo: Person) -> Client:
    """Return a client signed in as a manager."""
    client.force_login(mo)
    return client


@pytest.fixture
def hood(client: Client, clinic: Clinic, mo: Person) -> Tablet:
    """Return the tablet that the client is."""
    tablet, token = enrol_tablet(clinic=clinic, name="hood", by=mo, at=AT)
    client.cookies[COOKIE] = token
    return tablet


def page_of(client: Client) -> str:
    return client.get("/people/").content.decode()


def test_a_manager_adds_somebody_who_can_then_sign_in(managing: Client, clinic: Clinic) -> None:
    person = {"username": " ash ", "display_name": "Ash Example", "role": "assistant", "password": PASSWORD}
    answer = managing.post("/people/add/", person)
    added = Person.objects.get(username="ash")
    assert (answer.status_code, answer.headers["Location"]) == (302, f"/people/#person-{added.pk}")
    assert roles_of(person=added, clinic=clinic) == [Role.ASSISTANT]
    assert "Ash Example may now sign in as ash." in page_of(managing)
    assert Client().login(username="ash", password=PASSWORD)


def test_a_refused_person_comes_back_with_every_name_as_typed_but_no_password(managing: Client) -> None:
    person = {"username": "mo", "display_name": "Moritz <i>", "role": "clinician", "password": PASSWORD}
    answer = managing.post("/people/add/", person)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "username is mo; someone signs in with it already. Choose another one." in page
    assert 'value="Moritz &lt;i&gt;"' in page
    assert '<option value="clinician" selected>' in page
    assert PASSWORD not in page
    unknown = managing.post("/people/add/", {**person, "username": "new", "role": "surgeon"})
    assert unknown.status_code == 422
    assert "role is surgeon; it must be one of preparer" in unknown.content.decode()


def test_a_manager_gives_and_takes_roles_but_never_the_last_manager(
    managing: Client, clinic: Clinic, pim: Person, mo: Person
) -> None:
    managing.post(f"/people/{pim.pk}/give/", {"role": "clinician"})
    assert roles_of(person=pim, clinic=clinic) == [Role.PREPARER, Role.CLINICIAN]
    managing.post(f"/people/{pim.pk}/take/", {"role": "preparer"})
    assert roles_of(person=pim, clinic=clinic) == [Role.CLINICIAN]
    answer = managing.post(f"/people/{mo.pk}/take/", {"role": "manager"})
    assert answer.status_code == 422
    assert "a clinic needs one. Give it to somebody else first." in answer.content.decode()
    managing.post(f"/people/{pim.pk}/take/", {"role": "clinician"})
    assert "no role now" in page_of(managing)


def test_who_works_in_another_clinic_is_out_of_reach(managing: Client) -> None:
    stranger = make_person(make_clinic("South Clinic"), username="sue")
    for what in ("give", "take", "pin"):
        assert managing.post(f"/people/{stranger.pk}/{what}/", {"role": "manager", "pin": PIN}).status_code == 404
    assert "Sue Example" not in page_of(managing)


def test_everyone_sets_their_own_pin_typed_twice(client: Client, clinic: Clinic, pim: Person, hood: Tablet) -> None:
    client.force_login(pim)
    assert "Not set yet." in page_of(client)
    differs = client.post("/people/pin/", {"pin": PIN, "again": "274917"})
    assert differs.status_code == 422
    assert "it must be the same twice" in differs.content.decode()
    trivial = client.post("/people/pin/", {"pin": "123456", "again": "123456"})
    assert trivial.status_code == 422
    assert "too easily guessed" in trivial.content.decode()
    assert "123456" not in trivial.content.decode()
    assert client.post("/people/pin/", {"pin": PIN, "again": PIN}).status_code == 302
    check_pin(person=pim, tablet=hood, pin=PIN, at=AT)


def test_a_manager_sets_a_pin_and_its_owner_is_asked_to_choose_another(
    managing: Client, clinic: Clinic, pim: Person, hood: Tablet
) -> None:
    assert managing.post(f"/people/{pim.pk}/pin/", {"pin": "11"}).status_code == 422
    managing.post(f"/people/{pim.pk}/pin/", {"pin": PIN})
    check_pin(person=pim, tablet=hood, pin=PIN, at=AT)
    managing.force_login(pim)
    assert "by mo: choose one that you alone know" in page_of(managing)


def test_who_manages_nobody_is_shown_nothing_to_change_but_their_own_pin(
    client: Client, pim: Person, mo: Person
) -> None:
    client.force_login(pim)
    page = page_of(client)
    assert "Mo Example" in page
    addresses = set(re.findall(r'action="(/people/[^"]*)"', page))
    assert addresses == {"/people/pin/"}


def test_a_refused_page_says_who_may(client: Client, pim: Person) -> None:
    client.force_login(pim)
    answer = client.post("/people/add/", {})
    assert answer.status_code == 403
    assert "role is preparer; it must be manager to add people and give roles." in answer.content.decode()


def test_an_assistant_sees_saved_plans_and_is_offered_no_new_one(client: Client, clinic: Clinic) -> None:
    client.force_login(make_person(clinic, username="ash", role=Role.ASSISTANT))
    page = client.get("/plan/").content.decode()
    assert "Saved plans" in page
    assert "data-point" not in page


# ---- tablets ----


def test_a_tablet_is_enrolled_by_a_cookie_no_script_reads_and_revoked(managing: Client, clinic: Clinic) -> None:
    assert managing.post("/people/tablets/", {"name": ""}).status_code == 422
    answer = managing.post("/people/tablets/", {"name": "hood"})
    cookie = answer.cookies[COOKIE]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Strict"
    assert cookie["max-age"] == 400 * 24 * 60 * 60
    (enrolled,) = tablets_of(clinic)
    assert cookie.value != enrolled.token_hash
    assert "This tablet is enrolled as <strong>hood</strong>." in page_of(managing)
    gone = managing.post(f"/people/tablets/{enrolled.pk}/revoke/")
    assert gone.cookies[COOKIE].value == ""
    assert "This tablet is not enrolled." in page_of(managing)
    assert managing.post(f"/people/tablets/{enrolled.pk}/revoke/").status_code == 404


# ---- by PIN ----


@pytest.fixture
def pinned(clinic: Clinic, pim: Person) -> Person:
    set_pin(person=pim, clinic=clinic, pin=PIN, by=pim, at=AT)
    return pim


def test_a_right_pin_on_an_enrolled_tablet_signs_in_and_goes_on(client: Client, pinned: Person, hood: Tablet) -> None:
    door = client.get("/pin/?next=/tube/").content.decode()
    assert "Pim Example" in door
    assert "Mo Example" not in door  # who has no PIN cannot come in by one
    answer = client.post("/pin/", {"person": pinned.pk, "pin": PIN, "next": "/tube/"})
    assert (answer.status_code, answer.headers["Location"]) == (302, "/tube/")
    assert client.get("/tube/").status_code == 200
    assert "sign in by PIN" in Client(headers={"cookie": f"{COOKIE}=x"}).get("/sign-in/").content.decode()


def test_a_script_is_told_who_signed_in_and_the_token_of_its_next_write(pinned: Person, mo: Person) -> None:
    client = Client(enforce_csrf_checks=True)
    _, token = enrol_tablet(clinic=tablet_clinic(mo), name="bench", by=mo, at=AT)
    client.cookies[COOKIE] = token
    client.get("/pin/")
    asked = {"accept": "application/json", "x-csrftoken": client.cookies["csrftoken"].value}
    answer = client.post("/pin/", {"person": pinned.pk, "pin": PIN}, headers=asked)
    told = answer.json()
    assert (answer.status_code, told["person"], told["name"]) == (200, pinned.pk, "Pim Example")
    written = client.post("/people/pin/", {}, headers={"x-csrftoken": told["csrf_token"]})
    assert written.status_code == 422  # the token holds: it is the missing PIN that is refused
    wrong = client.post(
        "/pin/", {"person": pinned.pk, "pin": "274917"}, headers={**asked, "x-csrftoken": told["csrf_token"]}
    )
    assert wrong.status_code == 422
    assert [set(reason) for reason in wrong.json()] == [{"field", "value", "limit", "remedy"}]


def tablet_clinic(person: Person) -> Clinic:
    return Clinic.objects.get(membership__person=person)


def test_no_pin_opens_anything_without_an_enrolled_tablet(client: Client, pinned: Person) -> None:
    for token in ("", "forged"):
        client.cookies[COOKIE] = token
        answer = client.post("/pin/", {"person": pinned.pk, "pin": PIN})
        assert answer.status_code == 403
        assert "Sign in with your password." in answer.content.decode()
    assert client.get("/tube/").status_code == 302


@pytest.mark.parametrize("next_page", ["https://elsewhere.example/", "//elsewhere.example", "javascript:1"])
def test_nobody_is_sent_elsewhere(client: Client, pinned: Person, hood: Tablet, next_page: str) -> None:
    answer = client.post("/pin/", {"person": pinned.pk, "pin": PIN, "next": next_page})
    assert answer.status_code == 302
    assert "elsewhere" not in answer.headers["Location"]
    assert answer.headers["Location"].startswith("/")


def test_a_wrong_pin_comes_back_with_the_person_chosen_and_slows_after_three(
    client: Client, pinned: Person, hood: Tablet
) -> None:
    for _ in range(3):
        answer = client.post("/pin/", {"person": pinned.pk, "pin": "274917"})
        assert answer.status_code == 422
    page = answer.content.decode()
    assert f'<option value="{pinned.pk}" selected>' in page
    assert "Try again in 30 s" in page
    assert "274917" not in page
    assert "not looked at" in client.post("/pin/", {"person": pinned.pk, "pin": PIN}).content.decode()


@pytest.mark.parametrize("who", ["", "0", "x", "²", "9" * 40])
def test_somebody_who_is_not_there_is_refused(client: Client, pinned: Person, hood: Tablet, who: str) -> None:
    assert client.post("/pin/", {"person": who, "pin": PIN}).status_code == 422


def test_a_pin_opens_the_bench_but_not_the_keys_of_the_clinic(client: Client, clinic: Clinic, mo: Person) -> None:
    set_pin(person=mo, clinic=clinic, pin=PIN, by=mo, at=AT)
    _, token = enrol_tablet(clinic=clinic, name="hood", by=mo, at=AT)
    client.cookies[COOKIE] = token
    client.post("/pin/", {"person": mo.pk, "pin": PIN})
    assert client.get("/people/").status_code == 200
    answer = client.post("/people/add/", {})
    assert answer.status_code == 403
    assert "Sign out, then sign in with your password." in answer.content.decode()
    assert client.post("/people/pin/", {"pin": "816352", "again": "816352"}).status_code == 422
    assert Pin.objects.of(clinic).get(person=mo).set_by == "mo"
    check_pin(person=mo, tablet=tablets_of(clinic)[0], pin=PIN, at=AT)


def test_revoking_a_tablet_signs_out_who_came_in_by_pin_on_it(
    client: Client, pinned: Person, hood: Tablet, mo: Person
) -> None:
    client.post("/pin/", {"person": pinned.pk, "pin": PIN})
    assert client.get("/tube/").status_code == 200
    revoke_tablet(tablet=hood, by=mo, at=AT)
    answer = client.get("/tube/")
    assert (answer.status_code, answer.headers["Location"]) == (302, "/sign-in/?next=/tube/")


def test_who_lost_their_last_role_is_out_at_the_next_click(
    client: Client, clinic: Clinic, pim: Person, mo: Person
) -> None:
    client.force_login(pim)
    assert client.get("/tube/").status_code == 200
    end_role(person=pim, clinic=clinic, role=Role.PREPARER, by=mo, at=AT)
    assert client.get("/tube/").status_code == 403
