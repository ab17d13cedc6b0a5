"""The bench's pages as a browser without its scripts sees them: every step, entries, amendments."""

import json
import re
from collections.abc import Callable
from html import unescape

import pytest
from django.test import Client
from tests.builders import (
    make_clinic,
    make_person,
    make_run,
)
from tests.web.bench_desk import Bench, primary_entry

from plasmawright.bench.guide import card_of
from plasmawright.bench.steps import ORDER, Step
from plasmawright.records.selectors.runs import stand

pytestmark = [pytest.mark.database, pytest.mark.django_db, pytest.mark.usefixtures("clock")]

PRESSED = [step for step in ORDER if step is not Step.RELEASE]


@pytest.mark.parametrize("step", PRESSED)
def test_each_step_shows_its_words_its_number_and_one_primary_button(bench: Bench, step: Step) -> None:
    page = bench.at(step).page()
    card = card_of(stand(bench.run))
    assert f"<h1>{card.title}</h1>" in page
    assert not card.number or f">{card.number}</span>" in page
    assert primary_entry(page)["step"] == step
    assert f'data-step="{step}" data-position="{stand(bench.run).position}"' in page


def test_a_whole_run_is_pressed_through_by_plain_forms_alone(bench: Bench, clock: Callable[[float], None]) -> None:
    presses = 0
    while stand(bench.run).step is not Step.RELEASE:
        clock(60.0 * presses)
        entry = json.dumps(primary_entry(bench.page()))
        answer = bench.post("entry", entry=entry, key=f"press-{presses}")
        assert answer.status_code == 302
        presses += 1
    # 18 steps of one press, two spins of two, one press a tube at the draw and at the withdrawal
    tubes = stand(bench.run).opening.tubes
    assert presses <= 18 + 2 * 2 + 2 * tubes + 1


def test_a_fragment_is_sent_only_when_the_run_has_moved(bench: Bench) -> None:
    bench.at(Step.LABEL)
    position = stand(bench.run).position
    unchanged = bench.client.get(f"/bench/{bench.run.pk}/step/?position={position}")
    assert unchanged.status_code == 204
    moved = bench.client.get(f"/bench/{bench.run.pk}/step/?position={position - 1}")
    assert moved.status_code == 200
    assert moved.content.decode().lstrip().startswith('<section id="step"')


def test_a_double_tap_is_kept_once(bench: Bench) -> None:
    bench.at(Step.LABEL)
    first, again = (bench.tap("done", {}, key="one-and-the-same") for _ in range(2))
    assert first.status_code == again.status_code == 302
    assert stand(bench.run).step is Step.CLOTS


def test_a_tap_on_a_step_that_was_left_is_kept_for_review_and_says_so(bench: Bench) -> None:
    bench.at(Step.STAND)
    entry = json.dumps({"kind": "done", "step": "label", "body": {}})
    answer = bench.client.post(f"/bench/{bench.run.pk}/entry/", {"entry": entry, "key": "late"}, follow=True)
    page = answer.content.decode()
    assert "kept for review" in page
    assert "1 late entry to look at" in page
    assert stand(bench.run).step is Step.STAND


def test_a_late_entry_is_looked_at_on_the_list_of_what_was_told(bench: Bench) -> None:
    bench.at(Step.STAND)
    late = json.dumps({"kind": "done", "step": "label", "body": {}})
    bench.post("entry", entry=late, key="late")
    page = bench.page("history/")
    entry = next(one for one in re.findall(r'name="entry" value="([^"]*)"', page) if "reviewed" in one)
    answer = bench.post("entry", entry=unescape(entry), key="seen", back="history")
    assert answer["Location"].endswith("/history/")
    assert stand(bench.run).to_review == ()


def test_a_reading_that_is_no_number_is_refused_and_kept_as_it_was_typed(bench: Bench) -> None:
    bench.at(Step.LOOK)
    entry = re.search(r'data-measure="plasma_mm" data-entry="([^"]*)"', bench.page())
    assert entry is not None
    answer = bench.post("entry", entry=unescape(entry.group(1)), key="r", value="3x", tube="1")
    assert answer.status_code == 422
    page = answer.content.decode()
    assert 'value="3x"' in page
    assert "it must be a number" in page


def test_a_comma_is_read_as_a_point(bench: Bench) -> None:
    bench.at(Step.LOOK)
    bench.tap("measured", {"what": "interface_mm"}, value="33,5", tube="1")
    assert stand(bench.run).measured["interface_mm.1"] == 33.5


def test_what_is_seen_is_told_by_one_tap_and_shown_as_told(bench: Bench) -> None:
    bench.at(Step.LOOK)
    bench.tap("measured", {"what": "plasma_look", "value": "pink"})
    page = bench.page()
    assert re.search(r'aria-pressed="true">pink<', page)
    assert f"/bench/{bench.run.pk}/mishap/haemolysis/" in page
    assert primary_entry(page)["kind"] == "done", "what was seen never blocks the hands"
    assert "Sharp and clear" not in page, "the button must not say what was not seen"


def test_something_differs_is_one_tap_and_its_words_may_come_afterwards(bench: Bench) -> None:
    bench.at(Step.STOPPERS)
    bench.tap("differs", {}, key="d")
    page = bench.page()
    assert "What differed?" in page
    entry = next(one for one in re.findall(r'name="entry" value="([^"]*)"', page) if "said afterwards" in one)
    bench.post("entry", entry=unescape(entry), key="w", amended_words="one stopper was loose")
    assert "something differs: one stopper was loose" in bench.page("history/")


def test_red_seen_keeps_that_tube_apart_and_asks_what_becomes_of_it(bench: Bench) -> None:
    bench.at(Step.WITHDRAW)
    assert "Red seen in tube 1" in bench.page()
    bench.tap("red_seen", {"tube": 1})
    page = bench.page()
    assert "Tube 1 is kept apart" in page
    for words in ("Leave it out", "Spin it again", "Pool it with the rest"):
        assert words in page
    bench.tap("red_fate", {"tube": 1, "fate": "pooled"}, key="f")
    tube = stand(bench.run).tube(1)
    assert tube is not None
    assert tube.red_fate == "pooled"


def test_another_runs_label_stops_with_a_full_page(bench: Bench) -> None:
    bench.at(Step.WITHDRAW)
    bench.tap("scanned", {}, code="ABCD2345")
    page = bench.page()
    assert "Stop. This label is not of this run." in page
    assert "data-primary" not in page
    own = next(code for code, (kind, number) in stand(bench.run).opening.codes.items() if (kind, number) == ("tube", 1))
    bench.tap("scanned", {}, key="own", code=own.lower())
    assert primary_entry(bench.page())["step"] == "withdraw"


def test_the_patient_stands_on_the_page_by_the_clinics_own_identifiers(bench: Bench) -> None:
    page = bench.page()
    for identifier in ("Ada Example", "born 1965-05-17"):
        assert identifier in page


def test_a_name_alert_stands_on_the_page(bench: Bench) -> None:
    make_run(bench.clinic, bench.pim, bench.cleo, name="Ada Exampel", record_number="R-2")
    assert "NAME ALERT" in bench.page()


def test_a_practice_run_says_so(client: Client) -> None:
    page = Bench(client, practice=True).page()
    assert "PRACTICE" in page
    assert "nobody&#x27;s blood" in page


def test_another_clinics_run_is_not_there(bench: Bench, client: Client) -> None:
    elsewhere = make_clinic("South Clinic")
    client.force_login(make_person(elsewhere, "ida"))
    assert client.get(f"/bench/{bench.run.pk}/").status_code == 404


def test_the_page_turns_dark_for_the_hood_and_stays_so(bench: Bench) -> None:
    assert 'class="at-bench hood"' not in bench.page()
    bench.post("hood")
    assert 'class="at-bench hood"' in bench.page()
    bench.post("hood")
    assert 'class="at-bench hood"' not in bench.page()


def test_an_entry_is_put_right_and_what_it_said_stays_struck(bench: Bench) -> None:
    bench.at(Step.LOOK)
    bench.tap("measured", {"what": "interface_mm", "value": 33.0})
    position = stand(bench.run).position
    assert 'value="33"' in bench.page(f"history/{position}/")
    silent = bench.post(f"history/{position}", key="x", value="38", why="")
    assert silent.status_code == 422, "an amendment says why"
    assert 'value="38"' in silent.content.decode()
    said = bench.post(f"history/{position}", key="y", value="38", why="read from the wrong mark")
    assert said.status_code == 302
    page = bench.page("history/")
    assert "<s>red seen at 33 mm</s>" in page
    assert "red seen at 38 mm" in page
    assert "read from the wrong mark" in page
    assert stand(bench.run).measured["interface_mm"] == 38.0


def test_a_tube_that_stays_short_is_told_with_what_is_in_it(bench: Bench) -> None:
    bench.at(Step.DRAW)
    entry = re.search(r'data-measure="tube_ml" data-entry="([^"]*)"', bench.page())
    assert entry is not None
    bench.post("entry", entry=unescape(entry.group(1)), key="short", ml="6.5")
    tube = stand(bench.run).tube(1)
    assert tube is not None
    assert tube.blood_ml == 6.5
    assert tube.filled_at is not None


def test_what_was_scanned_is_said_back(bench: Bench) -> None:
    bench.at(Step.WITHDRAW)
    own = next(code for code, (kind, number) in stand(bench.run).opening.codes.items() if (kind, number) == ("tube", 2))
    bench.tap("scanned", {}, code=own)
    assert "Scanned: tube 2" in bench.page()
    assert primary_entry(bench.page())["body"] == {"tube": 2, "what": "withdrawn"}, (
        "the tube in hand is the scanned one"
    )
