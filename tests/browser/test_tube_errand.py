"""The whole errand at the tube page: sign in, change the blood, read the answer, mistype, mend."""

import pytest
from playwright.sync_api import BrowserContext, Page, expect
from tests.browser.conftest import Demo, Watch, found_by_axe, press_until_focused, refuse_small_targets
from tests.browser.conftest import sign_in as come_in

pytestmark = pytest.mark.browser


def expected_ml(page: Page) -> str:
    """Return what the page expects out of each tube."""
    return page.locator(".expect .p").first.inner_text()


def sign_in(page: Page, demo: Demo) -> None:
    """Come in and go to the tube."""
    come_in(page, demo)
    page.goto(f"{demo.url}tube/")
    page.get_by_role("button", name="Predict this tube").wait_for()


def test_a_changed_haematocrit_changes_the_answer_and_a_wrong_one_is_refused_in_place(
    screen: BrowserContext, demo: Demo
) -> None:
    page = screen.new_page()
    watch = Watch()
    watch.follow(page)
    sign_in(page, demo)
    before = expected_ml(page)

    page.get_by_label("Haematocrit").fill("0.36")
    with page.expect_response("**/tube/") as answered:
        page.get_by_role("button", name="Predict this tube").click()
    assert answered.value.status == 200
    expect(page.locator(".expect .p").first).not_to_have_text(before)
    assert float(expected_ml(page)) > float(before)  # fewer red cells leave more plasma above them
    assert found_by_axe(page) == []

    page.get_by_label("Platelets").fill("311")
    page.get_by_label("Haematocrit").fill("42")
    page.get_by_role("button", name="Predict this tube").click()
    expect(page.get_by_role("alert")).to_contain_text("No prediction yet")
    expect(page.get_by_label("Haematocrit")).to_have_value("42")
    expect(page.get_by_label("Haematocrit")).to_have_attribute("aria-invalid", "true")
    expect(page.locator("#blood-hematocrit_frac-why")).to_contain_text(
        "blood.hematocrit_frac is 42; it must lie between"
    )
    expect(page.get_by_label("Platelets")).to_have_value("311")
    assert found_by_axe(page) == []

    page.get_by_label("Haematocrit").fill("0.42")
    page.get_by_role("button", name="Predict this tube").click()
    expect(page.locator(".expect")).to_be_visible()
    expect(page.get_by_label("Platelets")).to_have_value("311")

    assert watch.complaints == []
    assert watch.hosts == {demo.url.removeprefix("http://").rstrip("/")}


def test_the_errand_is_done_by_keyboard_alone(tablet: BrowserContext, demo: Demo) -> None:
    page = tablet.new_page()
    page.goto(demo.url)
    press_until_focused(page, "#id_login")
    page.keyboard.type(demo.name)
    page.keyboard.press("Tab")
    page.keyboard.type(demo.password)
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Sign out").wait_for()
    press_until_focused(page, "nav a[href='/tube/']")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Predict this tube").wait_for()
    before = expected_ml(page)

    press_until_focused(page, "#blood-hematocrit_frac")
    page.keyboard.press("Control+A")
    page.keyboard.type("0.50")
    page.keyboard.press("Enter")
    expect(page.locator(".expect .p").first).not_to_have_text(before)
    assert page.evaluate("document.activeElement.id") == "blood-hematocrit_frac"  # the swap keeps the place

    press_until_focused(page, "summary")
    page.keyboard.press("Enter")
    expect(page.get_by_label("Monocytes")).to_be_visible()


def test_the_door_and_the_opened_page_are_clean_to_axe_and_large_enough_to_touch(
    screen: BrowserContext, demo: Demo
) -> None:
    page = screen.new_page()
    page.goto(demo.url)
    assert found_by_axe(page) == []
    sign_in(page, demo)
    for summary in page.locator("summary").all():
        summary.click()
    assert found_by_axe(page) == []
    refuse_small_targets(page)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), "the page scrolls sideways"


def test_predicted_numbers_are_set_apart_from_given_ones(tablet: BrowserContext, demo: Demo) -> None:
    page = tablet.new_page()
    sign_in(page, demo)
    style = "element => [getComputedStyle(element).fontStyle, getComputedStyle(element).fontFamily]"
    predicted = page.locator(".expect .p").first.evaluate(style)
    given = page.get_by_label("Haematocrit").evaluate(style)
    assert predicted[0] == "italic"
    assert given[0] == "normal"
    assert predicted[1] != given[1]
    expect(page.locator(".expect .tag")).to_have_text("predicted")


def test_signing_out_closes_the_page(tablet: BrowserContext, demo: Demo) -> None:
    page = tablet.new_page()
    sign_in(page, demo)
    page.get_by_role("button", name="Sign out").click()
    page.get_by_role("heading", name="Sign in").wait_for()
    page.goto(f"{demo.url}tube/")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
