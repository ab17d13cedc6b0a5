"""The Settings page: the published spread beside each number, changed by a manager alone."""

import re
from html import unescape

import pytest
from django.test import Client
from tests.builders import make_clinic, make_person

from plasmawright.practice.clinic_settings import SETTINGS
from plasmawright.records.models import Clinic, Role
from plasmawright.records.selectors.settings import policy_of

pytestmark = [pytest.mark.database, pytest.mark.django_db]


@pytest.fixture
def clinic() -> Clinic:
    return make_clinic()


@pytest.fixture
def managing(client: Client, clinic: Clinic) -> Client:
    client.force_login(make_person(clinic, username="mo", role=Role.MANAGER))
    return client


def test_every_setting_shows_its_spread_and_its_source(managing: Client) -> None:
    html = unescape(managing.get("/settings/").content.decode())
    for known in SETTINGS:
        assert known.words in html
        assert known.spread in html
        assert known.source in html


def test_a_manager_changes_one_and_sees_who_did(managing: Client, clinic: Clinic) -> None:
    answer = managing.post("/settings/hold_h/", {"value": "3"})
    assert (answer.status_code, answer.headers["Location"]) == (302, "/settings/#hold_h")
    assert policy_of(clinic).hold_h == 3
    html = managing.get("/settings/").content.decode()
    assert 'value="3"' in html
    assert "Chosen by" in html


def test_a_refused_number_stays_as_it_was_typed(managing: Client, clinic: Clinic) -> None:
    answer = managing.post("/settings/hold_h/", {"value": "12 h"})
    html = unescape(answer.content.decode())
    assert answer.status_code == 422
    assert re.search(r'value="12 h"[^>]*aria-invalid="true"', html)
    assert policy_of(clinic).hold_h == 4


def test_a_setting_that_does_not_exist_is_refused(managing: Client) -> None:
    assert managing.post("/settings/nothing/", {"value": "1"}).status_code == 422


def test_whoever_may_not_change_them_reads_them_all_the_same(client: Client, clinic: Clinic) -> None:
    client.force_login(make_person(clinic))
    html = client.get("/settings/").content.decode()
    assert '<form method="post" action="/settings/' not in html
    assert "From the draw to release" in html
    assert client.post("/settings/hold_h/", {"value": "3"}).status_code == 403
