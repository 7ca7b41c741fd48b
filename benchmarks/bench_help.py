"""How long ``bedstone --help`` takes, a fresh process each time. Goal: under 0.4 s."""

import platform
import statistics
import subprocess
import sys
import time
from pathlib import Path

GOAL_S = 0.4
TIMES = 15


def main() -> int:
    """Print the figures; exit with 1 if the median misses the goal."""
    command = [str(Path(sys.executable).with_name("bedstone")), "--help"]
    taken_s = []
    for _ in range(TIMES + 1):
        began = time.perf_counter()
        subprocess.run(command, check=True, capture_output=True)
        taken_s.append(time.perf_counter() - began)
    first, *warm = taken_s
    median = statistics.median(warm)
    print(f"bedstone --help on {platform.machine()}, Python {platform.python_version()}:")
    print(
        f"  first {first:.3f} s, then median {median:.3f} s, slowest {max(warm):.3f} s of {TIMES}"
    )
    print(f"  goal {GOAL_S} s: {'met' if median < GOAL_S else 'MISSED'}")
    return 0 if median < GOAL_S else 1


if __name__ == "__main__":
    sys.exit(main())
