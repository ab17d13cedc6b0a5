"""A tablet at the bench whose server is gone: nothing tapped is lost, nothing arrives twice, the timer goes on."""

import signal

import pytest
from playwright.sync_api import Browser, BrowserContext, expect
from tests.browser.at_the_bench import (
    Opened,
    at_the_bench,
    kept,
    opened,
    press,
    waits,
)
from tests.browser.bench_server import PINS

pytestmark = [pytest.mark.browser, pytest.mark.slow]

__all__ = ["opened"]


def test_taps_made_while_the_server_is_dead_arrive_once_and_in_order(opened: Opened, tablet: BrowserContext) -> None:
    server = opened("draw")
    page = at_the_bench(tablet, server)
    server.kill()
    press(page, 3)
    waits(page, 3)
    expect(page.locator("#live-status")).to_contain_text("3 entries wait to be sent")
    page.reload()
    expect(page.locator("#step")).to_have_attribute("data-step", "draw")
    waits(page, 3)
    press(page)
    server.start()
    waits(page, 0)
    found = server.tapped()
    told = [(entry["body"]["what"], entry["body"]["tube"]) for entry in found]
    assert told == [("counted", 1), ("filled", 1), ("filled", 2), ("filled", 3)]
    assert [entry["seq"] for entry in found] == sorted(entry["seq"] for entry in found)
    assert len({entry["key"] for entry in found}) == len(found) == 4
    assert not any(entry["review"] for entry in found)


def test_a_server_that_hangs_is_not_waited_for(opened: Opened, tablet: BrowserContext) -> None:
    server = opened("draw")
    page = at_the_bench(tablet, server)
    server.signal(signal.SIGSTOP)
    press(page)
    waits(page, 1)
    page.reload()
    expect(page.locator("#step")).to_have_attribute("data-step", "draw")
    expect(page.locator("#live-status")).to_contain_text("Nobody answers", timeout=15_000)
    server.signal(signal.SIGCONT)
    waits(page, 0)
    assert len(server.tapped()) == 1


def test_a_tablet_off_the_network_says_so_and_catches_up(opened: Opened, tablet: BrowserContext) -> None:
    server = opened("draw")
    page = at_the_bench(tablet, server)
    tablet.set_offline(True)
    expect(page.locator("#live-status")).to_contain_text("Nobody answers")
    press(page, 2)
    waits(page, 2)
    page.reload()
    waits(page, 2)
    tablet.set_offline(False)
    waits(page, 0)
    expect(page.locator("#live-status")).not_to_contain_text("Nobody answers")
    assert len(server.tapped()) == 2


def test_a_step_done_here_goes_no_further_by_itself(opened: Opened, tablet: BrowserContext) -> None:
    server = opened("clots")
    page = at_the_bench(tablet, server)
    server.kill()
    press(page, 3)
    waits(page, 1)
    expect(page.locator("[data-primary]")).to_have_text("Kept here, waiting for the server")
    server.start()
    waits(page, 0)
    expect(page.locator("#step")).to_have_attribute("data-step", "stand")
    assert [entry["kind"] for entry in server.tapped()] == ["done"]


def test_a_double_tap_and_a_pedal_held_down_count_once(opened: Opened, tablet: BrowserContext) -> None:
    server = opened("clots")
    page = at_the_bench(tablet, server)
    page.locator("[data-primary]").dblclick()
    expect(page.locator("#step")).to_have_attribute("data-step", "stand")
    kept(page)
    page.wait_for_timeout(500)
    page.keyboard.down("PageDown")
    for _ in range(10):
        page.keyboard.down("PageDown")
        page.wait_for_timeout(40)
    page.keyboard.up("PageDown")
    expect(page.locator("#step")).to_have_attribute("data-step", "stoppers")
    waits(page, 0)
    assert [(entry["step"], entry["review"]) for entry in server.tapped()] == [("clots", False), ("stand", False)]


def test_what_was_tapped_for_a_step_another_tablet_has_left_is_kept_for_review(
    opened: Opened, tablet: BrowserContext, chromium: Browser
) -> None:
    server = opened("clots")
    page = at_the_bench(tablet, server)
    other = chromium.new_context(viewport={"width": 1180, "height": 820})
    try:
        second = at_the_bench(other, server, who="cleo")
        tablet.set_offline(True)
        press(page)
        waits(page, 1)
        press(second)
        expect(second.locator("#step")).to_have_attribute("data-step", "stand")
        tablet.set_offline(False)
        waits(page, 0)
        expect(page.locator("#live-status")).to_contain_text("kept for review")
        expect(page.locator("#step")).to_have_attribute("data-step", "stand")
    finally:
        other.close()
    assert [(entry["by"], entry["review"]) for entry in server.tapped()] == [("cleo", False), ("pim", True)]


def test_a_session_that_ended_asks_for_a_pin_and_keeps_who_tapped(opened: Opened, tablet: BrowserContext) -> None:
    server = opened("clots")
    page = at_the_bench(tablet, server, enrolled=True)
    tablet.clear_cookies(name="sessionid")
    press(page)
    expect(page.locator("#live-pin")).to_be_visible()
    waits(page, 1)
    page.get_by_label("You are").select_option(label="Cleo Example")
    page.get_by_label("PIN").fill(PINS["cleo"])
    page.locator("#live-pin").get_by_role("button", name="Sign in").click()
    waits(page, 0)
    expect(page.locator("#live-pin")).to_be_hidden()
    expect(page.locator("#step")).to_have_attribute("data-step", "stand")
    (entry,) = server.tapped()
    assert (entry["by"], entry["carried"]) == ("pim", "cleo")
    press(page)
    expect(page.locator("#step")).to_have_attribute("data-step", "stoppers")
    assert server.tapped()[-1]["by"] == "cleo", "who signed in taps from now on"


def test_a_wrong_pin_keeps_what_was_tapped(opened: Opened, tablet: BrowserContext) -> None:
    server = opened("clots")
    page = at_the_bench(tablet, server, enrolled=True)
    tablet.clear_cookies(name="sessionid")
    press(page)
    page.get_by_label("PIN").fill("918273")
    page.locator("#live-pin").get_by_role("button", name="Sign in").click()
    expect(page.locator("#live-pin-refused")).to_contain_text("not the right one")
    waits(page, 1)
    assert server.tapped() == []
