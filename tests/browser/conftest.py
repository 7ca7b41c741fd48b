"""Debian's Chromium, driven by Playwright, against a real server with a real record."""

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from fakes.page_server import PIN, PageMill, page_mill

FLAGS = (
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
AXE = Path(__file__).parent / "vendor" / "axe-core" / "axe.min.js"
TABLET = {"width": 1024, "height": 768}


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """One browser for the whole run."""
    names = (os.environ.get("CHROMIUM", ""), "chromium", "chromium-browser")
    found = next((path for name in names if name and (path := shutil.which(name))), None)
    if found is None:
        pytest.fail(
            "Chromium is not installed, so the pages cannot be tried in a browser. Install it "
            "(Debian: apt-get install chromium), or run make test, which does so as root.",
            pytrace=False,
        )
    flags = [*FLAGS, "--no-sandbox"] if os.geteuid() == 0 else list(FLAGS)
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=found, args=flags)
        yield browser
        browser.close()


@pytest.fixture
def mill(tmp_path: Path) -> Iterator[PageMill]:
    """A small mill with a released plan, served on this machine."""
    with page_mill(tmp_path) as served:
        yield served


@pytest.fixture(scope="session")
def read_mill(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageMill]:
    """The same, shared by tests that only read."""
    with page_mill(tmp_path_factory.mktemp("browser")) as served:
        yield served


@pytest.fixture
def window(chromium: Browser) -> Iterator[Callable[..., Page]]:
    """Opens windows of browsers of their own; fails if a page complained or called elsewhere."""
    opened = []
    complaints: list[str] = []

    def fresh(mill: PageMill, person: str = "", **options: object) -> Page:
        context = chromium.new_context(**({"viewport": TABLET, "base_url": mill.base} | options))
        opened.append(context)
        page = context.new_page()
        page.set_default_timeout(10_000)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console",
            lambda words: (
                complaints.append(words.text)
                if words.type in ("error", "warning") and "status of 4" not in words.text
                else None
            ),
        )
        page.on(
            "request",
            lambda request: (
                complaints.append(f"call to {request.url}")
                if not request.url.startswith((mill.base, "data:", "blob:"))
                else None
            ),
        )
        if person:
            sign_in(page, person)
        return page

    yield fresh
    for context in opened:
        context.close()
    assert complaints == []


def sign_in(page: Page, person: str) -> None:
    """Sign in on the pad, as a finger would."""
    page.goto("/sign-in")
    page.select_option("#person", person)
    for digit in PIN:
        page.locator(".pad").get_by_role("button", name=digit, exact=True).click()
    page.locator("main").get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/")
