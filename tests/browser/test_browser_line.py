"""The pages of the pellet line in a real browser: axe, narrow and wide, no sideways scrolling."""

import datetime as dt
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page

from bedstone.desk.readings import readings
from fakes.line_runs import made, pelleted, read
from fakes.page_line import EARLY, line_pages
from fakes.page_server import PIN, PageMill
from fakes.screen import violations

HOUR = dt.timedelta(hours=1)
PAGES = (
    "/pellet-line?on=PL1:SWINE-ST",
    "/pellet-line/cooler?on=PL1:DAIRY-18",
    "/pellet-line/cooler?on=PL1:DAIRY-18&humidity_frac=110",
    "/pellet-line/limits?line=PL1",
    "/pellet-line/additives?on=PL2:HORSE-SUP",
    "/pellet-line/additives/own?which=VTM-H:live+culture+in+the+premix&before_0=2&after_0=0.5&at_0=167&s_0=40",
    "/pellet-line/calibration",
    "/pellet-line/die",
    "/pellet-line/tests",
    "/pellet-line/runs",
    "/pellet-line/runs/R-1",
    "/pellet-line/conditioner?wanted_c=500",
    "/pellet-line/conditioner?on=PL1:DAIRY-18&wanted_c=200",
    "/pellet-line/bin?bin=none&pellet_c=104F&moisture_wb=13",
    "/pellet-line/bin?bin=none&pellet_c=140F",
)


@pytest.fixture(scope="module")
def line(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageMill]:
    """The demo mill, only read."""
    with line_pages(tmp_path_factory.mktemp("line")) as served:
        made(served.record, at=EARLY - HOUR)
        pelleted(served.record, at=EARLY - HOUR / 2)
        read(served.record, at=EARLY - HOUR / 2, conditioner_temperature=70.0,
             cooler_outlet_temperature=40.0, cooler_outlet_moisture=0.12)  # fmt: skip
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


@pytest.mark.parametrize("size", [(1280, 900), (800, 1200)])
def test_readings_are_typed_with_the_keyboard_alone(
    window: Page, line: PageMill, size: tuple[int, int]
):
    """Signed in, the form of a run breaks no rule of axe, is no wider than the screen, and is
    sent off by the Enter key.
    """
    window.set_viewport_size({"width": size[0], "height": size[1]})
    if size[0] > 1000:
        window.goto("/sign-in")
        window.select_option("#person", "dell")
        window.fill("#pin", PIN)
        window.click("button.main.large")
    window.goto("/pellet-line/runs/R-1")
    assert violations(window) == []
    assert window.evaluate("document.documentElement.scrollWidth") <= size[0]
    first = window.get_by_label("Motor current, A, at time 1")
    first.fill(str(40 + size[0] // 1000))
    first.press("Enter")
    window.wait_for_url("**/pellet-line/runs/R-1?done=*")
    assert window.get_by_text("The readings are recorded").is_visible()
    assert readings(line.record, "PL2", "motor current").rows
