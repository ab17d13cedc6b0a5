"""A whole visit from intake to release: two people, four tubes, one site, no surprises; by touch, then by one key."""

import pytest
from playwright.sync_api import BrowserContext, expect
from tests.browser.bench_server import PINS
from tests.browser.conftest import refuse_small_targets
from tests.browser.hands import Hands, come_in, seen_without_scrolling
from tests.browser.visit_server import RETURNING, VisitServer

pytestmark = pytest.mark.browser

BY_TOUCH, BY_KEY = RETURNING
VISIT_MAX = 60
"""Taps, keys, scans and entries from intake to release that two people may need."""
OPEN_MAX = 15
"""Presses from the first cap off to the pellet suspended that hands may need, scans apart."""
BENCH_PX_MIN = 64
SCANNED_AT = {"label": "tube", "withdraw": "tube", "pool": "second_tube", "take_off": "ppp", "fill": "syringe"}


def ask_and_open(hands: Hands, patient: str) -> int:
    """Go from Today through the intake to an open run, and return its number."""
    page = hands.page
    hands.look("Today")
    hands.tap(page.get_by_role("link", name="Patients and intake"))
    page.get_by_role("heading", name="Patients", exact=True).wait_for()
    hands.look("Patients")
    hands.tap(page.get_by_role("link", name=patient))
    page.get_by_role("heading", name="Plans").wait_for()
    hands.look("Patient")
    hands.tap(page.get_by_role("link", name="New intake"))
    page.get_by_text("Tick what applies").wait_for()
    hands.look("Intake")
    hands.tap(page.get_by_role("button", name="None of these apply"))
    page.get_by_label("The clinician's PIN").wait_for()
    hands.look("Intake to sign")
    hands.tap(page.get_by_text("The patient was told what is done and consents"))
    hands.write(page.get_by_label("The clinician's PIN"), PINS["cleo"])
    hands.tap(page.get_by_role("button", name="Sign: go on"))
    page.get_by_text("Signed by").wait_for()
    hands.look("Intake signed")
    hands.tap(page.get_by_role("link", name="Open a run"))
    page.get_by_role("button", name="Open this run").wait_for()
    hands.look("Open a run")
    hands.tap(page.get_by_role("button", name="Open this run"))
    page.locator("#step").wait_for()
    return int(page.url.rstrip("/").rpartition("/")[2])


def release(hands: Hands) -> None:
    """The second person reads back and signs."""
    page = hands.page
    expect(page.locator("#signer")).to_contain_text("Cleo Example")
    expect(page.locator("#signer")).not_to_contain_text("Pim Example")
    hands.tap(page.get_by_text("Label read from the syringe"))
    hands.tap(page.get_by_text("Time left read aloud"))
    hands.write(page.get_by_label("Volume read"), "3.0")
    hands.write(page.locator("#release-pin"), PINS["cleo"])
    hands.tap(page.get_by_role("button", name="Release", exact=True))
    expect(page.locator("#step")).to_have_attribute("data-step", "released")


def scan_where_wanted(hands: Hands, codes: dict[tuple[str, int], str], scanned: set[str]) -> None:
    """Scan the vessels of the step in hand, each once; at the withdrawal a scan says that the tube before is off."""
    step = hands.step()
    kind = SCANNED_AT.get(step)
    if kind is None or step in scanned:
        return
    scanned.add(step)
    for vessel, code in sorted(codes.items()):
        if vessel[0] == kind:
            hands.scan(code)


def test_by_touch_from_intake_to_release_in_at_most_60(visits: VisitServer, tablet: BrowserContext) -> None:
    hands = Hands(come_in(tablet, visits))
    page, scanned = hands.page, set[str]()
    run = ask_and_open(hands, BY_TOUCH)
    codes = visits.codes(run)
    while (step := hands.step()) != "release":
        seen_without_scrolling(page)
        refuse_small_targets(page.locator("#step"), height_px_min=BENCH_PX_MIN)
        hands.look(step)
        scan_where_wanted(hands, codes, scanned)
        hands.tap_next()
    hands.look("release")
    release(hands)
    hands.look("released")
    stands = visits.stands(run)[run]
    assert stands["step"] == "released"
    assert stands["lost"] == stands["void"] == []
    print(
        f"\nby touch: {hands.count} from intake to release "
        f"({hands.taps} taps, {hands.scans} scans, {hands.typed} entries, PINs among them); at most {VISIT_MAX}"
    )
    assert hands.count <= VISIT_MAX
    hands.refuse_faults()


def test_by_one_key_at_the_bench_in_at_most_15_from_cap_off_to_suspended(
    visits: VisitServer, tablet: BrowserContext
) -> None:
    hands = Hands(come_in(tablet, visits))
    run = ask_and_open(hands, BY_KEY)
    codes = visits.codes(run)
    by_hand, scanned, opened = (hands.taps, hands.typed), set[str](), (0, 0)
    while (step := hands.step()) != "release":
        if step == "withdraw" and "withdraw" not in scanned:
            opened = (hands.keys, hands.scans)
        scan_where_wanted(hands, codes, scanned)
        hands.press_next()
        if step == "resuspend":
            presses, scans = hands.keys - opened[0], hands.scans - opened[1]
    assert (hands.taps, hands.typed) == by_hand, "no touch and no typing at the bench"
    vessels = sum(kind in {"tube", "second_tube", "ppp"} for kind, _ in codes)
    print(f"\nby one key: {presses} presses and {scans} scans from cap off to suspended; at most {OPEN_MAX}, {vessels}")
    assert presses <= OPEN_MAX
    assert scans <= vessels
    release(hands)
    print(f"by one key: {hands.count} from intake to release; at most {VISIT_MAX}")
    assert hands.count <= VISIT_MAX
    assert visits.stands(run)[run]["step"] == "released"
    assert hands.watch.complaints == []
