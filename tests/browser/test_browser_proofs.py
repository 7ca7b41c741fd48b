"""A catch test typed in a browser, and the mixing clock of a batch."""

from collections.abc import Callable

from playwright.sync_api import Page, expect

from bedstone.desk.proofs import proofs
from bedstone.desk.revisions import current_mill
from fakes.page_server import PageMill


def test_a_catch_test_is_judged_and_recorded(mill: PageMill, window: Callable[..., Page]):
    """Two catches are judged on the page before the second button records them."""
    meter = current_mill(mill.record).meters[0].meter
    page = window(mill, "mara")
    page.goto(f"{mill.base}/proofs/{meter}")
    for number, (known, seen) in enumerate((("44.2", "44.0"), ("44.0", "44.0")), start=1):
        page.fill(f"[name=known-{number}]", known)
        page.fill(f"[name=seen-{number}]", seen)
    page.get_by_role("button", name="Judge it").click()
    expect(page.get_by_role("status")).to_contain_text("Repeats within")
    assert proofs(mill.record, meter) == ()
    page.get_by_role("button", name="Record this proof").click()
    expect(page.get_by_text("The proof is in the record.")).to_be_visible()
    assert len(proofs(mill.record, meter)) == 1


def test_the_mixing_clock_runs_and_outlives_a_reload(mill: PageMill, window: Callable[..., Page]):
    """It runs once the last dry ingredient is in, and a page read again goes on with it."""
    page = window(mill, "mara")
    page.goto(f"{mill.base}/batches/4105-01")
    page.get_by_role("button", name="Start this batch").click()
    clock = page.get_by_role("timer")
    expect(clock).to_have_text("0:00")
    page.get_by_role("button", name="The last dry ingredient is in").click()
    expect(clock).to_contain_text("of")
    page.reload()
    expect(page.get_by_role("timer")).to_contain_text("of")
    page.get_by_role("button", name="Begin again").click()
    expect(page.get_by_role("timer")).to_have_text("0:00")
