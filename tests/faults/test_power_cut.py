"""The power of tablet and server cut together: what only the tablet has arrives once, and in order."""

import os
import signal
import subprocess
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Error, expect
from tests.browser.at_the_bench import Opened, at_the_bench, opened, press, waits
from tests.browser.bench_server import BenchServer
from tests.browser.conftest import CHROMIUM, QUIET, chromium

__all__ = ["chromium", "opened"]

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture
def profile(tmp_path: Path) -> Iterator[Path]:
    """Return the folder in which a tablet keeps what outlives its power."""
    folder = tmp_path / "profile"
    yield folder
    for number in running_on(folder):
        os.kill(number, signal.SIGKILL)


def switched_on(chromium: Browser, profile: Path) -> BrowserContext:
    """Return a tablet that starts with what it kept."""
    for lock in profile.glob("Singleton*"):
        lock.unlink()  # a tablet is one machine; on a bench of tests a dead browser's lock would ask a person
    context = chromium.browser_type.launch_persistent_context(profile, executable_path=CHROMIUM, args=QUIET)
    context.set_default_timeout(30_000)
    return context


def running_on(profile: Path) -> list[int]:
    """Return the processes of the browser that keeps ``profile``."""
    asked = ["pgrep", "-f", "--", f"--user-data-dir={profile}"]
    found = subprocess.run(asked, capture_output=True, text=True, check=False)
    return [int(number) for number in found.stdout.split()]


def cut_power(server: BenchServer, profile: Path) -> None:
    """End tablet and server at once, with nothing said to either before."""
    for number in running_on(profile):
        with suppress(ProcessLookupError):
            os.kill(number, signal.SIGKILL)
    server.kill()


def test_a_power_cut_of_tablet_and_server_loses_nothing(opened: Opened, chromium: Browser, profile: Path) -> None:
    server = opened("draw")
    tablet = switched_on(chromium, profile)
    page = at_the_bench(tablet, server)
    press(page)
    waits(page, 0)
    server.signal(signal.SIGSTOP)  # it hears what is tapped now, and has no time to answer
    press(page, 2)
    waits(page, 2)
    server.signal(signal.SIGCONT)
    cut_power(server, profile)
    with suppress(Error):
        tablet.close()
    kept = server.tapped()
    assert [entry["body"]["what"] for entry in kept][:1] == ["counted"]
    server.start()
    tablet = switched_on(chromium, profile)
    page = at_the_bench(tablet, server)
    waits(page, 0)
    expect(page.locator("#step")).to_have_attribute("data-step", "draw")
    found = server.tapped()
    assert [(entry["body"]["what"], entry["body"]["tube"]) for entry in found] == [
        ("counted", 1), ("filled", 1), ("filled", 2),
    ]  # fmt: skip
    assert found[: len(kept)] == kept, "what was kept before the cut has changed"
    assert len({entry["key"] for entry in found}) == len(found)
    assert [entry["seq"] for entry in found] == sorted(entry["seq"] for entry in found)
    press(page)
    waits(page, 0)
    assert server.tapped()[-1]["body"] == {"what": "filled", "tube": 3}, "the run goes on"
    tablet.close()
