"""The whole errand at the Plan page: open a visit, change it, move the stop, read why, choose, save, reopen."""

import os
import statistics
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, CDPSession, Page, expect
from tests.browser.conftest import (
    Demo,
    Watch,
    found_by_axe,
    press_until_focused,
    refuse_small_targets,
    sign_in,
)

pytestmark = pytest.mark.browser

PROMISED_MS = 100
BUSY_MS = 250
"""What a point answer may take where other work shares the two cores; the promise itself is printed beside it."""
STEP_PX_MIN = 64
PICTURES_VARIABLE = "PLASMAWRIGHT_PICTURES"
"""Where the manual's pictures go: PLASMAWRIGHT_PICTURES=docs/pictures pytest tests/browser -k picture."""
CHOICE_MS = 60_000
POINTS = "performance.getEntriesByName('point').map(entry => entry.duration)"


def open_example(page: Page, demo: Demo) -> None:
    """Sign in and try the page with the invented patient."""
    sign_in(page, demo)
    page.get_by_role("link", name="Plan", exact=True).click()
    page.get_by_role("link", name="Try it with an invented patient").click()
    page.locator("#decision-body").wait_for(timeout=CHOICE_MS)


def wait_for_intervals(page: Page) -> None:
    """Wait until no number is a single one any more."""
    expect(page.locator("#decision .pending")).to_have_count(0, timeout=CHOICE_MS)


def plasma_ml(page: Page) -> float:
    """Return what the page expects out of each tube."""
    return float(page.locator(".expect .p").first.inner_text())


def stop_mm(page: Page) -> float:
    """Return where the page says to stop."""
    return float(page.locator(".stop .mm").inner_text())


def after_points(page: Page, more: int = 1) -> int:
    """Return how many point answers will have come once ``more`` have."""
    return int(page.evaluate(f"{POINTS}.length")) + more


def wait_for_points(page: Page, count: int) -> None:
    """Wait until so many point answers have come."""
    for _ in range(600):
        if page.evaluate(f"{POINTS}.length") >= count:
            return
        page.wait_for_timeout(10)
    raise AssertionError("no point answer came")


def test_the_patient_is_changed_the_stop_moved_the_plan_saved_and_reopened(screen: BrowserContext, demo: Demo) -> None:
    page = screen.new_page()
    watch = Watch()
    watch.follow(page)
    open_example(page, demo)
    before = plasma_ml(page)
    assert found_by_axe(page) == []

    page.get_by_label("Haematocrit").fill("0.36")
    expect(page.locator(".expect .p").first).not_to_have_text(f"{before:.1f}")
    assert plasma_ml(page) > before  # fewer red cells leave more plasma above them
    wait_for_intervals(page)

    at = stop_mm(page)
    page.get_by_role("button", name="0.5 mm higher").click()
    expect(page.locator(".stop .mm")).to_have_text(f"{at + 0.5:g}")
    wait_for_intervals(page)

    page.get_by_role("button", name="Plan", exact=True).click()
    expect(page.locator("#plan")).to_have_text("Choosing the spins…")
    expect(page.locator("#plan")).to_have_text("Plan", timeout=CHOICE_MS)
    page.get_by_text("Why this spin?").click()
    expect(page.get_by_role("img", name="Share of the platelets drawn")).to_be_visible()
    expect(page.get_by_text("What was assumed, and where it was read")).to_be_visible()
    assert found_by_axe(page) == []
    refuse_small_targets(page)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), "the page scrolls sideways"

    choose_less_blood(page)
    save_and_reopen(page)
    assert watch.complaints == []
    assert watch.hosts == {demo.url.removeprefix("http://").rstrip("/")}


def choose_less_blood(page: Page) -> None:
    """Settle the alternative that draws fewer tubes."""
    other = page.locator("[data-settle]", has_text="Less blood").first
    tubes = int(page.locator(".told .big").first.inner_text())
    other.click()
    expect(page.locator(".told .big").first).not_to_have_text(str(tubes))
    assert int(page.locator(".told .big").first.inner_text()) < tubes
    wait_for_intervals(page)


def save_and_reopen(page: Page) -> None:
    """Keep the plan, see the same numbers, and find it in the list."""
    shown = page.locator(".expect").inner_text()
    page.get_by_role("button", name="Save this plan").click()
    page.get_by_text("Saved by").wait_for()
    assert page.locator(".expect").inner_text() == shown
    assert page.get_by_role("link", name="Plan from this").is_visible()
    assert found_by_axe(page) == []
    page.reload()
    assert page.locator(".expect").inner_text() == shown
    page.get_by_role("link", name="New plan").click()
    expect(page.locator(".plans li").first).to_contain_text("EXAMPLE")
    expect(page.get_by_label("Weight")).to_have_value("")
    assert found_by_axe(page) == []


def test_a_look_half_way_is_chosen_moved_and_saved(tablet: BrowserContext, demo: Demo) -> None:
    page = tablet.new_page()
    open_example(page, demo)
    page.get_by_text("Why this spin?").click()
    page.locator("[data-settle]", has_text="Short spin, look").click()
    expect(page.get_by_text("Then look at the red, and spin on for")).to_be_visible(timeout=CHOICE_MS)
    wait_for_intervals(page)
    minutes = page.locator(".told .unit").nth(1).inner_text()
    at = stop_mm(page)
    page.get_by_role("button", name="0.5 mm higher").click()
    expect(page.locator(".stop .mm")).to_have_text(f"{at + 0.5:g}")
    wait_for_intervals(page)
    expect(page.get_by_text("Then look at the red, and spin on for")).to_be_visible()
    assert page.locator(".told .unit").nth(1).inner_text() == minutes
    page.get_by_role("button", name="Save this plan").click()
    page.get_by_text("Saved by").wait_for(timeout=CHOICE_MS)
    expect(page.get_by_text("Then look at the red, and spin on for")).to_be_visible()


def test_the_stop_is_dragged_by_touch_and_moved_by_keys(tablet: BrowserContext, demo: Demo) -> None:
    page = tablet.new_page()
    open_example(page, demo)
    at, before = stop_mm(page), plasma_ml(page)
    box = page.locator("#tube-picture .grip").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    drag_by_touch(tablet.new_cdp_session(page), x, y, rise_px=40)
    dragged = stop_mm(page)
    assert dragged > at + 4  # the tube is drawn at about 5 px a millimetre
    assert dragged * 2 == int(dragged * 2)
    expect(page.locator(".expect .p").first).not_to_have_text(f"{before:.1f}")
    assert plasma_ml(page) < before  # stopping farther above the cells leaves plasma behind

    slider = page.get_by_role("slider")
    slider.focus()
    page.keyboard.press("ArrowDown")
    expect(page.locator(".stop .mm")).to_have_text(f"{dragged - 0.5:g}")
    expect(slider).to_have_attribute("aria-valuenow", f"{dragged - 0.5:g}")
    page.keyboard.press("Home")
    expect(page.locator(".stop .mm")).to_have_text("0")
    assert slider.evaluate("element => element === document.activeElement"), "an answer took the focus away"
    wait_for_intervals(page)
    assert "0 mm above the red you see, about" in (slider.get_attribute("aria-valuetext") or "")
    for step in page.locator(".step").all():
        size = step.bounding_box()
        assert size is not None
        assert size["height"] >= STEP_PX_MIN


def drag_by_touch(touch: CDPSession, x: float, y: float, *, rise_px: float) -> None:
    """Take hold at a point and draw upwards, as a finger does."""
    touch.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
    for share in (0.25, 0.5, 0.75, 1.0):
        point = {"x": x, "y": y - rise_px * share}
        touch.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [point]})
    touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def test_a_moved_stop_and_a_changed_number_are_answered_at_once(tablet: BrowserContext, demo: Demo) -> None:
    page = tablet.new_page()
    open_example(page, demo)
    page.get_by_role("slider").focus()
    for number in range(40):
        count = after_points(page)
        page.keyboard.press("ArrowUp" if number < 20 else "ArrowDown")
        wait_for_points(page, count)
    stops = page.evaluate(POINTS)
    page.evaluate("performance.clearMeasures('point')")
    for number in range(20):
        count = after_points(page)
        page.get_by_label("Haematocrit").fill(f"{0.36 + number / 100:.2f}")
        wait_for_points(page, count)
    numbers = page.evaluate(POINTS)
    for what, found in (("40 moved stops", stops), ("20 changed numbers", numbers)):
        p95 = statistics.quantiles(found, n=20)[-1]
        print(f"\n{what}: p95 {p95:.0f} ms, median {statistics.median(found):.0f} ms; promised {PROMISED_MS} ms")
        assert p95 <= BUSY_MS


def test_a_refusal_marks_its_entry_and_keeps_all_others_even_over_a_reload(tablet: BrowserContext, demo: Demo) -> None:
    page = tablet.new_page()
    open_example(page, demo)
    page.get_by_label("Weight").fill("71")
    page.get_by_label("Haematocrit").fill("41")
    page.get_by_label("Haematocrit").press("Tab")
    expect(page.locator("#blood-hematocrit_frac-why")).to_contain_text("blood.hematocrit_frac is 41; it must lie")
    expect(page.get_by_label("Haematocrit")).to_have_attribute("aria-invalid", "true")
    expect(page.get_by_role("alert")).to_contain_text("No new plan yet")
    assert found_by_axe(page) == []
    page.get_by_role("button", name="Add a site").click()
    page.get_by_role("group", name="Site 3").get_by_label("Site", exact=True).fill("elbow")
    page.reload()
    expect(page.locator("#blood-hematocrit_frac-why")).to_contain_text("blood.hematocrit_frac is 41")
    expect(page.get_by_label("Weight")).to_have_value("71")
    expect(page.get_by_label("Haematocrit")).to_have_value("41")
    expect(page.get_by_role("group", name="Site 3").get_by_label("Site", exact=True)).to_have_value("elbow")
    page.get_by_role("button", name="Remove site 3").click()
    page.get_by_label("Haematocrit").fill("0.41")
    page.locator("#decision-body").wait_for(timeout=CHOICE_MS)
    expect(page.locator("#blood-hematocrit_frac-why")).to_have_count(0)


def test_a_lost_connection_loses_nothing(tablet: BrowserContext, demo: Demo) -> None:
    page = tablet.new_page()
    open_example(page, demo)
    tablet.set_offline(True)
    page.get_by_label("Weight").fill("82")
    expect(page.locator("#doing-now")).to_contain_text("What you typed is kept")
    page.get_by_role("button", name="Save this plan").click()
    expect(page.get_by_label("Weight")).to_have_value("82")
    tablet.set_offline(False)
    page.get_by_role("button", name="Save this plan").click()
    page.get_by_text("Saved by").wait_for(timeout=CHOICE_MS)
    expect(page.locator(".facts-of").first).to_contain_text("82")


def test_a_plan_is_made_by_keyboard_alone(tablet: BrowserContext, demo: Demo) -> None:
    page = tablet.new_page()
    open_example(page, demo)
    press_until_focused(page, "#blood-hematocrit_frac")
    before = plasma_ml(page)
    page.keyboard.press("Control+A")
    page.keyboard.type("0.50")
    page.keyboard.press("Enter")
    expect(page.locator(".expect .p").first).not_to_have_text(f"{before:.1f}")
    press_until_focused(page, "#tube-picture")
    at = stop_mm(page)
    page.keyboard.press("ArrowUp")
    expect(page.locator(".stop .mm")).to_have_text(f"{at + 0.5:g}")
    press_until_focused(page, "#reasons > summary")
    page.keyboard.press("Enter")
    expect(page.get_by_text("Other ways to do it")).to_be_visible()
    page.locator("#save").focus()
    page.keyboard.press("Enter")
    page.get_by_text("Saved by").wait_for(timeout=CHOICE_MS)


def test_the_picture_of_the_readme_is_taken(tablet: BrowserContext, demo: Demo, tmp_path: Path) -> None:
    page = tablet.new_page()
    open_example(page, demo)
    page.mouse.move(0, 0)
    picture = Path(os.environ.get(PICTURES_VARIABLE, tmp_path)) / "plan.png"
    page.screenshot(path=picture)
    assert 20_000 < picture.stat().st_size < 300_000
