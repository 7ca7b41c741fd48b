"""A load at the gate on a phone and on a tablet: few taps, nothing cut, every field large enough."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.mill.folder import LoadedFolder
from fakes.page_server import PageMill, page_mill
from fakes.screen import CUT, SMALL

MOST_TAPS = 36
PHONE, TABLET = {"width": 390, "height": 844}, {"width": 800, "height": 1200}
STEPS: tuple[dict[str, str], ...] = (
    {"firm": "harrow", "ingredient": "CORN", "ticket": "T1", "lot": "L-1",
     "carrier": "dustyroad", "carrier_kind": "truck"},
    {"cargo1": "grain", "cargo2": "grain", "cargo3": "grain", "cleaned": "none",
     "seals": "none fitted", "papers": "right"},
    {"odour": "as usual", "insects": "none", "foreign": "none", "test:moisture": "15.1 15.3",
     "test:bulk density": "56", "test:foreign matter": "2", "test:aflatoxin": "5",
     "test:temperature": "55"},
    {"weighbridge": "WB1", "gross": "54000", "tare": "30000", "seller_net": "24060"},
)  # fmt: skip


@pytest.fixture
def quillback(tmp_path: Path) -> Iterator[PageMill]:
    """The demo's tables behind pages, with empty bins."""
    with page_mill(tmp_path, LoadedFolder(mill=packaged_mill())) as served:
        yield served


def _answer(page: Page, name: str, value: str) -> int:
    """Answer one question by touch; returns the taps it takes."""
    radio = page.locator(f'label:has(input[name="{name}"][value="{value}"])')
    if radio.count():
        radio.first.tap()
        return 1
    field = page.locator(f'[name="{name}"]')
    if field.evaluate("one => one.tagName") == "SELECT":
        field.select_option(value)
        return 2
    field.fill(value)
    return 1


@pytest.mark.parametrize("viewport", [PHONE, TABLET], ids=["phone", "tablet"])
def test_a_load_is_taken_in_with_few_taps(
    quillback: PageMill, window: Callable[..., Page], viewport: dict[str, int]
):
    """From the empty form to the load on record; on no step is anything cut or too small to touch."""
    page = window(quillback, "tomas", viewport=viewport, has_touch=True)
    page.goto("/arrival")
    taps = 0
    for name, step in zip(("Load", "Carrier", "Sample", "Weight"), STEPS, strict=True):
        expect(page.locator("ol.steps [aria-current=step]")).to_have_text(name)
        assert page.evaluate(CUT) == []
        small = [one for one in page.evaluate(SMALL) if 'type="radio"' not in one]
        assert small == []  # a radio is touched by its label
        taps += sum(_answer(page, field, value) for field, value in step.items())
        page.get_by_role("button", name="Go on").tap()
        taps += 1
    expect(page.get_by_text("It may unload.", exact=False).first).to_be_visible()
    assert page.evaluate(CUT) == []
    page.get_by_role("button", name="Take it in").tap()
    expect(page.get_by_text("Taken in, into corn bin", exact=False)).to_be_visible()
    assert taps + 1 <= MOST_TAPS
