"""What is looked at on a page in a browser: what axe says, what is cut, what is too small to touch."""

from pathlib import Path

from playwright.sync_api import Page

__all__ = ["CUT", "SMALL", "UPRIGHT", "violations"]

AXE = Path(__file__).parents[1] / "browser" / "vendor" / "axe-core" / "axe.min.js"
UPRIGHT = {"width": 800, "height": 1200}
CUT = """[...document.querySelectorAll('.wide, .picture')]
    .filter(one => one.scrollWidth > one.clientWidth + 1).map(one => one.ariaLabel || one.className)"""
SMALL = """[...document.querySelectorAll('main input:not([type=checkbox]), main label:has(+ input[type=checkbox]), main input[type=checkbox] + label, main label:has(> input[type=checkbox]), main select, main button, main .button')]
    .filter(one => one.offsetParent && one.offsetHeight < 44).map(one => one.outerHTML)"""


def violations(page: Page) -> list[str]:
    """What axe says is wrong on a page, each with the piece of HTML it means."""
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate("async () => (await axe.run(document)).violations")
    return [
        f"{one['id']}: {one['help']}: {node['html'][:160]} {node.get('failureSummary', '')[:200]}"
        for one in found
        for node in one["nodes"]
    ]
