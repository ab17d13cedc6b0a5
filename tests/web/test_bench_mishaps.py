"""Every mishap's page from a stored state, its ways on, and what the model says of them."""

import json
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from html import unescape
from typing import Any

import pytest
from tests.builders import (
    tell,
)
from tests.web.bench_desk import Bench, primary_entry

from plasmawright.bench.entries import Kind
from plasmawright.bench.mishaps import MISHAPS, choices_at
from plasmawright.bench.steps import ORDER, Step
from plasmawright.records.models import Foresight
from plasmawright.records.selectors.runs import stand

pytestmark = [pytest.mark.database, pytest.mark.django_db, pytest.mark.usefixtures("clock")]


def place_of(name: str) -> Step:
    """Return a step at which a mishap happens, the latest so that the most has been done."""
    return max(MISHAPS[name].steps, key=ORDER.index)


def told_by(name: str) -> dict[str, Any]:
    """Return what somebody tells of a mishap."""
    asks = MISHAPS[name].asks
    tubes = {"tubes": ["1"]} if "tubes" in asks else {}
    numbers = {"ml": "3.0"} if "ml" in asks else {}
    spin = {"minutes": "2.5", "rpm": "1100"} if "spin" in asks else {"minutes": "2.5"} if "minutes" in asks else {}
    return {**tubes, **numbers, **spin}


@pytest.mark.parametrize("name", sorted(MISHAPS))
def test_each_mishap_is_told_on_its_page_and_offers_its_ways_at_once(bench: Bench, name: str) -> None:
    known, step = MISHAPS[name], place_of(name)
    bench.at(step)
    if known.breaks_spin and step in {Step.SOFT_SPIN, Step.HARD_SPIN}:
        tell(bench.run, Kind.BEGAN, bench.pim)
    page = bench.page(f"mishap/{name}/")
    assert known.title in page
    assert unescape(page).count(known.look) == 1
    answer = bench.tap("mishap", {"mishap": name}, **told_by(name))
    assert answer.status_code == 302, answer.content.decode()
    facts = stand(bench.run)
    assert facts.open_mishap is not None
    after = unescape(bench.page(f"mishap/{name}/"))
    assert "data-primary" not in after, "the choice is what comes next"
    for choice in choices_at(known, facts.step):
        button = re.search(rf"<button[^>]*>{re.escape(choice.words)}</button>", after)
        assert button is not None, f"{choice.words} stands there at once"
        assert "disabled" not in button.group(0)
    assert len(known.choices) <= 3


@pytest.mark.parametrize("name", sorted(MISHAPS))
def test_the_first_way_on_from_each_mishap_is_one_tap(bench: Bench, name: str) -> None:
    bench.at(place_of(name))
    bench.tap("mishap", {"mishap": name}, **told_by(name))
    entries = [json.loads(unescape(one)) for one in re.findall(r'data-entry="([^"]*)"', bench.page())]
    chosen = next(one for one in entries if one["kind"] == "chosen")
    answer = bench.tap("chosen", chosen["body"], key="choose")
    assert answer.status_code == 302, answer.content.decode()
    assert stand(bench.run).open_mishap is None


def test_mishaps_of_the_step_stand_first(bench: Bench) -> None:
    page = bench.at(Step.WITHDRAW).page()
    listed = re.findall(r'/mishap/(\w+)/"', page)
    here = [name in {key for key, one in MISHAPS.items() if Step.WITHDRAW in one.steps} for name in listed]
    assert here == sorted(here, reverse=True)
    assert set(listed) == set(MISHAPS)


def test_after_a_power_cut_the_rest_of_the_spin_is_offered_before_anything_is_predicted(bench: Bench) -> None:
    bench.at(Step.SOFT_SPIN)
    tell(bench.run, Kind.BEGAN, bench.pim)
    bench.tap("mishap", {"mishap": "power_cut"}, minutes="2")
    planned = stand(bench.run).opening.plan["soft"]
    entries = [json.loads(unescape(one)) for one in re.findall(r'data-entry="([^"]*)"', bench.page())]
    rest = next(one["body"] for one in entries if one["body"].get("choice") == "spin_more")
    assert rest["rpm"] == planned["rpm"]
    assert rest["minutes"] == pytest.approx(planned["minutes"] - 2, abs=0.06)


def test_doubt_of_identity_says_that_nobody_can_lift_it(bench: Bench) -> None:
    bench.at(Step.LABEL)
    assert "There is no override" in bench.page("mishap/tubes_mixed/")
    bench.tap("mishap", {"mishap": "tubes_mixed"}, tubes=["1", "2"])
    assert "There is no override" in bench.page()
    assert [tube.number for tube in stand(bench.run).tubes if tube.void] == [1, 2]


def test_doubt_of_identity_after_pooling_stops_with_a_full_page(bench: Bench) -> None:
    bench.at(Step.TAKE_OFF)
    bench.tap("mishap", {"mishap": "tubes_mixed"}, tubes=["1"])
    page = bench.page()
    assert "Stop. All of this is void." in page
    assert "data-primary" not in page


def test_clumps_withdraw_the_dose_wherever_it_stood(bench: Bench) -> None:
    bench.at(Step.LOOK)
    bench.tap("measured", {"what": "plasma_mm", "value": 30.0})
    bench.at(Step.SWIRL)
    bench.tap("mishap", {"mishap": "clumps"}, key="m")
    page = bench.page()
    assert "Dose unknown." in page
    assert "billion platelets" not in page
    assert page.count("dose unknown") >= 2, "each way on says it"


def told_at_last(bench: Bench, where: str, done: Callable[[str], bool]) -> str:
    """Return a fragment once it no longer waits for what is worked out."""
    deadline = datetime.now(UTC) + timedelta(seconds=90)  # the first march compiles its kernels
    while datetime.now(UTC) < deadline:
        answer = bench.post(where) if where == "foresight" else bench.client.get(f"/bench/{bench.run.pk}/{where}/")
        page: str = answer.content.decode()
        if done(page):
            return page
    raise AssertionError("it never came")


def test_ways_on_are_predicted_once_worked_out(bench: Bench) -> None:
    bench.at(Step.CLOTS)
    bench.tap("mishap", {"mishap": "clot"}, tubes=["1"])
    page = told_at_last(bench, "choices", lambda page: "aria-busy" not in page)
    doses = [float(one) for one in re.findall(r"about ([\d.]+) billion platelets", page)]
    # going on with a tube less, and drawing anew as it was planned
    assert len(doses) == 2
    assert doses[0] < doses[1]


def test_what_was_seen_moves_the_syringes_interval_and_is_kept(bench: Bench) -> None:
    bench.at(Step.LOOK)
    expected = bench.run.plan.answer["chosen"]["stop"]["expected_interface_mm"]["p50"]
    bench.tap("measured", {"what": "interface_mm", "value": expected + 1.5})
    assert "aria-busy" in bench.page()
    page = told_at_last(bench, "foresight", lambda page: "aria-busy" not in page)
    assert "planned" in page
    assert "after what was seen" in page
    assert "Height of the red" in page
    kept = Foresight.objects.of(bench.clinic).get(run=bench.run)
    assert kept.upto_position == stand(bench.run).position


def test_a_reading_nobody_thought_possible_is_a_question_and_blocks_nothing(bench: Bench) -> None:
    bench.at(Step.LOOK)
    bench.tap("measured", {"what": "interface_mm", "value": 12.0})
    page = told_at_last(bench, "foresight", lambda page: "aria-busy" not in page)
    assert "Is one of these so?" in page
    assert primary_entry(bench.page())["kind"] == "done"


def test_a_refused_mishap_keeps_the_tubes_tapped_and_the_number_typed(bench: Bench) -> None:
    bench.at(Step.LABEL)
    answer = bench.tap("mishap", {"mishap": "underfilled"}, mishap="underfilled", tubes=["2"], ml="six")
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "<h1>Underfilled tube</h1>" in page
    assert 'value="six"' in page
    assert re.search(r'name="tubes" value="2" data-list checked', page)
    assert not re.search(r'name="tubes" value="1" data-list checked', page)
