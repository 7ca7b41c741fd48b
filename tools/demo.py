"""The demo: a made-up mill, the plan of its day with papers, and its pages. Run by ``make demo``."""

import argparse
import json
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

BEDSTONE = os.path.relpath(Path(sys.executable).with_name("bedstone"))


def main() -> int:
    """Make the mill, plan its day, serve its pages; say where to look."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("directory", type=Path)
    parser.add_argument("--seed", default="1")
    parser.add_argument("--port", default="8800")
    parser.add_argument("--serve", choices=("yes", "no"), default="yes")
    said = parser.parse_args()
    began = time.monotonic()
    if not free(said.directory):
        return 1
    print(f"Making Quillback Mill, all of it invented, in {said.directory} ...", flush=True)
    made = subprocess.run(
        [BEDSTONE, "demo", str(said.directory), "--seed", said.seed, "--json"],
        stdout=subprocess.PIPE,
        text=True,
        check=False,
    )
    if made.returncode:
        print(made.stdout)
        return made.returncode
    mill = json.loads(made.stdout)
    took_s = time.monotonic() - began
    print(
        f"{mill['facts']} facts recorded in {took_s:.0f} s. Planning {mill['day']} ...\n",
        flush=True,
    )
    planned = subprocess.run(
        [BEDSTONE, "plan", str(said.directory), "--day", mill["day"]], check=False
    )
    if planned.returncode:
        return planned.returncode
    pins = ", ".join(f"{person} {pin}" for person, pin in mill["pins"].items())
    print(f"\nTo sign in on the pages (invented people and PINs): {pins}")
    serve = [BEDSTONE, "serve", str(said.directory), "--port", said.port]
    if said.serve == "yes":
        sys.stdout.flush()
        os.execv(BEDSTONE, serve)  # noqa: S606 - the server takes over, so that Ctrl+C reaches it
    print(f"To look at the pages: {' '.join(serve)}")
    return 0


def free(directory: Path) -> bool:
    """True once the folder may be written: an older demo mill is removed, anything else is not."""
    if not directory.exists():
        return True
    if not (directory / "mill.toml").is_file():
        print(
            f"{directory} is there already and is no mill folder; name another: make demo DEMO=...",
            file=sys.stderr,
        )
        return False
    if "Quillback Mill" not in (directory / "mill.toml").read_text(encoding="utf-8"):
        print(
            f"{directory} holds another mill and is left alone; name another: make demo DEMO=...",
            file=sys.stderr,
        )
        return False
    print(f"Replacing the demo mill in {directory} ...")
    shutil.rmtree(directory)
    return True


if __name__ == "__main__":
    sys.exit(main())
