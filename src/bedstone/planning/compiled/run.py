"""The one compiled door: it is kept on disk, so that it is compiled once and then only read.

Numba looks at the file of a compiled function to tell whether what it kept is still right, not at
the files of what that calls. So only this one is kept, and what all the others are made of is part
of it as a number: when one of them changes, this one is compiled again.
"""

import hashlib
from collections.abc import Callable, Iterator
from types import ModuleType

import numpy as np

from bedstone.planning.compiled import (
    lines,
    machines,
    moves,
    residue,
    step,
    tables,
    timetable,
    treatment,
)
from bedstone.planning.compiled.moves import anneal, insert, settle
from bedstone.planning.compiled.tables import Floats, Ints
from bedstone.quantities.compiling import compiled_and_kept

__all__ = ["ANNEAL", "INSERT", "SETTLE", "run"]

SETTLE = 0
INSERT = 1
ANNEAL = 2
PARTS = (lines, machines, moves, residue, step, tables, timetable, treatment)


def _made_of(module: ModuleType) -> Iterator[str]:
    """What a module's own compiled functions, its numbers and its arrays are, as text: the same in each process.

    What others wrote is left out: constants of theirs name places in memory.
    """
    for name, value in sorted(vars(module).items()):
        code = getattr(getattr(value, "py_func", value), "__code__", None)
        if code is not None:
            if value.__module__.startswith(__package__):
                yield f"{name} {code.co_code.hex()} {code.co_consts!r} {code.co_names!r}"
        elif isinstance(value, int | float):
            yield f"{name} {value!r}"
        elif isinstance(value, np.ndarray):
            yield f"{name} {value.tolist()!r}"


def _stamp() -> int:
    text = "\n".join(line for module in PARTS for line in _made_of(module))
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:7], "big")


def _door(stamp: int) -> Callable[..., float]:
    def door(
        ti: Ints,
        tf: Floats,
        days_i: Ints,
        days_f: Floats,
        wi: Ints,
        wf: Floats,
        what: int,
        number: int,
        hot: float,
        cold: float,
    ) -> float:
        if stamp < 0:
            return 0.0
        if what == SETTLE:
            return settle(ti, tf, days_i, days_f, wi, wf, number)
        if what == INSERT:
            return insert(ti, tf, days_i, days_f, wi, wf, number)
        return anneal(ti, tf, days_i, days_f, wi, wf, number, hot, cold)

    return compiled_and_kept(door, error_model="numpy", _nrt=False)


run = _door(_stamp())
