"""Whole ways through the pages in a real browser, on the starter mill and on the hand-written one."""

import datetime as dt
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from bedstone.desk.batches import start_batch
from bedstone.desk.made import made_batches
from bedstone.desk.plan_day import make_plan, propose, release
from bedstone.desk.plans import latest_plan, released_plan
from bedstone.store.folder import read_folder
from bedstone.store.starter import write_starter
from fakes.page_server import PIN, FixedClock, PageMill, page_mill

DAY = dt.date(2026, 1, 20)
EARLY = FixedClock(dt.datetime(2026, 1, 20, 11, 30, tzinfo=dt.UTC))  # half past five at the mill


@pytest.fixture
def starter(tmp_path: Path) -> Iterator[PageMill]:
    """The starter folder's mill early on a working day, nothing planned yet."""
    folder = tmp_path / "folder"
    folder.mkdir()
    write_starter(folder)
    with page_mill(tmp_path, read_folder(folder), clock=EARLY) as served:
        yield served


@pytest.fixture
def running(starter: PageMill) -> PageMill:
    """The same mill with the plan of its day released and the first batch begun."""
    plan = make_plan(starter.record, day=DAY, at=EARLY())
    propose(starter.record, plan, by="ana", at=EARLY())
    release(starter.record, plan.plan, by="ana", at=EARLY())
    start_batch(starter.record, plan.plan, "1001-01", by="ben", at=EARLY())
    return starter


def kilograms(page: Page, place: str) -> float:
    """What the stock page says lies in a place."""
    page.get_by_role("link", name="Stock", exact=True).click()
    cell = page.locator("tr", has=page.locator(f'a[href="/bins/{place}"]')).locator("td").nth(2)
    return float(re.sub(r"[^\d.-]", "", cell.inner_text()))


def fill_in(page: Page, factors: dict[int, float] | None = None) -> float:
    """Type every target of the open batch (times a factor), wait until it is understood, record."""
    whole = 0.0
    rows = page.locator("li.draw")
    for number in range(1, rows.count() + 1):
        row = rows.nth(number - 1)
        target = float(re.sub(r"[^\d.]", "", row.locator(".target").inner_text()))
        weighed = round(target * (factors or {}).get(number, 1.0), 2)
        row.locator("input.big").fill(f"{weighed:.2f}")
        expect(row.locator(".understood .mark")).to_be_visible()
        whole += weighed
    page.get_by_role("button", name="Record this batch").click()
    return whole


def test_plan_release_fill_in_stock_and_trace(starter: PageMill, window: Callable[..., Page]):
    """A manager plans and releases the day, a batch is started, filled in and recorded, stock falls
    by what was weighed, and the lot leads back to the loads it was made of.
    """
    page = window(starter, "ana")
    page.get_by_role("button", name="Plan the day").click()
    expect(page.get_by_text("The day was planned again")).to_be_visible()
    page.get_by_role("button", name="Release this plan").click()
    expect(page.get_by_text("The plan is released")).to_be_visible()
    plan = released_plan(starter.record, DAY).plan
    batch = plan.batches[0]
    before = {draw.from_place: kilograms(page, draw.from_place) for draw in batch.draws}
    page.get_by_role("link", name="Batches", exact=True).click()
    page.get_by_role("link", name=f"Next: batch {batch.batch}").click()
    page.get_by_role("button", name="Start this batch").click()
    expect(page.get_by_text("The batch has begun")).to_be_visible()
    weighed = fill_in(page)
    expect(page.get_by_text("The batch is in the record")).to_be_visible()
    made = made_batches(starter.record)[batch.batch]
    assert made.mass_mg == pytest.approx(weighed * 1e6)
    for draw in made.made.draws:
        fallen = before[draw.from_place] - kilograms(page, draw.from_place)
        assert fallen == pytest.approx(draw.actual_mg / 1e6, abs=1.0)
    page.fill("#scan-code", batch.batch)
    page.keyboard.press("Enter")
    page.get_by_role("link", name="Trace this lot").click()
    expect(page.locator("svg.lots-graph a.node")).not_to_have_count(0)
    for lot in ("L-0110-BARLEY", "L-0112-SOYMEAL"):
        expect(page.locator("table").last.get_by_role("link", name=lot)).to_be_visible()


def test_a_changed_order_says_what_it_does_to_the_plan(
    starter: PageMill, window: Callable[..., Page]
):
    """After an order is added the page says what that changes, and the new plan can be proposed."""
    page = window(starter, "ana")
    page.get_by_role("button", name="Plan the day").click()
    first = latest_plan(starter.record, DAY).plan
    page.get_by_role("link", name="Orders", exact=True).click()
    page.get_by_role("link", name="New order").click()
    assert page.input_value("#order") == "1002"
    page.select_option("#customer", "hillside")
    page.select_option("#product", "SHEEP-16")
    page.fill("#mass", "1 t")
    page.select_option("#pack", "bags")
    page.fill("#due", "2026-01-20T14:00")
    page.get_by_role("button", name="Add the order").click()
    expect(page.get_by_text("Order 1002 comes into the plan: 1,000 kg")).to_be_visible()
    page.get_by_role("button", name="Propose this plan").click()
    expect(page.get_by_text("The day was planned again")).to_be_visible()
    second = latest_plan(starter.record, DAY).plan
    assert {run.order for run in second.runs} - {run.order for run in first.runs} == {"1002"}
    page.goto("/orders/1002")
    page.fill("#why", "typed twice")
    page.get_by_role("button", name="Cancel the order").click()
    expect(page.get_by_text("Order 1002 is no longer in the plan")).to_be_visible()


def test_a_draw_out_of_tolerance_is_said_in_word_and_shape(
    running: PageMill, window: Callable[..., Page]
):
    """A number far from its target is marked before and after recording, in words and by a shape."""
    page = window(running, "ben")
    page.goto("/batches/1001-01")
    page.fill("#actual-1", "1,6")
    mark = page.locator("#understood-1 .mark")
    expect(mark).to_contain_text("cannot be understood")
    fill_in(page, {1: 1.02})
    expect(page.get_by_text("The batch is in the record")).to_be_visible()
    said = page.locator("tbody tr").first
    expect(said).to_contain_text("over target")
    shape = "getComputedStyle(document.querySelector('tbody .mark'), '::before').content"
    assert page.evaluate(shape) == '"▲"'
    expect(page.locator(".finding.act").first).to_be_visible()


def test_two_windows_lose_nothing(running: PageMill, window: Callable[..., Page]):
    """Two people fill in the same batch: the later one sees who was first and keeps the numbers."""
    first, second = window(running, "ben"), window(running, "ana")
    for page in (first, second):
        page.goto("/batches/1001-01")
    second.fill("#actual-1", "777")
    fill_in(first)
    expect(first.get_by_text("The batch is in the record")).to_be_visible()
    for number in range(2, second.locator("li.draw").count() + 1):
        second.fill(f"#actual-{number}", f"{number}")
    second.get_by_role("button", name="Record this batch").click()
    expect(second.get_by_role("alert")).to_contain_text("Ben Example")
    expect(second.get_by_text("What you typed, which is not in the record")).to_be_visible()
    expect(second.get_by_role("cell", name="777")).to_be_visible()
    assert made_batches(running.record)["1001-01"].by == "ben"


def test_a_batch_that_may_not_start_says_why(mill: PageMill, window: Callable[..., Page]):
    """Sheep feed before its flush and clean-out is refused on what really ran; nothing begins."""
    page = window(mill, "mara")
    page.goto("/batches/4107-01")
    before = mill.record.head().position
    page.get_by_role("button", name="Start this batch").click()
    expect(page.get_by_role("alert")).to_contain_text("must not start now")
    expect(page.get_by_role("alert")).to_contain_text("Rule:")
    assert mill.record.head().position == before


def test_a_scanner_types_a_batch_from_anywhere(mill: PageMill, window: Callable[..., Page]):
    """A code typed with Enter while no field has the focus lands on that batch."""
    page = window(mill)
    for start in ("/bins", "/journal", "/runs"):
        page.goto(start)
        page.keyboard.type("4106-01", delay=5)
        page.keyboard.press("Enter")
        expect(page.get_by_role("heading", level=1)).to_contain_text("Batch 4106-01")


def test_a_scanned_lot_does_not_send_the_batch(running: PageMill, window: Callable[..., Page]):
    """Enter in a field of the batch goes to the next field; nothing is recorded by it."""
    page = window(running, "ben")
    page.goto("/batches/1001-01")
    before = running.record.head().position
    page.focus("#lot-1")
    page.keyboard.type("L-0110-BARLEY")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "actual-2"
    assert page.input_value("#lot-1") == "L-0110-BARLEY"
    assert running.record.head().position == before


def test_everything_can_be_done_with_the_keyboard(mill: PageMill, window: Callable[..., Page]):
    """Signing in, reading the bars, opening a batch and starting it need no mouse; focus is seen."""
    page = window(mill)
    page.goto("/sign-in")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "person"
    page.keyboard.type("Mara")
    page.keyboard.press("Tab")
    page.keyboard.type(PIN)
    page.keyboard.press("Enter")
    page.wait_for_url("**/")
    reach(page, lambda: page.evaluate("document.activeElement.classList.contains('bar')"))
    expect(page.locator("#bar-detail")).to_contain_text("grinding")
    page.keyboard.press("ArrowDown")
    words = set()
    for _ in range(8):
        words.add(page.locator("#bar-detail").inner_text())
        page.keyboard.press("ArrowRight")
    assert any("copper" in said for said in words)  # the reason of the flush
    page.goto("/batches/4106-01")
    reach(page, lambda: page.evaluate("document.activeElement.textContent") == "Start this batch")
    outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert outline == "solid"
    page.keyboard.press("Enter")
    expect(page.locator("[role=alert], [role=status]").first).to_be_visible()  # it was really sent


def reach(page: Page, there: Callable[[], bool]) -> None:
    """Press Tab until it is reached."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if there():
            return
    pytest.fail("not reached with the Tab key")


def test_bars_tell_why_when_tapped(mill: PageMill, window: Callable[..., Page]):
    """A tap on a flush shows its reason and the way to its sheet."""
    page = window(mill, has_touch=True)
    page.goto("/")
    page.locator("g.bar.flush").first.tap()
    expect(page.locator("#bar-detail")).to_contain_text("copper")
    expect(page.locator("#bar-detail").get_by_role("link")).to_have_attribute(
        "href", re.compile("^/batches/")
    )


def test_the_print_view_leaves_controls_out(mill: PageMill, window: Callable[..., Page]):
    """On paper there are no buttons and no menus, the pictures and tables are, and it is a PDF."""
    page = window(mill, "osk")
    for path, seen in (("/", "svg.day"), ("/bins", ".bins svg"), ("/batches/4107-01", "li.draw")):
        page.goto(path)
        page.emulate_media(media="print")
        assert page.locator("nav, button, .button, .scan").locator("visible=true").count() == 0
        expect(page.locator(seen).first).to_be_visible()
        assert page.pdf(format="Letter").startswith(b"%PDF")
        page.emulate_media(media="screen")


def test_pages_work_without_scripts(running: PageMill, window: Callable[..., Page]):
    """With scripts off a batch can still be recorded: its numbers come back for a look first."""
    page = window(running, java_script_enabled=False)
    page.goto("/sign-in")
    page.select_option("#person", "ben")
    page.fill("#pin", PIN)
    page.locator("main").get_by_role("button", name="Sign in").click()
    page.goto("/batches/1001-01")
    plan = released_plan(running.record, DAY).plan
    for draw in plan.batches[0].draws:
        page.fill(f"#actual-{draw.sequence}", f"{draw.target_mg / 1e6:.2f}")
    page.get_by_role("button", name="Record this batch").click()
    expect(page.get_by_text("Not recorded yet")).to_be_visible()
    page.get_by_role("button", name="Record this batch").click()
    expect(page.get_by_text("The batch is in the record")).to_be_visible()
    assert "1001-01" in made_batches(running.record)
