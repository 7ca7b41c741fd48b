"""Compiles what is compiled, once on a machine: plans and cools a demo mill that is thrown away.

Whoever plans first, or opens a page of the pellet line, would else wait for it.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from bedstone.formulation.joint_arrays import ProductArrays
from bedstone.formulation.joint_solver import WarmProduct


def main() -> int:
    """Run the commands that call every compiled loop; what they print is not shown."""
    ask_one_product()
    bedstone = str(Path(sys.executable).with_name("bedstone"))
    with tempfile.TemporaryDirectory() as folder:
        mill = str(Path(folder) / "mill")
        for order in (["demo", mill], ["plan", mill, "--no-papers"], ["cooling", mill]):
            done = subprocess.run([bedstone, *order], capture_output=True, text=True, check=False)
            if done.returncode:
                print(done.stdout + done.stderr, file=sys.stderr)
                return done.returncode
    return 0


def ask_one_product() -> None:
    """Ask a product of two ingredients as one of many in a week is asked."""
    one, none = np.ones(2), np.zeros(2)
    product = WarmProduct(
        ProductArrays(
            mass_t=1.0,
            matrix=np.ones((1, 2)),
            row_lower=np.ones(1),
            row_upper=np.ones(1),
            lower=none,
            upper=one,
            own_usd_t=one,
            material=np.full(2, -1),
        ),
        quick=True,
    )
    for costs in (one, np.array([2.0, 1.0])):
        product.cheapest(costs)


if __name__ == "__main__":
    sys.exit(main())
