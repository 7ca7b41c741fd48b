"""Why forbidden pairs leave no order of running, in words."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from bedstone.planning.order_program import Program, Row

__all__ = ["clash_of_pairs", "clash_text"]

SECONDS_ALL = 1.5
NAMED_MOST = 12


def clash_text(rows: Sequence[Row], names: tuple[str, ...]) -> str:
    """What an irreducible set of rows says of the items.

    Where there is a node more than names, node 0 is the start and the end of the day.
    """
    labels = _labels(rows[0].items if rows else np.zeros(0, dtype=bool), names)
    leaving = [_named(row.items, labels) for row in rows if row.kind != "entered"]
    entered = [_named(row.items, labels) for row in rows if row.kind == "entered"]
    has_groups = any(row.kind == "group" for row in rows)
    if len(leaving) > len(entered):
        if not entered:
            if has_groups:
                return f"No allowed pair leads from {leaving[0]} to anything else."
            return f"Nothing may follow {leaving[0]}."
        return (
            f"Each of these must be followed by something else: {'; '.join(leaving)}. Only these "
            f"may: {'; '.join(entered)}. That is {len(leaving)} for {_places(entered)}."
        )
    if not leaving:
        return f"{entered[0]} may follow nothing, and may not be first."
    if has_groups or len(leaving) == len(entered):
        return (
            f"These cannot all be left: {'; '.join(leaving)}, and each of these be run once: "
            f"{'; '.join(entered)}."
        )
    return (
        f"Each of these must follow something: {'; '.join(entered)}. They may follow only these: "
        f"{'; '.join(leaving)}. That is {len(entered)} for {_places(leaving)}."
    )


def clash_of_pairs(
    costs: NDArray[np.float64], allowed: NDArray[np.bool_], *, names: tuple[str, ...]
) -> str:
    """Items whose rules of what may not follow them leave no order together, as few as can be."""
    labels = _labels(allowed[0], names)
    free = allowed.copy()
    kept: list[int] = []
    for item in range(len(allowed)):
        tried = free.copy()
        tried[item] = True
        program = Program(costs, tried, SECONDS_ALL / len(allowed))
        program.bound()
        if not program.is_infeasible:
            found, reached = program.cheapest()
            if found is not None or reached is not None:
                kept.append(item)
                continue
        free = tried
    listed = "; ".join(labels[item] for item in kept[:NAMED_MOST])
    more = f" and {len(kept) - NAMED_MOST} more" if len(kept) > NAMED_MOST else ""
    return f"No order keeps what may not follow each of these: {listed}{more}."


def _places(which: list[str]) -> str:
    return "1 place" if len(which) == 1 else f"{len(which)} places"


def _labels(items: NDArray[np.bool_], names: tuple[str, ...]) -> tuple[str, ...]:
    return names if len(items) == len(names) else ("the start or end of the day", *names)


def _named(items: NDArray[np.bool_], labels: tuple[str, ...]) -> str:
    return ", ".join(labels[at] for at in np.flatnonzero(items))
