"""The pages of the pellet line in a real browser: axe, narrow and wide, no sideways scrolling."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Page

from fakes.page_line import line_pages
from fakes.page_server import PageMill
from fakes.screen import violations

PAGES = (
    "/pellet-line?on=PL1:SWINE-ST",
    "/pellet-line/cooler?on=PL1:DAIRY-18",
    "/pellet-line/limits?line=PL1",
    "/pellet-line/additives?on=PL2:HORSE-SUP",
    "/pellet-line/calibration",
    "/pellet-line/die",
    "/pellet-line/tests",
    "/pellet-line/runs",
    "/pellet-line/conditioner?wanted_c=500",
    "/pellet-line/conditioner?on=PL1:DAIRY-18&wanted_c=200",
    "/pellet-line/bin?bin=none&pellet_c=104F&moisture_wb=13",
    "/pellet-line/bin?bin=none&pellet_c=140F",
)


@pytest.fixture(scope="module")
def line(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageMill]:
    """The demo mill, only read."""
    with line_pages(tmp_path_factory.mktemp("line")) as served:
        yield served


@pytest.fixture(scope="module")
def window(line: PageMill, chromium) -> Iterator[Page]:  # noqa: ANN001 - a fixture
    """A window on it."""
    context = chromium.new_context(base_url=line.base, bypass_csp=True)
    yield context.new_page()
    context.close()


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("size", [(1280, 900), (800, 1200)])
def test_axe_finds_nothing_and_nothing_is_wider_than_the_screen(
    window: Page, path: str, size: tuple[int, int]
):
    """No rule of axe is broken, and only tables and pictures scroll sideways, in themselves."""
    window.set_viewport_size({"width": size[0], "height": size[1]})
    window.goto(path)
    assert violations(window) == []
    assert window.evaluate("document.documentElement.scrollWidth") <= size[0]
