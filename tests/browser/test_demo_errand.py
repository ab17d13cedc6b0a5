"""A stranger takes the demo's prepared visit to a released syringe, whatever goes wrong, and prints its record."""

import io
import json
import os
import re
import signal
import subprocess
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect
from pypdf import PdfReader
from tests.browser.conftest import Demo
from tests.browser.hands import Hands, picture_at, take_picture

pytestmark = pytest.mark.browser

PATIENT = "Marta Fablewood"
FINISHED = "Otis Quillfeather"
CATCHES_UP_MS = 60_000
PREDICTED_MS = 60_000
NOBODY_ANSWERED = ("Failed to load resource: net::ERR_", "htmx:")
"""Chromium and htmx note every question to a server that is dead; the page says so itself, and asks on."""
RECORD_DPI = "80"


def test_a_stranger_takes_the_prepared_visit_to_a_released_syringe_and_prints_its_record(
    tablet: BrowserContext, demo: Demo, tmp_path: Path
) -> None:
    hands = Hands(tablet.new_page())
    page = hands.page
    become_the_tablet(page, demo)
    take_picture(page, tmp_path, "today.png")
    page.get_by_role("link", name=f"Open the run for {PATIENT}").tap()
    page.get_by_role("button", name="Open this run").tap()
    page.locator("#step").wait_for()
    expect(page.get_by_text("NAME ALERT")).to_be_visible()

    press_to(hands, "draw")
    hands.press_next()
    hands.press_next()
    kill_the_server(demo)
    press_while_dead(hands)
    press_to(hands, "stand")
    break_a_tube(hands, tmp_path)
    press_to(hands, "soft_spin")
    hands.press_next()
    kill_the_server(demo)
    press_while_dead(hands)
    expect(page.locator("#step")).to_have_attribute("data-step", "look")

    read_height(hands, "34.5")
    press_to(hands, "withdraw")
    expect(page.locator(".before-after tbody tr")).to_have_count(3, timeout=PREDICTED_MS)
    take_picture(page, tmp_path, "bench-withdraw.png")
    page.get_by_role("button", name=re.compile("^Red seen")).tap()
    expect(page.get_by_text("is kept apart: red seen.")).to_be_visible()
    press_to(hands, "release")
    release(hands, demo, tmp_path)

    record = downloaded(page, "Record, A4")
    words = words_of(record)
    refuse_gaps(words, patient=PATIENT)
    for told in ("Broken tube (tubes 2)", "chosen: Go on without these tubes", "2 of 3 drawn for"):
        assert told in words
    for told in ("red seen, kept apart", "tube 1: red seen at 34.5 mm", "The red was seen at 34.5 mm"):
        assert told in words
    for told in ("tube 2 filled and inverted", "tube 3 filled and inverted", "8 Soft spin", "done Pim Preparer"):
        assert told in words, "a press made while nobody answered is missing"
    keep_first_page(record, picture_at(tmp_path, "record.png"))
    assert [one for one in hands.watch.complaints if not one.startswith(NOBODY_ANSWERED)] == []


def test_the_demo_holds_one_finished_run_with_its_record(tablet: BrowserContext, demo: Demo) -> None:
    page = tablet.new_page()
    become_the_tablet(page, demo)
    page.locator(".row.ended", has_text=FINISHED).get_by_role("link", name="Look at it").tap()
    expect(page.locator("#step")).to_have_attribute("data-step", "released")
    refuse_gaps(words_of(downloaded(page, "Record, A4")), patient=FINISHED)


def become_the_tablet(page: Page, demo: Demo) -> None:
    """Open the address that the demo prints, and sign in as the preparer."""
    page.goto(f"{demo.url}tablet/#{demo.tablet_code}")
    page.get_by_role("button", name="This is the clinic's tablet").tap()
    page.get_by_label("Name").fill(demo.name)
    page.get_by_label("Password").fill(demo.password)
    page.get_by_role("button", name="Sign in").tap()
    page.get_by_role("heading", name="Today", exact=True).wait_for()


def press_to(hands: Hands, step: str) -> None:
    """Press the one key until the run stands at a step."""
    while hands.step() != step:
        hands.press_next()


def kill_the_server(demo: Demo) -> None:
    """Kill the process that answers, as a power cut would; whoever watches over it starts it again."""
    os.kill(json.loads((demo.data / "serving.json").read_text(encoding="ascii"))["web"], signal.SIGKILL)


def press_while_dead(hands: Hands) -> None:
    """Press once while nobody answers; it arrives by itself, once."""
    before = int(hands.position())
    hands.page.wait_for_timeout(500)
    hands.page.keyboard.press("PageDown")
    expect(hands.page.locator("#step")).to_have_attribute("data-position", str(before + 1), timeout=CATCHES_UP_MS)


def break_a_tube(hands: Hands, folder: Path) -> None:
    """Tell of a broken tube, look at the ways on and take the first."""
    page = hands.page
    page.get_by_text("Something is wrong").tap()
    page.locator("#wrong").get_by_role("link", name="Broken tube").tap()
    hands.tap_here("Tube 2")
    page.locator("#choices:not([aria-busy])").wait_for(timeout=PREDICTED_MS)
    expect(page.locator(".ways .p").first).to_contain_text("billion platelets")
    take_picture(page, folder, "mishap.png")
    hands.tap_here("Go on without these tubes")


def read_height(hands: Hands, height_mm: str) -> None:
    """Enter where the red stands."""
    page = hands.page
    form = page.locator("form[data-measure=interface_mm]")
    form.locator("input[name=value]").fill(height_mm)
    before = hands.position()
    form.get_by_role("button").tap()
    expect(page.locator("#step")).not_to_have_attribute("data-position", before)
    page.evaluate("document.activeElement.blur()")


def release(hands: Hands, demo: Demo, folder: Path) -> None:
    """Read back, and have the clinician sign by PIN."""
    page = hands.page
    page.get_by_text("Label read from the syringe").tap()
    page.get_by_text("Time left read aloud").tap()
    page.get_by_label("Volume read").fill("3.0")
    page.locator("#signer").select_option(label="Cleo Clinician")
    take_picture(page, folder, "release.png")
    page.locator("#release-pin").fill(demo.pins["cleo"])
    page.get_by_role("button", name="Release", exact=True).tap()
    expect(page.locator("#step")).to_have_attribute("data-step", "released")
    expect(page.get_by_text("Witnessed by a second person.")).to_be_visible()


def downloaded(page: Page, link: str) -> bytes:
    """Return the paper behind a link of the page."""
    address = page.get_by_role("link", name=link).evaluate("element => element.href")
    answer = page.request.get(address)
    assert answer.ok
    return answer.body()


def words_of(pdf: bytes) -> str:
    """Return all words of a paper with single spaces."""
    pages = PdfReader(io.BytesIO(pdf)).pages
    return " ".join(" ".join(page.extract_text().replace("\u200b", "").split()) for page in pages)


def refuse_gaps(words: str, *, patient: str) -> None:
    """Fail for a record from which something is missing that every released run has."""
    assert patient in words
    for planned in ("The plan: plasmawright", "mm above the red you see", "Draw", "Soft spin", "Brake off", "Fill the"):
        assert planned in words, "the plan is not beside what happened"
    for happened in ("both identifiers agree", "loaded and balanced", "started", "suspended", "filled and labelled"):
        assert happened in words, f"{happened}: it is not told"
    for lot in ("blood tube BT-4417", "second tube ST-1180", "winged needle set NS-7702", "skin wipe SW-3391"):
        assert lot in words, "a lot that was opened is missing"
    assert "Prepared by Pim Preparer. Cleo Clinician" in words
    assert re.search(r"Cleo Clinician \d{4}-\d\d-\d\d \d\d:\d\d UTC witnessed", words)
    assert re.search(r"ledger stood at line \d+ with the digest [0-9a-f]{64} when this was printed", words)
    assert "hold, from the first tube" in words
    assert "Not ended" not in words


def keep_first_page(pdf: bytes, file: Path) -> None:
    """Draw the first page of a paper as a picture."""
    command = [
        "pdftoppm",
        "-png",
        "-singlefile",
        "-r",
        RECORD_DPI,
        "-f",
        "1",
        "-l",
        "1",
        "-",
        str(file.with_suffix("")),
    ]
    subprocess.run(command, input=pdf, check=True, timeout=60)
    assert 10_000 < file.stat().st_size <= 300_000
