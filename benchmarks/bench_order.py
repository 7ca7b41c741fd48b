"""How fast the order-of-running core finds and proves the published optima of TSPLIB.

    .venv/bin/python benchmarks/bench_order.py [--folder DIR] [--times 3]

DIR holds the asymmetric instances of TSPLIB (G. Reinelt, TSPLIB: a traveling salesman problem
library, ORSA Journal on Computing 3, 1991) as NAME.atsp; without it the folder shared/data/tsplib
beside the project is read. The optima are those that the library publishes. A second table says how
long it takes to explain that forbidden pairs leave no order. The compiled part is called once before
the clock starts; how long compiling took the first time is said.
"""

import argparse
import platform
import statistics
import time
from pathlib import Path

import numpy as np

from bedstone.errors import NoAnswer
from bedstone.planning.running_order import best_order

OPTIMA = {
    "br17": 39, "ftv33": 1286, "ftv35": 1473, "ftv38": 1530, "ry48p": 14422, "ft53": 6905,
    "ftv64": 1839, "ft70": 38673, "ftv70": 1950, "kro124p": 36230,
}  # fmt: skip
BESIDE = Path(__file__).parents[1].parent / "shared" / "data" / "tsplib"


def read(path: Path) -> np.ndarray:
    """The matrix of an instance."""
    _, body = path.read_text(encoding="ascii").split("EDGE_WEIGHT_SECTION")
    numbers = np.array([int(word) for word in body.replace("EOF", "").split()])
    side = round(len(numbers) ** 0.5)
    return numbers.reshape(side, side)


def report(folder: Path, times: int) -> None:
    """One line for each instance."""
    for name, optimum in OPTIMA.items():
        path = folder / f"{name}.atsp"
        if not path.is_file():
            print(f"{name}: {path} is not there")
            continue
        costs = read(path)
        took, found = [], []
        for seed in range(times):
            begin = time.perf_counter()
            found.append(best_order(costs, is_closed=True, seed=seed))
            took.append(time.perf_counter() - begin)
        print(
            f"{name}: {len(costs)} nodes, published {optimum}, found "
            f"{sorted({row.cost for row in found})}, bound {sorted({row.bound for row in found})}, "
            f"proved {sum(row.is_optimal for row in found)} of {times}, "
            f"{statistics.median(took):.2f} s (worst {max(took):.2f} s)"
        )


def clashes() -> None:
    """How long it takes to say why there is no order."""
    for count in (40, 71, 150):
        classes = np.arange(count) % 6
        joined = (classes[:, None] == classes) | (np.arange(count) < 3)
        few = np.random.default_rng(count).random((count, count)) < 2.5 / count
        for what, allowed in (("six classes, three items join them", joined), ("few pairs", few)):
            forbidden = [(int(one), int(other)) for one, other in np.argwhere(~allowed)]
            begin = time.perf_counter()
            try:
                best_order(np.ones((count, count)), forbidden=forbidden)
                said = "there is an order"
            except NoAnswer as error:
                said = error.what
            print(f"{count} items, {what}: {time.perf_counter() - begin:.2f} s: {said[:100]}")


def main() -> None:
    """Say the machine and the figures."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--folder", type=Path, default=BESIDE)
    reader.add_argument("--times", type=int, default=3)
    asked = reader.parse_args()
    print(f"{platform.machine()}, {platform.python_implementation()} {platform.python_version()}")
    begin = time.perf_counter()
    best_order(np.random.default_rng(0).random((9, 9)))
    print(f"first call, with loading and compiling: {time.perf_counter() - begin:.1f} s")
    report(asked.folder, asked.times)
    clashes()


if __name__ == "__main__":
    main()
