"""The demo mill, with weeks of past and two dozen bins, in the browser."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from bedstone.store.door import Door
from bedstone.store.record import open_record
from fakes.page_server import PageMill, serving

AXE = Path(__file__).parent / "vendor" / "axe-core" / "axe.min.js"


@pytest.fixture(scope="module")
def demo(demo_made) -> Iterator[PageMill]:  # noqa: ANN001 - a fixture
    """The demo mill behind its pages, only read."""
    record = open_record(demo_made.directory)
    clock = demo_made.parts.clock
    try:
        with serving(record, Door(record.database, clock), clock) as served:
            yield served
    finally:
        record.close()


@pytest.fixture(scope="module")
def tablet(demo: PageMill, chromium: Browser) -> Iterator[Page]:
    """A tablet's window on it."""
    context = chromium.new_context(
        viewport={"width": 1024, "height": 768}, base_url=demo.base, bypass_csp=True
    )
    yield context.new_page()
    context.close()


def a_run(demo: PageMill) -> str:
    """The lot of the last run that was packed."""
    return next(
        str(fact.fact.content["run"])
        for fact in demo.record.facts(kinds=("finishing.run_packed/1",), newest_first=True)
    )


@pytest.mark.parametrize(
    "path",
    ["/", "/bins", "/bins/B01", "/orders?which=all", "/stock", "/stock/machines", "/journal"],
)
def test_pages_of_a_full_mill_are_sound(tablet: Page, path: str):
    """With a full mill no page breaks a rule of axe or is wider than the tablet."""
    tablet.goto(path)
    tablet.evaluate(AXE.read_text(encoding="utf-8"))
    found = tablet.evaluate("async () => (await axe.run(document)).violations.map((v) => v.id)")
    assert found == []
    assert tablet.evaluate("document.documentElement.scrollWidth") <= 1024


def test_the_trace_of_a_full_mill_is_drawn_whole(demo: PageMill, tablet: Page):
    """A run's trace shows the run, what it was made of and who supplied it, and passes axe."""
    tablet.goto(f"/trace?lot={a_run(demo)}")
    assert tablet.locator("svg.lots-graph a.node.here").count() == 1
    assert tablet.locator("svg.lots-graph path.edge.certain").count() > 3
    assert tablet.get_by_role("heading", name="Suppliers it came from").is_visible()
    tablet.evaluate(AXE.read_text(encoding="utf-8"))
    found = tablet.evaluate("async () => (await axe.run(document)).violations.map((v) => v.id)")
    assert found == []


def test_every_bin_has_its_picture(demo: PageMill, tablet: Page):
    """Each bin of the mill is drawn once, and no two pictures share an id."""
    tablet.goto("/bins")
    assert tablet.locator("ul.bins svg").count() == demo.visitor().get("/bins").text.count("<svg")
    ids = tablet.evaluate("[...document.querySelectorAll('[id]')].map((one) => one.id)")
    assert len(ids) == len(set(ids))
