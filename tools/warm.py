"""Compiles what is compiled, once on a machine: plans and cools a demo mill that is thrown away.

Whoever plans first, or opens a page of the pellet line, would else wait for it.
"""

import subprocess
import sys
import tempfile
from pathlib import Path


def main() -> int:
    """Run the commands that call every compiled loop; what they print is not shown."""
    bedstone = str(Path(sys.executable).with_name("bedstone"))
    with tempfile.TemporaryDirectory() as folder:
        mill = str(Path(folder) / "mill")
        for order in (["demo", mill], ["plan", mill, "--no-papers"], ["cooling", mill]):
            done = subprocess.run([bedstone, *order], capture_output=True, text=True, check=False)
            if done.returncode:
                print(done.stdout + done.stderr, file=sys.stderr)
                return done.returncode
    return 0


if __name__ == "__main__":
    sys.exit(main())
