"""Take the screenshots of docs/pictures from the demo mill in a real Chromium.

Run by ``make pictures``; needs the demo mill (``make demo SERVE=no``). Nothing is recorded in it:
a draft of the tables and an order moved by hand live in the server alone.
"""

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Page, ViewportSize, sync_playwright

from bedstone.demo.quillback import DEMO_PINS

ROOT = Path(__file__).parents[1]
PICTURES = ROOT / "docs" / "pictures"
BEDSTONE = str(Path(sys.executable).with_name("bedstone"))
BROWSERS = ("chromium", "chromium-browser")
SIZE: ViewportSize = {"width": 1280, "height": 900}
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--disable-background-networking"]
WHO = "dell"


def browser_path() -> str:
    """Where a Chromium is; stops with words if there is none."""
    for name in (os.environ.get("CHROMIUM", ""), *BROWSERS):
        found = shutil.which(name) if name else None
        if found:
            return found
    sys.exit("No Chromium found: install it, or name it in CHROMIUM.")


def last_plan_day(mill: Path) -> str:
    """The day of the newest plan of a mill folder, from its file's name."""
    plans = sorted((mill / "plans").glob("P-*.json"), key=lambda path: path.stat().st_mtime)
    if not plans:
        sys.exit(f"{mill} has no plan: run make demo SERVE=no first.")
    return "-".join(plans[-1].stem.split("-")[1:4])


def sign_in(page: Page) -> None:
    """Sign in as the demo's manager."""
    page.goto("/sign-in")
    page.select_option("#person", WHO)
    page.fill("#pin", DEMO_PINS[WHO])
    page.locator("main").get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/")


def today(page: Page, day: str) -> None:
    """The plan of the day."""
    page.goto(f"/?day={day}", wait_until="networkidle")


def bins(page: Page, _day: str) -> None:
    """The bins with their layers."""
    page.goto("/bins", wait_until="networkidle")


def by_hand(page: Page, day: str) -> None:
    """A run moved to where it costs more, beside the plan it began with."""
    page.goto(f"/?day={day}")
    page.get_by_role("button", name="Move runs by hand").click()
    page.wait_for_url("**/by-hand/*", timeout=60_000)
    row = page.locator("ol.running li").nth(1)
    run = row.locator("strong").inner_text()
    for step in range(1, 4):
        page.locator(f"#run-{run}").get_by_role("button", name=f"{run} later").click()
        page.get_by_role("button", name=f"Undo ({step})").wait_for()
    page.set_viewport_size({"width": 1280, "height": 1500})
    page.evaluate("scrollTo(0, 0)")


def table(page: Page, _day: str) -> None:
    """A table of the mill."""
    page.goto("/tables/limits", wait_until="networkidle")


def draft(page: Page, _day: str) -> None:
    """A draft with a change that is right and one that is not."""
    for code, text in (("MX1", "1.8 t"), ("MX2", "2,6")):
        page.goto("/tables/machines")
        page.get_by_role("link", name=code).first.click()
        page.get_by_label("Mass max").fill(text)
        page.get_by_role("button", name="Put this into my draft").click()
        page.wait_for_load_state("networkidle")
    page.goto("/table-draft", wait_until="networkidle")


def trace(page: Page, _day: str) -> None:
    """A load of salt that lies in a bin, traced to whoever got of it."""
    page.goto("/bins")
    link = page.locator('a[href^="/trace?lot=L-"][href*="SALT"]').first.get_attribute("href")
    page.goto(link or "/trace", wait_until="networkidle")


def pellet_line(page: Page, _day: str) -> None:
    """Settings for the next run of each pellet line."""
    page.goto("/pellet-line", wait_until="networkidle")


def line_limits(page: Page, _day: str) -> None:
    """How fast the air lets each product run, hour by hour."""
    page.goto("/pellet-line/limits", wait_until="networkidle")


SHOWN: dict[str, Callable[[Page, str], None]] = {
    "today": today,
    "bins": bins,
    "by-hand": by_hand,
    "table": table,
    "table-draft": draft,
    "trace": trace,
    "pellet-line": pellet_line,
    "line-limits": line_limits,
}
"""Name of a picture to what leads there."""


def main() -> int:
    """Serve the demo mill, take the pictures, stop the server."""
    mill = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "demo-mill"
    wanted = sys.argv[2:] or list(SHOWN)
    day = last_plan_day(mill)
    PICTURES.mkdir(parents=True, exist_ok=True)
    with subprocess.Popen(
        [BEDSTONE, "serve", str(mill), "--port", "0"], stdout=subprocess.PIPE, text=True
    ) as server:
        try:
            address = (server.stdout.readline() if server.stdout else "").split()[-1]
            with sync_playwright() as playwright:
                browser = playwright.chromium.launch(executable_path=browser_path(), args=FLAGS)
                page = browser.new_page(viewport=SIZE, base_url=address.rstrip("/"))
                sign_in(page)
                for name in wanted:
                    page.set_viewport_size(SIZE)
                    SHOWN[name](page, day)
                    page.screenshot(path=PICTURES / f"{name}.png")
                    print(f"wrote docs/pictures/{name}.png")
                browser.close()
        finally:
            server.terminate()
    return 0


if __name__ == "__main__":
    sys.exit(main())
