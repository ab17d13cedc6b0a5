"""What tests of a tablet at the bench share: a run that is opened at a step, and hands on its page."""

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect
from tests.browser.bench_server import BenchServer
from tests.builders import PASSWORD

Opened = Callable[..., BenchServer]
AN_HOUR_AHEAD = """
  const late = 3600 * 1000, Real = Date;
  window.Date = class extends Real {
    constructor(...given) { given.length ? super(...given) : super(Real.now() + late); }
  };
  window.Date.now = () => Real.now() + late;
"""
KEPT_PAGES = """async () => {
  const kept = [];
  for (const name of await caches.keys()) {
    for (const one of await (await caches.open(name)).keys()) kept.push(new URL(one.url).pathname);
  }
  return kept.filter((path) => !path.startsWith("/static/"));
}"""


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[Opened]:
    """Return what opens a run at a step, in a clinic of its own that answers."""
    servers: list[BenchServer] = []

    def open_at(step: str, *, pace: float = 1.0) -> BenchServer:
        server = BenchServer(tmp_path, step=step, pace=pace)
        servers.append(server)
        server.start()
        return server

    yield open_at
    for server in servers:
        server.kill()


def at_the_bench(context: BrowserContext, server: BenchServer, *, who: str = "pim", enrolled: bool = False) -> Page:
    """Sign in and go to the run's page, and wait until it would outlive its server."""
    if enrolled:
        context.add_cookies([{"name": "plasmawright_tablet", "value": server.token, "url": server.url}])
    page = context.new_page()
    page.goto(f"{server.url}/sign-in/?next=/bench/{server.run}/")
    page.get_by_label("Name").fill(who)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.locator("#step").wait_for()
    page.evaluate("navigator.serviceWorker.ready")
    kept(page)
    return page


IS_KEPT = """async () => {
  const { run, position } = document.getElementById("step").dataset;
  const page = await (await caches.open("plasmawright-bench")).match(`/bench/${run}/`);
  const ahead = JSON.parse(localStorage.getItem(`plasmawright ahead ${run}`) ?? "{}");
  const isThis = page && (await page.text()).includes(`data-position="${position}"`);
  return Boolean(isThis) && ahead.position === Number(position);
}"""


def until(page: Page, expression: str) -> None:
    """Wait until an expression holds; it may take its time."""
    deadline = time.monotonic() + 30
    while not page.evaluate(expression):
        assert time.monotonic() < deadline, expression
        page.wait_for_timeout(50)


def kept(page: Page) -> None:
    """Wait until the page as it stands is kept on the tablet."""
    until(page, IS_KEPT)


def press(page: Page, times: int = 1) -> None:
    """Press the pedal, slower than it bounces."""
    for _ in range(times):
        page.keyboard.press("PageDown")
        page.wait_for_timeout(450)


def waits(page: Page, number: int, *, within_ms: int = 30_000) -> None:
    """Wait until so many entries wait to be sent."""
    expect(page.locator("#bench-live")).to_have_attribute("data-waiting", str(number), timeout=within_ms)


def left_s(page: Page, clock: str) -> int:
    """Return the seconds a clock shows."""
    minutes, seconds = page.locator(f"time[data-clock={clock}]").first.inner_text().split(":")
    return int(minutes) * 60 + int(seconds)
