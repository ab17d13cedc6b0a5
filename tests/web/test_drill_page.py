"""The drill's page: a form a pull, what it says of the hand, and where the plan takes it from."""

import re
from html import unescape

import pytest
from django.test import Client
from tests.builders import AT, make_clinic, make_person, make_plan, make_visit, real_answer

from plasmawright.practice.drill import PULLS
from plasmawright.records.models import BottomShape, Clinic, DrillPull, Person, Role
from plasmawright.records.selectors.drill import hand
from plasmawright.records.services.shelf import add_tube_kind

pytestmark = [pytest.mark.database, pytest.mark.django_db]


@pytest.fixture
def clinic() -> Clinic:
    return make_clinic()


@pytest.fixture
def pim(client: Client, clinic: Clinic) -> Person:
    person = make_person(clinic)
    add_tube_kind(
        clinic=clinic, name="Long tube", inner_diameter_mm=13.0, bottom=BottomShape.ROUND, capacity_ml=11.0,
        graduated=False, by=person, at=AT,
    )  # fmt: skip
    client.force_login(person)
    return person


def page(client: Client, where: str = "/drill/") -> str:
    answer = client.get(where)
    assert answer.status_code == 200
    return " ".join(unescape(answer.content.decode()).split())


def tap(client: Client, number: int, taken_g: str, **form: str) -> int:
    asked = {"number": str(number), "added_g": "4.00", "taken_g": taken_g, "aimed_mm": "3", "bore": "13"}
    return client.post("/drill/", {**asked, **form}).status_code


def ten(client: Client, *, from_g: float = 3.50) -> None:
    for number in range(1, PULLS + 1):
        assert tap(client, number, f"{from_g + 0.02 * number:.2f}") == 302


def test_the_page_says_how_it_is_done_and_offers_the_shelf_s_bores(client: Client, pim: Person) -> None:
    html = page(client)
    assert "dyed sugar water" in html
    assert '<option value="13" selected>Long tube, bore 13 mm</option>' in html
    assert "Pull 1 of 10" in html


def test_each_pull_shows_its_result_and_from_the_second_how_the_hand_stops(
    client: Client, clinic: Clinic, pim: Person
) -> None:
    assert tap(client, 1, "3,60") == 302
    html = page(client)
    assert "Pull 2 of 10" in html
    assert "So far" not in html, "one pull has no spread"
    assert "<td>3.0</td><td>3.0</td>" in html
    tap(client, 2, "3.50")
    assert "So far, by 2 pulls: You stop" in page(client)
    assert "nine times in ten" in page(client)


def test_after_ten_the_hand_stands_and_the_next_pull_begins_a_new_series(
    client: Client, clinic: Clinic, pim: Person
) -> None:
    ten(client)
    html = page(client)
    found = hand(clinic=clinic, person=pim)
    assert found is not None
    assert f'<span class="figure">{found.about_aim_mm:.1f}</span>' in html
    assert "Pull 1 of 10" in html
    assert tap(client, 1, "3.60") == 302
    assert DrillPull.objects.of(clinic).values("series").distinct().count() == 2


def test_a_pull_tapped_twice_is_kept_once(client: Client, clinic: Clinic, pim: Person) -> None:
    tap(client, 1, "3.60")
    tap(client, 1, "3.60")
    assert DrillPull.objects.of(clinic).count() == 1


def test_a_refused_pull_keeps_what_was_typed(client: Client, clinic: Clinic, pim: Person) -> None:
    for wrong in ("4.50", "much"):
        answer = client.post(
            "/drill/", {"number": "1", "added_g": "4.00", "taken_g": wrong, "aimed_mm": "2.5", "bore_other": "14.1"}
        )
        assert answer.status_code == 422
        html = answer.content.decode()
        for typed in ("4.00", wrong, "2.5", "14.1"):
            assert f'value="{typed}"' in html
    assert not DrillPull.objects.of(clinic).exists()


def test_a_new_plan_starts_with_the_own_hand_and_says_where_it_comes_from(
    client: Client, clinic: Clinic, pim: Person
) -> None:
    make_plan(make_visit(clinic, pim), pim, answer=real_answer())
    before = page(client, "/plan/")
    assert "from your stop-line drill" not in before
    ten(client, from_g=3.40)
    found = hand(clinic=clinic, person=pim)
    assert found is not None
    html = page(client, "/plan/")
    entry = re.search(r'id="bench-stop_spread_mm"[^>]*value="([^"]*)"', html)
    assert entry is not None
    assert entry[1] == f"{found.about_aim_mm:.1f}"
    assert "from your stop-line drill" in html
    # another person's form keeps what the last plan had
    client.force_login(make_person(clinic, "cleo", Role.CLINICIAN))
    assert "from your stop-line drill" not in page(client, "/plan/")
