"""The Plan page as a browser without its scripts sees it: questions, answers, refusals, saving, reopening."""

import json
import re
import time
from typing import Any

import pytest
from django.test import Client
from tests.builders import make_clinic, make_person

from plasmawright.web.example import example_settled, example_values

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


def test_x(signed_in: Client) -> None:
    b = signed_in.post("/plan/intervals/", {**question(), "want": "choice", "settled": ""})
    print(b.content)
    t = told_at_last(signed_in, b.json()["told"])
    print(t["state"])
    print(json.dumps(t)[:3000])
