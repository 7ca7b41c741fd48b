"""What each machine ran last, and the die in each pellet line."""

from collections.abc import Iterable, Mapping

from bedstone.desk.folding import folded
from bedstone.desk.made import BATCH_MADE
from bedstone.desk.record import Record
from bedstone.desk.runs import RUN_PACKED, RUN_PELLETED
from bedstone.ledger.model import Recorded
from bedstone.mill.model import Mill

__all__ = ["dies_in", "last_on_machines"]

Last = Mapping[str, tuple[str, str]]


def _note(before: Last, facts: Iterable[Recorded]) -> Last:
    found = dict(before)
    for item in facts:
        content, when = item.fact.content, item.fact.happened_at.isoformat()
        made = item.fact.kind == BATCH_MADE
        machine = str(content["mixer" if made else "machine"])
        material = str(content["material" if made else "product"])
        if found.get(machine, ("", ""))[0] <= when:
            found[machine] = (when, material)
    return found


def last_on_machines(record: Record) -> dict[str, str]:
    """The material that each machine ran last; machines of which nothing is known are left out."""
    kinds = (BATCH_MADE, RUN_PELLETED, RUN_PACKED)
    nothing: Last = {}
    last = folded(record, "last run", kinds=kinds, start=nothing, fold=_note)
    return {machine: material for machine, (_, material) in last.items()}


def dies_in(mill: Mill, last: Mapping[str, str]) -> dict[str, str]:
    """The die in each pellet line: that of the product it ran last."""
    return {
        row.machine: mill.product_by_code[last[row.machine]].die
        for row in mill.machines
        if row.kind == "pellet line" and last.get(row.machine) in mill.product_by_code
    }
