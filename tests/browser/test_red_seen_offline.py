"""Red seen while nobody answers is of the tube in hand, not of the one the page still names."""

import pytest
from playwright.sync_api import BrowserContext, expect
from tests.browser.at_the_bench import Opened, at_the_bench, opened, press, waits

pytestmark = [pytest.mark.browser, pytest.mark.slow]

__all__ = ["opened"]


def test_red_seen_after_a_press_that_waits_is_of_the_next_tube(opened: Opened, tablet: BrowserContext) -> None:
    server = opened("withdraw")
    page = at_the_bench(tablet, server)
    red = page.get_by_role("button", name="Red seen")
    expect(red).to_have_text("Red seen in tube 1")
    server.kill()
    press(page)
    waits(page, 1)
    expect(red).to_have_text("Red seen in the tube in hand")
    red.click()
    waits(page, 2)
    server.start()
    waits(page, 0)
    told = [(entry["kind"], entry["body"].get("tube"), entry["review"]) for entry in server.tapped()]
    assert told == [("tube", 1, False), ("red_seen", None, False)]
    expect(page.locator("#step")).to_contain_text("Tube 2")
    expect(page.get_by_role("button", name="Red seen")).to_have_text("Red seen in tube 3", timeout=15_000)
