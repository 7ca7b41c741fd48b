"""Copies the vendored page script and the accessibility checker out of their npm packages.

Run from the root of the repository: ``python tools/vendor_assets.py``. The versions are those of
``package-lock.json``; npm checks their hashes. Bedstone itself needs neither npm nor a network.
"""

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
COPIES = {
    "htmx.org/dist/htmx.min.js": "src/bedstone/web/static/vendor/htmx/htmx.min.js",
    "htmx.org/LICENSE": "src/bedstone/web/static/vendor/htmx/LICENSE",
    "axe-core/axe.min.js": "tests/browser/vendor/axe-core/axe.min.js",
    "axe-core/LICENSE": "tests/browser/vendor/axe-core/LICENSE",
    "axe-core/LICENSE-3RD-PARTY.txt": "tests/browser/vendor/axe-core/LICENSE-3RD-PARTY.txt",
}


def main() -> int:
    """Install the locked packages in a folder of their own and copy what is kept."""
    npm = shutil.which("npm")
    if npm is None:
        sys.stderr.write("npm is not installed; it is needed only to vendor the assets again.\n")
        return 1
    with tempfile.TemporaryDirectory() as folder:
        for name in ("package.json", "package-lock.json"):
            shutil.copy(ROOT / name, folder)
        subprocess.run([npm, "ci", "--ignore-scripts"], cwd=folder, check=True)
        for source, target in COPIES.items():
            (ROOT / target).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(Path(folder) / "node_modules" / source, ROOT / target)
    return 0


if __name__ == "__main__":
    sys.exit(main())
