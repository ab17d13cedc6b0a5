"""A tablet at the bench: its timers, its scanner, its refusals, and what it keeps."""

from datetime import datetime
from functools import partial
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, expect
from tests.browser.at_the_bench import (
    AN_HOUR_AHEAD,
    KEPT_PAGES,
    Opened,
    at_the_bench,
    kept,
    left_s,
    opened,
    press,
    until,
    waits,
)
from tests.browser.conftest import CHROMIUM, QUIET
from tests.builders import PASSWORD

pytestmark = [pytest.mark.browser, pytest.mark.slow]

__all__ = ["opened"]


def test_the_timer_of_a_spin_survives_the_server_and_a_reload(opened: Opened, tablet: BrowserContext) -> None:
    server = opened("soft_spin")
    page = at_the_bench(tablet, server)
    press(page)
    page.locator("#step time[data-clock=spin]").wait_for()
    kept(page)
    server.kill()
    before = left_s(page, "spin")
    page.reload()
    page.wait_for_timeout(3000)
    assert before - 10 <= left_s(page, "spin") <= before - 3


def test_the_timer_of_a_spin_begun_while_nobody_answers_runs_from_the_tap(
    opened: Opened, tablet: BrowserContext
) -> None:
    server = opened("soft_spin")
    page = at_the_bench(tablet, server)
    server.kill()
    press(page)
    page.locator("#live-timer time").wait_for()
    page.reload()
    page.locator("#live-timer time").wait_for()
    expect(page.locator("[data-primary]")).to_have_text("Stands still")
    page.wait_for_timeout(4000)
    shown_s = left_s(page, "spin")
    server.start()
    waits(page, 0)
    page.locator("#step time[data-clock=spin]").wait_for()
    expect(page.locator("#live-timer")).to_be_hidden()
    assert shown_s - 15 <= left_s(page, "spin") <= shown_s, (
        "the server counts from the tap, not from when it heard of it"
    )


def test_a_tablet_an_hour_ahead_shows_and_tells_the_right_times(opened: Opened, chromium: Browser) -> None:
    server = opened("soft_spin")
    with_right_clock, wrong = chromium.new_context(), chromium.new_context()
    try:
        right = at_the_bench(with_right_clock, server, who="cleo")
        wrong.add_init_script(AN_HOUR_AHEAD)
        page = at_the_bench(wrong, server)
        press(page)
        page.locator("#step time[data-clock=spin]").wait_for()
        right.locator("#step time[data-clock=spin]").wait_for()
        assert abs(left_s(page, "spin") - left_s(right, "spin")) <= 2
        kept(page)
        server.kill()
        page.reload()
        assert abs(left_s(page, "spin") - left_s(right, "spin")) <= 2
        press(page)
        server.start()
        waits(page, 0)
    finally:
        wrong.close()
        with_right_clock.close()
    began, done = server.tapped()
    passed_s = (datetime.fromisoformat(done["at"]) - datetime.fromisoformat(began["at"])).total_seconds()
    assert 0 <= passed_s < 60, "the device's hour is in its own column only"


def test_the_end_of_a_spin_rings_until_it_is_silenced(opened: Opened, tablet: BrowserContext) -> None:
    server = opened("soft_spin", pace=150.0)  # seven minutes in three seconds
    page = at_the_bench(tablet, server)
    press(page)
    expect(page.locator("html")).to_have_attribute("data-ringing", "spin")
    expect(page.locator("#live-ring")).to_contain_text("The rotor should stand still.")
    expect(page.locator("#live-sound")).to_have_text("Sound on")
    page.get_by_role("button", name="Silence").click()
    expect(page.locator("#live-ring")).to_be_hidden()
    waits(page, 0)
    page.wait_for_timeout(3000)
    expect(page.locator("html")).not_to_have_attribute("data-ringing", "spin")
    assert [(entry["kind"], entry["body"]) for entry in server.tapped()] == [
        ("began", {}), ("silenced", {"clock": "spin"}),
    ]  # fmt: skip


def test_a_scanner_reads_labels_and_commands_and_never_types_into_the_page(
    opened: Opened, tablet: BrowserContext
) -> None:
    server = opened("withdraw")
    page = at_the_bench(tablet, server)
    code = server.codes["tube", 2]
    page.keyboard.type(code)
    page.keyboard.press("Enter")
    waits(page, 0)
    expect(page.locator("#step [data-primary]")).to_contain_text("Tube 2")
    field = page.locator("#step input[inputmode=decimal]").first
    field.focus()
    page.keyboard.type("PW:REDSEEN")
    page.keyboard.press("Enter")
    waits(page, 0)
    expect(page.locator("#step")).to_contain_text("red seen")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.type("pw:next")
    page.keyboard.press("Enter")
    page.wait_for_timeout(800)
    waits(page, 0)
    kinds = [(entry["kind"], entry["body"].get("tube")) for entry in server.tapped()]
    assert kinds[0] == ("scanned", 2)
    assert kinds[1][0] == "red_seen"
    assert kinds[2][0] in {"tube", "done"}


def test_a_refused_entry_says_why_and_keeps_what_was_typed(opened: Opened, tablet: BrowserContext) -> None:
    server = opened("look")
    page = at_the_bench(tablet, server)
    field = page.locator("form[data-measure=interface_mm] input[name=value]")
    field.fill("3400")
    field.press("Enter")
    refused = page.locator("#live-refused")
    expect(refused).to_contain_text("it must lie between 0 and 200")
    expect(field).to_have_value("3400")
    refused.get_by_role("button", name="Read").click()
    expect(refused).to_be_hidden()
    field.fill("34,5")
    field.press("Enter")
    waits(page, 0)
    expect(page.locator("form[data-measure=interface_mm] input[name=value]")).to_have_value("34.5")
    (entry,) = server.tapped()
    assert (entry["body"]["what"], entry["body"]["value"]) == ("interface_mm", 34.5)


def test_only_the_running_step_is_kept_and_nothing_after_signing_out(opened: Opened, tablet: BrowserContext) -> None:
    server = opened("clots")
    page = at_the_bench(tablet, server)
    page.goto(f"{server.url}/people/")
    page.goto(server.page)
    kept(page)
    assert page.evaluate(KEPT_PAGES) == [f"/bench/{server.run}/"]
    page.get_by_role("button", name="Sign out").click()
    page.get_by_label("Password").wait_for()
    until(page, "async () => (await caches.keys()).length === 0")
    assert page.evaluate("Object.keys(localStorage).filter((key) => key.startsWith('plasmawright '))") == []


def test_entries_and_the_running_step_outlive_the_browser(opened: Opened, chromium: Browser, tmp_path: Path) -> None:
    server = opened("draw")
    launch = partial(
        chromium.browser_type.launch_persistent_context, tmp_path / "profile", executable_path=CHROMIUM, args=QUIET
    )
    first = launch()
    page = at_the_bench(first, server)
    session = first.cookies()
    server.kill()
    press(page, 2)
    waits(page, 2)
    first.close()
    again = launch()
    page = again.new_page()
    page.goto(server.page)
    expect(page.locator("#step")).to_have_attribute("data-step", "draw")
    waits(page, 2)
    again.add_cookies([{"name": one["name"], "value": one["value"], "url": server.url} for one in session])
    server.start()
    waits(page, 0)
    again.close()
    assert len(server.tapped()) == 2


def test_over_plain_http_taps_are_kept_all_the_same(opened: Opened, chromium: Browser) -> None:
    server = opened("draw")
    rule = "--host-resolver-rules=MAP bench.test 127.0.0.1"
    browser = chromium.browser_type.launch(executable_path=CHROMIUM, args=[*QUIET, rule])
    try:
        page = browser.new_page()
        page.goto(f"http://bench.test:{server.port}/sign-in/?next=/bench/{server.run}/")
        page.get_by_label("Name").fill("pim")
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.locator("#step").wait_for()
        assert page.evaluate("[isSecureContext, 'randomUUID' in crypto]") == [False, False]
        page.wait_for_timeout(1000)
        server.kill()
        press(page, 2)
        waits(page, 2)
        server.start()
        page.reload()
        waits(page, 0)
    finally:
        browser.close()
    assert len(server.tapped()) == 2
