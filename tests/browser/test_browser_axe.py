"""Accessibility of every page, as axe-core finds it in the browser."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from bedstone.ledger.model import Fact
from fakes.desk_day import PLAN
from fakes.page_server import PageMill
from fakes.screen import violations

PAGES = (
    "/",
    f"/plans/{PLAN.plan}",
    "/?day=2026-12-24",
    "/sign-in",
    "/batches",
    "/batches/4107-01",
    "/batches/4107-01-flush",
    "/bins",
    "/which-bin?ingredient=CORN&mass=1000",
    "/levels",
    "/buying",
    "/suppliers",
    "/arrivals",
    "/arrival",
    "/samples",
    "/cargo-rules",
    "/bins/G1",
    "/orders",
    "/orders/new",
    "/orders/4107",
    "/runs",
    "/stock",
    "/stock/machines",
    "/trace",
    "/trace?lot=L-SALT",
    "/formulas",
    "/formulas/SHEEP-GR",
    "/formulas/SHEEP-GR/versions/3",
    "/formulas/SHEEP-GR/compare?a=3&b=3",
    "/formulas/SHEEP-GR/curve?of=SBM",
    "/week",
    "/ingredients",
    "/ingredients/SBM",
    "/tables",
    "/tables/machines",
    "/tables/machines/rows/1",
    "/tables/limits/new",
    "/tables/settings",
    "/table-draft",
    "/revisions",
    "/revisions/1",
    "/instruments",
    "/instruments/SC1",
    "/proofs",
    "/proofs/SC1",
    "/tanks",
    "/mixers",
    "/mixers/MX1/test",
    "/balance",
    "/journal",
    "/journal/verify",
    "/journal/2",
    "/nix",
)


@pytest.fixture(scope="module")
def read_page(read_mill: PageMill, chromium) -> Page:  # noqa: ANN001 - a fixture
    """A signed-in window that all pages are opened in."""
    context = chromium.new_context(
        viewport={"width": 1024, "height": 768}, base_url=read_mill.base, bypass_csp=True
    )
    page = context.new_page()
    page.goto("/sign-in")
    page.select_option("#person", "osk")
    page.fill("#pin", "2468")
    page.locator("main").get_by_role("button", name="Sign in").click()
    yield page
    context.close()


@pytest.mark.parametrize("path", PAGES)
def test_axe_finds_no_violation(read_page: Page, path: str):
    """No rule of axe is broken on the page."""
    read_page.goto(path)
    assert violations(read_page) == []


@pytest.mark.parametrize(
    "path", ["/", "/batches/4107-01", "/bins", "/orders/4107", "/runs", "/formulas/SHEEP-GR"]
)
@pytest.mark.parametrize("size", [(800, 1200), (1024, 768), (1280, 800)])
def test_pages_fit_the_screen_and_fingers(read_page: Page, path: str, size: tuple[int, int]):
    """The page is no wider than the screen, and what is pressed is 44 px high or more."""
    read_page.set_viewport_size({"width": size[0], "height": size[1]})
    read_page.goto(path)
    assert read_page.evaluate("document.documentElement.scrollWidth") <= size[0]
    small = read_page.evaluate(
        """() => [...document.querySelectorAll("button, .button, nav a, select, summary,"
            + " input:not([type=hidden]):not([type=checkbox])")]
            .filter((one) => one.checkVisibility() && one.getBoundingClientRect().height < 43.5)
            .map((one) => one.outerHTML.slice(0, 80))"""
    )
    assert small == []


def test_a_batch_being_filled_in_has_no_violation(mill: PageMill, window: Callable[..., Page]):
    """The form with a number off target, one that cannot be read and one that is right passes."""
    start = Fact(
        kind="batching.batch_started/1",
        happened_at=mill.clock(),
        by="mara",
        content={
            "batch": "4105-01",
            "run": "R-4105",
            "mixer": "MX1",
            "plan": PLAN.plan,
            "formula_version": 2,
        },
    )
    mill.record.append(start, recorded_at=mill.clock())
    page = window(mill, "mara", bypass_csp=True)
    page.goto("/batches/4105-01")
    for number, text in (("1", "1 kg"), ("2", "1,6"), ("3", "9999")):
        page.fill(f"#actual-{number}", text)
    page.wait_for_function("document.querySelectorAll('.understood .mark').length === 3")
    assert violations(page) == []
