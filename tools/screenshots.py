"""Take the screenshots of docs/pictures from the demo mill in a real Chromium.

Run by ``make pictures``; needs the demo mill (``make demo SERVE=no``).
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

ROOT = Path(__file__).parents[1]
PICTURES = ROOT / "docs" / "pictures"
BEDSTONE = str(Path(sys.executable).with_name("bedstone"))
BROWSERS = ("chromium", "chromium-browser")
SIZE = {"width": 1280, "height": 900}

# name of the picture to the address it shows
SHOWN = {"today": "/?day={day}", "bins": "/bins"}


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


def take(page: Page, address: str, name: str, *, day: str) -> None:
    """One picture of one page."""
    page.goto(address.rstrip("/") + SHOWN[name].format(day=day), wait_until="networkidle")
    page.screenshot(path=PICTURES / f"{name}.png")
    print(f"wrote docs/pictures/{name}.png")


def main() -> int:
    """Serve the demo mill, take the pictures, stop the server."""
    mill = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "demo-mill"
    day = last_plan_day(mill)
    PICTURES.mkdir(parents=True, exist_ok=True)
    with subprocess.Popen(
        [BEDSTONE, "serve", str(mill), "--port", "0"], stdout=subprocess.PIPE, text=True
    ) as server:
        try:
            address = (server.stdout.readline() if server.stdout else "").split()[-1]
            with sync_playwright() as playwright:
                browser = playwright.chromium.launch(
                    executable_path=browser_path(), args=["--no-sandbox"]
                )
                page = browser.new_page(viewport=SIZE)
                for name in SHOWN:
                    take(page, address, name, day=day)
                browser.close()
        finally:
            server.terminate()
    return 0


if __name__ == "__main__":
    sys.exit(main())
