"""Each mishap in a browser, from a stored state: one tap, at most three ways on with what each would give, a choice."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect
from tests.browser.hands import Hands, come_in
from tests.browser.visit_server import VisitServer, first_step, name_of

from plasmawright.bench.mishaps import MISHAPS, Choice, Effect, Mishap, choices_at, target_of
from plasmawright.bench.steps import ENDS, Step, following

pytestmark = pytest.mark.browser

ENTERED = {"ml": "4.2", "minutes": "2", "rpm": "1100"}
"""What is typed where a mishap asks for a number."""
AWAY = {Effect.STOP, Effect.DISCARD}
PREDICTED_MS = 60_000
FATES = {Effect.LEAVE_RED_OUT: "left_out", Effect.RESPIN_RED: "respun", Effect.POOL_RED: "pooled"}


@pytest.fixture(scope="module")
def hands(chromium: Browser, visits: VisitServer) -> Iterator[Hands]:
    """Return hands at a tablet of the clinic, signed in."""
    context = chromium.new_context(viewport={"width": 1180, "height": 820}, has_touch=True)
    context.set_default_timeout(30_000)
    yield Hands(come_in(context, visits))
    context.close()


def tell(hands: Hands, mishap: Mishap) -> None:
    """Go from the step to the mishap's page and tell it, of the first tube where tubes are asked."""
    page = hands.page
    hands.tap(page.get_by_text("Something is wrong"))
    hands.tap(page.locator("#wrong").get_by_role("link", name=mishap.title, exact=True))
    expect(page.get_by_role("heading", name=mishap.title)).to_be_visible()
    hands.look(mishap.name)
    if mishap.asks == ("tubes",):
        hands.tap_here("Tube 1")
        return
    if "tubes" in mishap.asks:
        hands.tap(page.locator("label.tick", has_text="Tube 1"))
    for name, number in ENTERED.items():
        if (field := page.locator(f"#ask-{name}")).count():
            hands.write(field, number)
    hands.tap_here(f"{mishap.title}: note it")


def refuse_ways_without_a_word(page: Page, choices: tuple[Choice, ...]) -> None:
    """Fail unless each way on that goes on says what it would give, once the predictions have come."""
    ways = page.locator(".ways > li")
    expect(ways).to_have_count(len(choices))
    assert 1 <= len(choices) <= 3
    page.locator("#choices:not([aria-busy])").wait_for(timeout=PREDICTED_MS)
    for place, choice in enumerate(choices):
        told = ways.nth(place).locator(".outlook .p")
        assert ways.nth(place).get_by_role("button").inner_text() == choice.words
        if choice.effect not in AWAY:
            expect(told).to_contain_text("red cells" if choice.effect in FATES else "")
            assert told.inner_text().strip(), f"{choice.words}: nothing is predicted"


@pytest.mark.parametrize("name", MISHAPS)
def test_a_mishap_is_told_by_one_tap_and_its_first_way_leads_where_the_bench_says(
    hands: Hands, visits: VisitServer, name: str
) -> None:
    mishap, page, run = MISHAPS[name], hands.page, visits.runs[name]
    step = first_step(mishap)
    page.goto(f"{visits.url}/bench/{run}/")
    expect(page.locator("#step")).to_have_attribute("data-step", step.value)
    tell(hands, mishap)
    here = following(step) if name == "wrong_spin" else step  # the spin it is about is over
    choices = choices_at(mishap, here)
    refuse_ways_without_a_word(page, choices)
    hands.look(f"{name}, ways on")
    if mishap.voids:
        expect(page.get_by_text("There is no override: nobody can lift this.")).to_be_visible()
    hands.tap_here(choices[0].words)
    target = target_of(choices[0].effect, here)
    expect(page.locator("#step")).to_have_attribute("data-step", target.value)
    after = visits.stands(run)[run]
    assert (after["step"], after["open"], after["mishaps"]) == (target.value, False, [name])
    assert after["kinds"][-2:] == ["mishap", "chosen"], "one line in the ledger for each tap"
    without = mishap.loses_tubes or choices[0].effect is Effect.GO_ON_WITHOUT
    assert after["void"] == ([1] if mishap.voids else [])
    assert after["lost"] == ([1] if without and not mishap.voids else [])
    assert after["red"] == ({"1": "left_out"} if name == "red_drawn_up" else {})
    assert after["dose_unknown"] == mishap.withdraws_dose
    if target not in ENDS:
        assert page.locator("[data-primary]").is_enabled()
    hands.refuse_faults()


def test_after_clumps_the_dose_is_unknown_on_the_bench_on_today_and_at_release(
    hands: Hands, visits: VisitServer
) -> None:
    page, run = hands.page, visits.runs["clumps"]
    assert visits.stands(run)[run]["dose_unknown"], "clumps were told before this"
    page.goto(f"{visits.url}/bench/{run}/")
    while hands.step() != Step.RELEASE:
        expect(page.locator("#step .unknown").first).to_have_text("Dose unknown.")
        hands.press_next()
    expect(page.locator("#step .unknown").first).to_have_text("Dose unknown.")
    expect(page.get_by_text("The dose is unknown: a clinician looks and signs, or it is discarded.")).to_be_visible()
    hands.look("release, dose unknown")
    page.goto(f"{visits.url}/today/")
    row = page.locator(".row", has_text=name_of("clumps"))
    expect(row).to_contain_text("dose unknown")
    page.goto(f"{visits.url}/today/wall/")
    expect(page.locator(".row", has_text=name_of("clumps"))).to_contain_text("dose unknown")
    hands.look("wall, dose unknown")
    hands.refuse_faults()


def test_doubt_of_identity_after_pooling_voids_everything_and_offers_no_way_but_out(
    hands: Hands, visits: VisitServer
) -> None:
    page, run = hands.page, visits.runs["pellet_lost"]
    assert visits.stands(run)[run]["step"] == Step.HARD_SPIN, "its plasma was pooled"
    page.goto(f"{visits.url}/bench/{run}/mishap/tubes_mixed/")
    hands.tap_here("Tube 1")
    expect(page.get_by_role("heading", name="Stop. All of this is void.")).to_be_visible()
    expect(page.get_by_text("There is no override: nobody can lift this.")).to_be_visible()
    assert page.locator("[data-primary]").count() == 0
    assert page.get_by_role("button", name="Discard all of it").is_visible()
    hands.look("all void")
    assert visits.stands(run)[run]["all_void"]
    hands.refuse_faults()
