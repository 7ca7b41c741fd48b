"""The arrays of the compiled evaluator, and what stands where in them.

Everything is in six rows of numbers, so that hardly anything is handed from function to function:
``ti`` and ``tf`` hold what stays as it is, ``si`` and ``sf`` the day after some runs, ``wi`` and
``wf`` are room to work in. Each row holds tables, one after the other; ``ti`` begins with where
each table starts and how wide it is, and :func:`ix` finds an entry. The names of the tables are in
``TABLES``, with the row that they are in; those of their columns stand below it.

Nodes are machines and bins, materials products and ingredients, keys shelves; places are those of
the residue. A number below nothing means none. Times are whole seconds from midnight, masses kg,
contents mg/kg, money hundredths of a cent.
"""

from collections.abc import Callable
from typing import TypeVar

import numpy as np
from numba import njit
from numba.extending import register_jitable
from numpy.typing import NDArray

__all__ = ["TABLES", "compiled", "ix", "ix3"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

Function = TypeVar("Function", bound=Callable[..., object])

# nothing is allocated in what is compiled, so nothing need be counted: half as fast again without
compiled: Callable[[Function], Function] = njit(error_model="numpy", _nrt=False)  # type: ignore[call-overload]

OK, TIME, BIN, STOCK, BARRED = 0, -1, -2, -3, -4  # how a run comes out; below nothing: why not
ABSENT, MIXED = -1, -2  # what lies in a bin: nothing, or several things
NO_FLOOR_S = -1
NOT_NEGATIVE = 0x7FFFFFFFFFFFFFFF  # tells the compiler that an index needs no wrapping round

TABLES = {
    "ti": [
        "SIZE",
        "NODE",
        "WIN",
        "WIN_N",
        "LINE_OF",
        "LINE_SPAN",
        "LINE_N",
        "LIMITED",
        "LEVEL_COLUMN",
        "OTHER",
        "TOLERANCE",
        "PATH",
        "PATH_NODES",
        "PATH_PLACES",
        "PATH_ROUTES",
        "PATH_KEYS",
        "ROUTE",
        "SACK_ROWS",
        "KEY",
        "GROUND",
        "JOB",
        "OPTION",
        "NEED_KEY",
        "NOW_S",
    ],
    "tf": [
        "CAPACITY",
        "LINE_PACE",
        "LEVEL_MG_KG",
        "OTHER_KG",
        "OWN",
        "PLACE_CLEAN_S",
        "MONEY",
        "ROUTE_HOLD_KG",
        "ROUTE_EXCHANGE",
        "RUN_AFTER",
        "ONE_AFTER",
        "SACK",
        "WORST",
        "KEY_KG",
        "LYING_KG",
        "GROUND_F",
        "TONNES",
        "OPTION_KG",
        "NEED_PART",
    ],
    "si": ["NODE_NOW", "KEY_NOW", "FLAGS", "SUP_AT", "LOG_AT"],
    "sf": ["STAYS", "SUMS", "HELD", "PASSED", "COST", "SUP_KG", "LOG_KG"],
    "wi": [
        "INSIDE_AT",
        "INSIDE_N",
        "READY",
        "KEPT_I",
        "BROKEN",
        "DIRTY",
        "NOTED",
        "SLOT",
        "GUESS",
        "ORDER",
        "WHICH",
        "COUNT",
        "CHANCE",
    ],
    "wf": [
        "INSIDE_KG",
        "KEPT_F",
        "ALONG",
        "LEVEL",
        "LOWEST",
        "SCORE",
        "NOTED_KG",
        "SLOTS",
        "POWER",
        "SEARCH_COST",
    ],
}
(
    SIZE, NODE, WIN, WIN_N, LINE_OF, LINE_SPAN, LINE_N, LIMITED, LEVEL_COLUMN, OTHER, TOLERANCE, PATH,
    PATH_NODES, PATH_PLACES, PATH_ROUTES, PATH_KEYS, ROUTE, SACK_ROWS, KEY, GROUND, JOB, OPTION,
    NEED_KEY, NOW_S,
    CAPACITY, LINE_PACE, LEVEL_MG_KG, OTHER_KG, OWN, PLACE_CLEAN_S, MONEY, ROUTE_HOLD_KG,
    ROUTE_EXCHANGE, RUN_AFTER, ONE_AFTER, SACK, WORST, KEY_KG, LYING_KG, GROUND_F, TONNES, OPTION_KG,
    NEED_PART,
    NODE_NOW, KEY_NOW, FLAGS, SUP_AT, LOG_AT,
    STAYS, SUMS, HELD, PASSED, COST, SUP_KG, LOG_KG,
    INSIDE_AT, INSIDE_N, READY, KEPT_I, BROKEN, DIRTY, NOTED, SLOT, GUESS, ORDER, WHICH, COUNT, CHANCE,
    INSIDE_KG, KEPT_F, ALONG, LEVEL, LOWEST, SCORE, NOTED_KG, SLOTS, POWER, SEARCH_COST,
) = range(78)  # fmt: skip

# SIZE
(
    SUBSTANCES, KEYS, WATCHED, ENTRIES, FLUSH_ROW, FLUSH_LINE, SLOTS_KEPT, SLOT_COUNT, WIDE,
    KEEP_I, KEEP_F, BASE_I, BASE_F, SUM_COUNT,
) = range(14)  # fmt: skip
# NODE
IS_BIN, IS_FINISHED, IS_PELLET, CHANGEOVER_S, DIE_CHANGE_S, HOLDS = range(6)
# LIMITED
LEVELS, OTHERS = range(2)
# OTHER
COLUMN, KIND = range(2)
PROCEDURE, CLEAN_OUT, NEVER_MET = range(3)
# JOB
PRODUCT, RELEASE_S, DUE_S, IS_STOCK, DIE, FIRST_OPTION, OPTIONS = range(7)
# OPTION
(
    MIXER, BATCHES, PROC_S, DISCHARGE_S, FIRST_PATH, PATHS, WATCHED_NEEDS, NEEDS,
    FLUSH_KEY, FLUSH_WATCHED, FLUSH_PROC_S, FLUSH_S, FLUSH_LEAST, FLUSH_MOST,
) = range(14)  # fmt: skip
# OPTION_KG
BATCH_KG, SUM_KG, STEP_KG, FLUSH_LEFT_KG = range(4)
# PATH
NODES, PLACES, BARRED_FLUSH, ROUTES, MAP, ARRIVING = range(6)
# ROUTE
ROUTE_NODES, ROUTE_PLACES, ROUTE_ROW = range(3)
# SACK_ROWS
FIRST_SACK, SACKS = range(2)
# GROUND
GRINDER, SOURCE, MATERIAL = range(3)
# GROUND_F
CAPACITY_KG, LOSS_FRAC, RATE_KG_S = range(3)
# KEY
POOL, IS_WATCHED = range(2)
# MONEY
LABOUR_USD_H, FLUSH_USD_KG, LATE_USD_T_H = range(3)
# NODE_NOW
FREE_S, LAST, DIE_IN, LYING = range(4)
# KEY_NOW
SUPPLIES, DRAWS = range(2)
# COST
FLUSH, CHANGEOVER, CLEANING, LATE, TIE, MISSING = range(6)
# NOTED
CHANGED_S, CLEAN_COUNT, CLEAN_S, FLUSH_COUNT, FLUSH_ROUTE, READY_S, NEXT_SLOT, STEPS = range(8)
# NOTED_KG
FLUSH_EACH_KG, FLUSH_SUM_KG = range(2)


# how wide the rows of a table are that are as wide in every day: the compiler then knows it
FIXED = np.zeros(78, dtype=np.int64)
for _t, _w in (
    (NODE, 6),
    (NODE_NOW, 4),
    (JOB, 7),
    (OPTION, 14),
    (OPTION_KG, 4),
    (PATH, 6),
    (ROUTE, 3),
    (SACK_ROWS, 2),
    (KEY, 2),
    (KEY_NOW, 2),
    (GROUND, 3),
    (GROUND_F, 3),
    (LIMITED, 2),
    (SCORE, 3),
    (CAPACITY, 1),
    (LINE_N, 1),
    (WIN_N, 1),
    (TONNES, 1),
    (STAYS, 1),
    (SUMS, 1),
    (KEY_KG, 1),
    (LYING_KG, 1),
    (INSIDE_N, 1),
    (READY, 1),
    (NOTED, 1),
    (NOTED_KG, 1),
    (COST, 1),
    (MONEY, 1),
    (NOW_S, 1),
    (DIRTY, 1),
    (BROKEN, 1),
):
    FIXED[_t] = _w


@register_jitable
def ix(ti: Ints, table: int, row: int, column: int) -> int:
    """Where an entry of a table is in its array."""
    wide = FIXED[table]
    if wide == 0:
        wide = ti[2 * table + 1]
    return int(ti[2 * table] + row * wide + column) & NOT_NEGATIVE


@register_jitable
def ix3(ti: Ints, table: int, sheet: int, row: int, column: int) -> int:
    """Where an entry of a table of square sheets is in its array."""
    return int(ti[2 * table] + sheet * ti[2 * table + 1] + row * ti[ti[0] + WIDE] + column)
