"""A good plan of the small mill, and ways to change it by hand in one place."""

import dataclasses
import datetime as dt
from collections.abc import Callable
from typing import Any

from bedstone.mill.plan import Plan, Run
from bedstone.planning.model import DayProblem
from bedstone.planning.verify_known import Known
from fakes.planning_mill import planning_mill, problem, stock, wanted

__all__ = [
    "ASKED",
    "CAUTION",
    "DAY",
    "HOUR",
    "KNOWN",
    "MINUTE",
    "Change",
    "batch",
    "edit",
    "named",
    "run",
    "whole",
]

CAUTION = "Toxic to horses."
MINUTE = dt.timedelta(minutes=1)
HOUR = dt.timedelta(hours=1)
DAY = dt.timedelta(days=1)
Change = Callable[[Plan], Plan]


def asked() -> DayProblem:
    """A day with a flush, a clean-out, a change of die, grinding, stock, bags, bulk and a drug."""
    mill = planning_mill()
    rows = tuple(
        dataclasses.replace(row, caution=CAUTION) if row.ingredient == "PX-MON" else row
        for row in mill.ingredients
    )
    return problem(
        wanted("1", "PIG-CU", 3000),
        wanted("2", "SHEEP", 2000),
        wanted("3", "HORSE-TX", 1500),
        wanted("4", "LAYER", 6000, pack="bulk"),
        wanted("5", "BEEF-M", 4000),
        mill=dataclasses.replace(mill, ingredients=rows),
        starting=(),
        stock_mg=stock(G1=3000.0, G2=1000.0),
    )


ASKED = asked()
KNOWN = Known(
    orders={row.order.order: row for row in ASKED.orders},
    lots={"L-1"},
    last={"MX2": "HORSE-CF"},
    now=ASKED.now,
)


def edit(rows: tuple[Any, ...], key: str, name: str, **changed: object) -> tuple[Any, ...]:
    """Rows with one of them, named by its key, changed."""
    assert any(getattr(row, key) == name for row in rows)
    return tuple(
        dataclasses.replace(row, **changed) if getattr(row, key) == name else row for row in rows
    )


def batch(name: str, **changed: object) -> Change:
    """Change one batch."""
    return lambda plan: dataclasses.replace(
        plan, batches=edit(plan.batches, "batch", name, **changed)
    )


def run(name: str, **changed: object) -> Change:
    """Change one run."""
    return lambda plan: dataclasses.replace(plan, runs=edit(plan.runs, "run", name, **changed))


def whole(**changed: object) -> Change:
    """Change the plan itself."""
    return lambda plan: dataclasses.replace(plan, **changed)


def named(rows: tuple[Run, ...], name: str) -> Run:
    """The run of a name."""
    return next(row for row in rows if row.run == name)
