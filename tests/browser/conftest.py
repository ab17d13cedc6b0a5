"""A real browser on a real demo: what a person starts, driven as a person drives it."""

import json
import subprocess
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Locator, Page, Request, sync_playwright
from tests.browser.visit_server import VisitServer

CHROMIUM = "/usr/bin/chromium"
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
TABLET = {"viewport": {"width": 1180, "height": 820}, "has_touch": True}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
REFUSAL_NOTE = "the server responded with a status of 422"
"""Chromium itself notes an answer of 422; a refusal that was provoked is no fault of the page."""


@dataclass(frozen=True, kw_only=True)
class Demo:
    """A running demo, how to sign in to it, and each person's PIN."""

    url: str
    name: str
    password: str
    tablet_code: str
    pins: Mapping[str, str]
    data: Path


@dataclass
class Watch:
    """What a page said on its console, and whom it asked."""

    complaints: list[str] = field(default_factory=list)
    hosts: set[str] = field(default_factory=set)

    def follow(self, page: Page) -> None:
        """Listen to ``page``."""
        page.on("console", lambda message: self._hear(message.type, message.text))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("request", self._note)

    def _hear(self, kind: str, words: str) -> None:
        if kind in {"error", "warning"} and REFUSAL_NOTE not in words:
            self.complaints.append(words)

    def _note(self, request: Request) -> None:
        if urlsplit(request.url).scheme != "data":
            self.hosts.add(urlsplit(request.url).netloc)


@pytest.fixture(scope="session")
def demo() -> Iterator[Demo]:
    """Start `plasmawright demo` and end it as Ctrl-C would."""
    command = str(Path(sys.executable).with_name("plasmawright"))
    with subprocess.Popen([command, "demo", "--json"], stdout=subprocess.PIPE, text=True) as started:
        assert started.stdout is not None
        told = json.loads(started.stdout.readline())
        person = told["people"][0]
        yield Demo(
            url=told["url"],
            name=person["name"],
            password=person["password"],
            tablet_code=told["tablet_code"],
            pins={one["name"]: one["pin"] for one in told["people"]},
            data=Path(told["data"]),
        )
        started.terminate()
        assert started.wait(timeout=20) == 0
    assert not Path(told["data"]).exists(), "the throw-away folder was not thrown away"


@pytest.fixture(scope="session")
def visits(tmp_path_factory: pytest.TempPathFactory) -> Iterator[VisitServer]:
    """Return a clinic to which patients come back, with a run for each mishap."""
    server = VisitServer(tmp_path_factory.mktemp("visits"))
    server.start()
    yield server
    server.kill()


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """Return Debian's browser, kept from asking anybody anything.

    It lives no longer than a module: while it is open an event loop runs, under which Django refuses its database.
    """
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield browser
        browser.close()


@pytest.fixture(params=[TABLET, PHONE], ids=["tablet", "phone"])
def screen(request: pytest.FixtureRequest, chromium: Browser) -> Iterator[BrowserContext]:
    """Return a fresh tablet, then a fresh phone."""
    context = chromium.new_context(**request.param)
    context.set_default_timeout(30_000)
    yield context
    context.close()


@pytest.fixture
def tablet(chromium: Browser) -> Iterator[BrowserContext]:
    """Return a fresh tablet."""
    context = chromium.new_context(viewport={"width": 1180, "height": 820}, has_touch=True)
    context.set_default_timeout(30_000)
    yield context
    context.close()


def sign_in(page: Page, demo: Demo) -> None:
    """Come in by the front door."""
    page.goto(demo.url)
    page.get_by_label("Name").fill(demo.name)
    page.get_by_label("Password").fill(demo.password)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("button", name="Sign out").wait_for()


def press_until_focused(page: Page, selector: str) -> None:
    """Press Tab until the first element of ``selector`` has the focus."""
    for _ in range(80):
        page.keyboard.press("Tab")
        if page.locator(selector).first.evaluate("element => element === document.activeElement"):
            return
    raise AssertionError(f"{selector} cannot be reached with the keyboard")


def found_by_axe(page: Page) -> list[str]:
    """Return what axe finds wrong on the page as it stands."""
    return [f"{found['id']}: {found['nodes'][0]['html']}" for found in Axe().run(page).response["violations"]]


def refuse_small_targets(page: Page | Locator, *, height_px_min: float = 44) -> None:
    """Fail for anything to touch, on a page or in a part of it, that is lower than a finger needs."""
    for target in page.locator("button:visible, input:visible, select:visible, summary:visible").all():
        box = target.bounding_box()
        assert box is not None
        assert box["height"] >= height_px_min, target.evaluate("element => element.outerHTML")
