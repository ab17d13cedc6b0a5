"""What two hands do at a bench, counted: taps, keys, scans, numbers typed and PINs."""

import os
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from playwright.sync_api import BrowserContext, Locator, Page, expect
from tests.browser.conftest import Watch, found_by_axe
from tests.browser.visit_server import VisitServer
from tests.builders import PASSWORD

BOUNCE_S = 0.42
"""A second press within 0.4 s is taken for the first one."""
PICTURES_VARIABLE = "PLASMAWRIGHT_PICTURES"
"""Where the manual's go: PLASMAWRIGHT_PICTURES=docs/pictures pytest tests/browser -k "picture or stranger"."""
PICTURE_BYTES_MAX = 300_000
ON_THE_PAGE = "element => { const box = element.getBoundingClientRect(); return [box.top, box.bottom]; }"


@dataclass
class Hands:
    """Hands at one tablet. ``looked`` names the pages that axe has looked at."""

    page: Page
    taps: int = 0
    keys: int = 0
    scans: int = 0
    typed: int = 0
    pressed_s: float = 0.0
    watch: Watch = field(default_factory=Watch)
    looked: dict[str, list[str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.watch.follow(self.page)

    @property
    def count(self) -> int:
        """Return all that was done; a PIN and a number each count one."""
        return self.taps + self.keys + self.scans + self.typed

    def tap(self, what: Locator) -> None:
        """Tap with a finger."""
        self.taps += 1
        what.tap()

    def write(self, what: Locator, text: str) -> None:
        """Fill one field."""
        self.typed += 1
        what.fill(text)

    def step(self) -> str:
        """Return the step that the bench shows."""
        return self.page.locator("#step").get_attribute("data-step") or ""

    def position(self) -> str:
        """Return how many entries the bench shows the run to have."""
        return self.page.locator("#step").get_attribute("data-position") or ""

    def tap_next(self) -> None:
        """Tap the step's one button, and wait until the bench shows what came of it."""
        self._and_wait(lambda: self.tap(self.page.locator("[data-primary]")))

    def press_next(self) -> None:
        """Press the pedal, and wait until the bench shows what came of it."""
        self.keys += 1
        self._and_wait(lambda: self.page.keyboard.press("PageDown"))

    def tap_here(self, name: str) -> None:
        """Tap another button of the step, and wait until the bench shows what came of it."""
        self._and_wait(lambda: self.tap(self.page.get_by_role("button", name=name, exact=True)))

    def scan(self, code: str) -> None:
        """Read a label: a scanner types fast and ends with Enter."""
        self.scans += 1
        self._and_wait(lambda: self._type(code))

    def _type(self, code: str) -> None:
        self.page.keyboard.type(code)
        self.page.keyboard.press("Enter")

    def _and_wait(self, what: Callable[[], None]) -> None:
        self.page.wait_for_load_state("load")  # a key pressed while the page still comes reaches nobody
        time.sleep(max(0.0, self.pressed_s + BOUNCE_S - time.monotonic()))
        before = self.position()
        what()
        self.pressed_s = time.monotonic()
        expect(self.page.locator("#step")).not_to_have_attribute("data-position", before)

    def look(self, name: str) -> None:
        """Have axe look at the page as it stands, once for each name."""
        if name not in self.looked:
            self.looked[name] = found_by_axe(self.page)

    def refuse_faults(self) -> None:
        """Fail for anything that axe found on any page, or that a console said."""
        assert {name: found for name, found in self.looked.items() if found} == {}
        assert self.watch.complaints == []


def come_in(context: BrowserContext, clinic: VisitServer) -> Page:
    """Sign in as the preparer in a browser that is a tablet of the clinic; Today stands open."""
    context.add_cookies([{"name": "plasmawright_tablet", "value": clinic.token, "url": clinic.url}])
    page = context.new_page()
    page.goto(clinic.url)
    page.get_by_label("Name").fill("pim")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", name="Today", exact=True).wait_for()
    return page


def seen_without_scrolling(page: Page) -> None:
    """Fail unless the step's words, its one number and its button stand on the screen as it is."""
    page.evaluate("scrollTo(0, 0)")
    size = page.viewport_size
    assert size is not None
    for part in (".card h1", ".card .number .figure", "[data-primary]"):
        for found in page.locator(f"#step {part}").all():
            top, bottom = found.evaluate(ON_THE_PAGE)
            assert 0 <= top < bottom <= size["height"], f"{part} is not on the screen: {top:.0f} to {bottom:.0f}"


def picture_at(folder: Path, name: str) -> Path:
    """Return where a picture of the manual goes: where the variable names it, else into ``folder``."""
    return Path(os.environ.get(PICTURES_VARIABLE, folder)) / name


def take_picture(page: Page, folder: Path, name: str) -> None:
    """Take a picture of the screen for the manual."""
    page.evaluate("scrollTo(0, 0)")
    file = picture_at(folder, name)
    page.screenshot(path=file)
    assert 10_000 < file.stat().st_size <= PICTURE_BYTES_MAX
