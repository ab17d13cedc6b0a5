"""Every address there is, and what it asks for: whoever has not got it is sent away before anything is read."""

import re
from collections.abc import Iterator, Mapping

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from tests.builders import AT, make_clinic, make_person
from tests.records.test_permissions import EXPECTED

from plasmawright.records.models import Person, Role
from plasmawright.records.permissions import Action

pytestmark = [pytest.mark.database, pytest.mark.django_db]

OPEN = "open"
"""Before anybody has signed in."""

NEEDS: Mapping[str, Action | str] = {
    "home": OPEN,
    "account_login": OPEN,
    "account_logout": OPEN,
    "account_signup": OPEN,
    "account_inactive": OPEN,
    "pin": OPEN,
    "service_worker": OPEN,
    "install": OPEN,
    "tablet": OPEN,
    "install_root": OPEN,
    "plan": Action.READ,
    "plan_example": Action.PLAN,
    "plan_point": Action.PLAN,
    "plan_intervals": Action.PLAN,
    "plan_told": Action.PLAN,
    "plan_save": Action.PLAN,
    "plan_saved": Action.READ,
    "plan_from": Action.PLAN,
    "plan_worksheet": Action.PRINT_PAPERS,
    "plan_rack_card": Action.PRINT_PAPERS,
    "api_here": Action.READ,
    "api_entries": Action.READ,  # a practice run is open to everybody; the service asks for more where it is none
    "api_ahead": Action.READ,
    "tube": Action.READ,
    # at the bench everybody may look; what is written there is asked for by its service
    "bench_open": Action.PREPARE,
    "bench": Action.READ,
    "bench_step": Action.READ,
    "bench_entry": Action.READ,
    "bench_hood": Action.READ,
    "bench_mishap": Action.READ,
    "bench_choices": Action.READ,
    "bench_foresight": Action.READ,
    "bench_release": Action.READ,
    "bench_override": Action.READ,
    "bench_discard": Action.READ,
    "bench_history": Action.READ,
    "bench_amend": Action.READ,
    "run_record": Action.PRINT_PAPERS,
    "run_labels": Action.PRINT_PAPERS,
    "bench_commands": Action.PRINT_PAPERS,
    "today_downtime": Action.PRINT_PAPERS,
    "today": Action.READ,
    "today_now": Action.READ,
    "today_wall": Action.READ,
    "today_wall_now": Action.READ,
    "practice": Action.PRACTICE,
    "practice_seen": Action.PRACTICE,
    "practice_trouble": Action.PRACTICE,
    "practice_give_up": Action.PRACTICE,
    "drill": Action.DRILL,
    "bench_enter_later": Action.BACK_ENTER,
    "bench_release_later": Action.BACK_ENTER,
    "patients": Action.READ,
    "patient": Action.READ,
    "patient_new": Action.KEEP_PATIENTS,
    "patient_correct": Action.KEEP_PATIENTS,
    "patient_plan": Action.PLAN,
    "intake_new": Action.INTAKE,
    "intake_sign": Action.READ,  # everybody reads it; the service lets a clinician sign
    "settings": Action.READ,
    "settings_change": Action.CHANGE_SETTINGS,
    "shelf": Action.READ,
    "shelf_lot_search": Action.READ,
    "shelf_add": Action.KEEP_SHELF,
    "shelf_bore": Action.KEEP_SHELF,
    "shelf_recall": Action.RECALL_LOTS,
    "installation": Action.READ,
    "people": Action.READ,
    "people_own_pin": Action.READ,
    "people_add": Action.MANAGE_PEOPLE,
    "people_give_role": Action.MANAGE_PEOPLE,
    "people_take_role": Action.MANAGE_PEOPLE,
    "people_reset_pin": Action.MANAGE_PEOPLE,
    "people_enrol": Action.ENROL_TABLETS,
    "people_revoke": Action.ENROL_TABLETS,
}
"""What each address asks for, by the name it has in config/urls.py. A new address gets its row here."""

EXAMPLES = {"int": "7", "slug": "abc", "str": "abc", "path": "abc", "uuid": "00000000-0000-4000-8000-000000000000"}
"""What stands in an address for each kind of part; nothing there need exist, since who may is asked first."""


def patterns(resolver: URLResolver | None = None, before: str = "", space: str = "") -> Iterator[tuple[str, str]]:
    """Yield the name and an example of every address there is, those of what is included too."""
    for entry in (resolver or get_resolver()).url_patterns:
        route = before + str(entry.pattern)
        if isinstance(entry, URLResolver):
            yield from patterns(entry, route, f"{space}{entry.namespace}:" if entry.namespace else space)
        elif isinstance(entry, URLPattern):
            yield space + (entry.name or route), "/" + re.sub(r"<(?:(\w+):)?\w+>", example, route)


def example(part: re.Match[str]) -> str:
    return EXAMPLES[part[1] or "str"]


ADDRESSES = dict(patterns())


def answers(client: Client, address: str) -> set[int]:
    """Return how an address answers to being read and to being written to, other than that it is never so asked."""
    return {client.get(address).status_code, client.post(address).status_code} - {405}


def test_every_address_stands_in_the_table() -> None:
    assert len(ADDRESSES) > 20
    assert set(ADDRESSES) - set(NEEDS) == set(), "say above what these ask for"


@pytest.mark.parametrize("name", [name for name in sorted(ADDRESSES) if NEEDS.get(name) != OPEN])
def test_an_address_sends_strangers_to_sign_in_and_refuses_who_has_no_clinic(client: Client, name: str) -> None:
    found = answers(client, ADDRESSES[name])
    assert found, name
    assert found <= {302, 401, 403}, name
    if found == {302}:
        asked = client.get(ADDRESSES[name])
        asked = client.post(ADDRESSES[name]) if asked.status_code == 405 else asked
        assert asked.headers["Location"].startswith("/sign-in/"), name
    client.force_login(Person.objects.create(username="nobody", display_name="No", added_by="test", added_at=AT))
    found = answers(client, ADDRESSES[name])
    assert found, name
    assert found <= {302, 401, 403}, name


@pytest.mark.parametrize("role", list(Role))
def test_an_address_refuses_every_role_that_may_not(client: Client, role: Role) -> None:
    client.force_login(make_person(make_clinic(), role=role))
    refused = [name for name, action in NEEDS.items() if isinstance(action, Action) and not EXPECTED[role, action]]
    for name in refused:
        assert answers(client, ADDRESSES[name]) == {403}, name
    assert refused or role == Role.MANAGER
