"""Runs moved by hand in a browser: dragged, moved by keys, undone; and a row of a table typed."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from bedstone.mill.plan import Plan
from fakes.page_quillback import quillback_pages, with_plan
from fakes.page_server import PageMill
from fakes.screen import CUT, SMALL, UPRIGHT, violations


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[PageMill, Plan]]:
    """The demo mill's pages with a released plan of a few orders."""
    folder: Path = tmp_path_factory.mktemp("by-hand")
    with quillback_pages(folder) as served:
        yield served, with_plan(served)


def opened(page: Page, plan: Plan) -> None:
    """Open the plan to be moved by hand."""
    page.goto(f"/plans/{plan.plan}")
    page.get_by_role("button", name="Move runs by hand").click()
    page.wait_for_url("**/by-hand/*")
    expect(page.locator("[data-hand] svg.day")).to_be_visible()


def runs_of(page: Page, mixer: str) -> list[str]:
    """The runs on a mixer as they are listed."""
    return page.locator(f"section:has(> #on-{mixer}) ol strong").all_inner_texts()


def busy_mixer(page: Page) -> str:
    """A mixer with two runs or more."""
    return next(name for name in ("MX1", "MX2") if len(runs_of(page, name)) > 1)


def test_a_run_is_dragged_moved_by_keys_and_undone(
    planned: tuple[PageMill, Plan], window: Callable[..., Page]
):
    """Dropped in front of the first run it is first; Shift and an arrow moves it on; Undo, twice."""
    mill, plan = planned
    page = window(mill, "dell", viewport={"width": 1280, "height": 900})
    opened(page, plan)
    mixer = busy_mixer(page)
    before = runs_of(page, mixer)
    dragged = before[-1]
    bar = page.locator(f'.bar[data-run="{dragged}"]').first
    first = page.locator(f'.bar[data-run="{before[0]}"]').first
    bar.scroll_into_view_if_needed()
    held, there = bar.bounding_box(), first.bounding_box()
    assert held is not None
    assert there is not None
    page.mouse.move(held["x"] + 4, held["y"] + 12)
    page.mouse.down()
    page.mouse.move(there["x"] + 1, held["y"] + 12, steps=4)
    expect(page.locator("#hand-says")).to_contain_text("If you let go here")
    page.mouse.up()
    undo = page.locator(".hand-acts button").first
    expect(undo).to_have_text("Undo (1)")
    assert runs_of(page, mixer) == [dragged, *before[:-1]]
    expect(page.locator(f'.bar[data-run="{dragged}"]:focus')).to_have_count(1)
    page.keyboard.press("Shift+ArrowLeft")
    expect(page.locator("#hand-says")).to_contain_text("there is no earlier place for it")
    page.keyboard.press("Shift+ArrowRight")
    expect(undo).to_have_text("Undo (2)")
    expect(page.locator("#hand-says")).not_to_contain_text("there is no earlier place")
    assert runs_of(page, mixer)[1] == dragged
    for left in ("Undo (1)", "Undo"):
        undo.click()
        expect(undo).to_have_text(left)
    assert runs_of(page, mixer) == before


def test_the_lanes_stay_under_a_pointer_that_holds_a_run(
    planned: tuple[PageMill, Plan], window: Callable[..., Page]
):
    """What is said meanwhile moves nothing, and let go beside all mixers it is taken back."""
    mill, plan = planned
    page = window(mill, "dell", viewport={"width": 1280, "height": 900})
    opened(page, plan)
    says = page.locator("#hand-says")
    standing = says.inner_text()
    runs = runs_of(page, busy_mixer(page))
    bar = page.locator(f'.bar[data-run="{runs[-1]}"]').first
    first = page.locator(f'.bar[data-run="{runs[0]}"]').first
    bar.scroll_into_view_if_needed()
    held, there = bar.bounding_box(), first.bounding_box()
    assert held is not None
    assert there is not None
    page.mouse.move(held["x"] + 4, held["y"] + 12)
    page.mouse.down()
    page.mouse.move(there["x"] + 1, held["y"] + 12, steps=4)
    expect(says).to_contain_text("If you let go here")
    assert first.bounding_box() == there
    page.mouse.move(there["x"] + 1, held["y"] + 2000, steps=2)
    expect(says).not_to_contain_text("If you let go here")
    page.mouse.up()
    assert says.inner_text() == standing
    assert runs_of(page, busy_mixer(page)) == runs


def test_a_finger_moves_a_run_on_an_upright_tablet(
    planned: tuple[PageMill, Plan], window: Callable[..., Page]
):
    """By its button, with nothing cut and nothing too small to touch; axe has nothing to say."""
    mill, plan = planned
    page = window(mill, "dell", viewport=UPRIGHT, has_touch=True, bypass_csp=True)
    opened(page, plan)
    assert page.evaluate(CUT) == []
    assert page.evaluate(SMALL) == []
    mixer = busy_mixer(page)
    before = runs_of(page, mixer)
    page.get_by_role("button", name=f"{before[0]} later", exact=True).tap()
    expect(page.locator(".hand-acts button").first).to_have_text("Undo (1)")
    assert runs_of(page, mixer)[:2] == [before[1], before[0]]
    assert violations(page) == []


def test_a_number_of_a_table_is_understood_while_it_is_typed_and_its_fault_named(
    planned: tuple[PageMill, Plan], window: Callable[..., Page]
):
    """By keyboard alone on an upright tablet: a mass in another unit, then one that is too little."""
    mill, _ = planned
    page = window(mill, "dell", viewport=UPRIGHT, bypass_csp=True)
    page.goto("/tables/machines")
    assert page.evaluate(CUT) == []
    page.get_by_role("link", name="MX1").focus()
    page.keyboard.press("Enter")
    field = page.get_by_label("Mass max, lb")
    field.fill("1.8 t")
    expect(page.locator("#cell-mass_max_kg-said")).to_contain_text("= 3,968.320719 lb")
    field.fill("-1")
    expect(page.locator("#cell-mass_max_kg-said")).to_contain_text("above 0 lb")
    field.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("is not right yet")
    assert page.evaluate(SMALL) == []
    assert violations(page) == []
    page.goto("/table-draft")
    assert violations(page) == []
    expect(page.get_by_role("button", name="Keep it as revision 2")).to_be_disabled()
    page.get_by_role("button", name="Throw the draft away").click()
    expect(page.get_by_text("The draft is thrown away")).to_be_visible()


def test_the_graph_of_a_trace_is_made_larger_by_keys(
    planned: tuple[PageMill, Plan], window: Callable[..., Page]
):
    """Plus makes it wider, nought shows it whole again."""
    mill, _ = planned
    page = window(mill)
    lot = next(row.lot for row, _ in mill.record.lots())
    page.goto(f"/trace?lot={lot}")
    picture = page.get_by_role("region", name="Graph of lots")
    wide = page.locator("svg.lots-graph")
    before = wide.bounding_box()
    picture.focus()
    page.keyboard.press("+")
    page.keyboard.press("+")
    after = wide.bounding_box()
    assert before is not None
    assert after is not None
    assert after["width"] > 1.2 * before["width"]
    page.keyboard.press("0")
    again = wide.bounding_box()
    assert again is not None
    assert again["width"] == pytest.approx(before["width"], abs=1)
