"""A browser becomes a tablet of the clinic by the code of one that was enrolled, and by nothing else."""

import re

import pytest
from django.test import Client
from tests.builders import AT, make_clinic, make_person

from plasmawright.records.models import Role
from plasmawright.records.services.tablets import enrol_tablet, revoke_tablet
from plasmawright.web.tablets import COOKIE

pytestmark = [pytest.mark.database, pytest.mark.django_db]


def test_the_code_of_an_enrolled_tablet_is_kept_where_no_script_reads_it(client: Client) -> None:
    clinic = make_clinic()
    _, token = enrol_tablet(clinic=clinic, name="hood", by=make_person(clinic, "mo", Role.MANAGER), at=AT)
    answer = client.post("/tablet/", {"code": f" {token} "})
    assert answer.status_code == 302
    assert answer.cookies[COOKIE].value == token
    assert answer.cookies[COOKIE]["httponly"]


def test_any_other_code_is_refused_and_leaves_nothing(client: Client) -> None:
    clinic = make_clinic()
    mo = make_person(clinic, "mo", Role.MANAGER)
    tablet, token = enrol_tablet(clinic=clinic, name="hood", by=mo, at=AT)
    revoke_tablet(tablet=tablet, by=mo, at=AT)
    for code in ("", "guessed", token, "x" * 5000):
        answer = client.post("/tablet/", {"code": code})
        assert answer.status_code == 422
        assert COOKIE not in answer.cookies


def test_a_manager_hands_out_a_code_for_a_tablet_elsewhere(client: Client) -> None:
    clinic = make_clinic()
    client.force_login(make_person(clinic, "mo", Role.MANAGER))
    answer = client.post("/people/tablets/", {"name": "hood", "elsewhere": "yes"}, follow=True)
    found = re.search(r"shown this once: (\S+?)<", answer.content.decode())
    assert found is not None
    assert COOKIE not in answer.cookies, "this browser is not the tablet"
    assert Client().post("/tablet/", {"code": found[1]}).status_code == 302
    assert found[1] not in client.get("/people/").content.decode()
