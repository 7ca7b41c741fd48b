"""A formula's page in a browser: a price moved by keys, the answer beside it, a draft kept."""

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Page, expect

from bedstone.desk.revisions import current_mill
from fakes.page_quillback import quillback_pages
from fakes.page_server import PageMill
from fakes.screen import CUT, SMALL, UPRIGHT, violations


@pytest.fixture(scope="module")
def quillback(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageMill]:
    """The demo mill's pages."""
    with quillback_pages(tmp_path_factory.mktemp("formulas")) as served:
        yield served


def test_a_slider_moved_by_keys_is_answered_beside_it(
    quillback: PageMill, window: Callable[..., Page]
):
    """Each key on a price changes the shown price and the answer; what is kept is what is shown."""
    page = window(quillback, "ines", viewport={"width": 1280, "height": 900})
    page.goto("/formulas/SHEEP-GR")
    cost = page.locator("#answer dd").first
    before = cost.inner_text()
    slider = page.locator('input[name="price.SBM48"]')
    slider.focus()
    for _ in range(4):
        page.keyboard.press("PageUp")
    expect(page.locator("#answer")).to_contain_text("Changed: Soybean meal 48 at")
    expect(cost).not_to_have_text(before)
    shown = slider.evaluate("one => one.parentElement.querySelector('output').textContent")
    assert float(shown) > 361
    assert violations(page) == []
    page.fill("#why", "dearer meal")
    page.get_by_role("button", name="Keep this formula").click()
    page.wait_for_url("**/versions/3?done=draft")
    expect(page.get_by_role("heading", level=1)).to_have_text("Lamb Grower 16, version 3")
    mill = current_mill(quillback.record)
    drafted = {row.ingredient: row.parts_frac for row in mill.lines_of("SHEEP-GR", 3)}
    assert sum(drafted.values()) == pytest.approx(1.0)


def test_pages_fit_a_tablet_held_upright(quillback: PageMill, window: Callable[..., Page]):
    """Nothing is wider than the screen, and what is pressed is 44 px high."""
    page = window(quillback, "ines", viewport=UPRIGHT)
    for path in (
        "/formulas",
        "/formulas/RABBIT-16",
        "/formulas/LAYER-16/versions/2",
        "/ingredients/SBM48",
    ):
        page.goto(path)
        assert page.evaluate("document.documentElement.scrollWidth") <= UPRIGHT["width"], path
        assert page.evaluate(SMALL) == [], path
        assert [one for one in page.evaluate(CUT) if one == "picture"] == [], path


def test_without_scripts_the_page_answers_all_the_same(
    quillback: PageMill, window: Callable[..., Page]
):
    """A form sent by its button gives the same answer as dragging does."""
    page = window(quillback, "", viewport=UPRIGHT, java_script_enabled=False)
    page.goto("/formulas/SHEEP-GR?price.SBM48=420")
    assert "Changed: Soybean meal 48 at 420.00" in page.content()
    page.goto("/formulas/SHEEP-GR?from=bins")
    assert page.locator("#from").input_value() == "bins"
