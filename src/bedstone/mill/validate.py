"""Rules across the tables of a mill: keys, references, machines, ways, recipes, limits, orders.

Pure, on values. Every fault is returned, none stops the search for others. A rule that comes upon
a cell which could not be understood is left off for that row (see :mod:`bedstone.mill.damage`),
and a rule is left off whole where a table it stands on could not be read, since that has been
said already.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from bedstone.errors import Fault
from bedstone.mill.damage import TouchesDamage
from bedstone.mill.equipment import Settings
from bedstone.mill.validate_formulation import formulation_rules
from bedstone.mill.validate_goods import goods_rules
from bedstone.mill.validate_instruments import instrument_rules
from bedstone.mill.validate_keys import key_rules
from bedstone.mill.validate_machines import machine_rules
from bedstone.mill.validate_orders import order_rules
from bedstone.mill.validate_pellets import pellet_rules
from bedstone.mill.validate_places import Check, Places
from bedstone.mill.validate_receiving import receiving_rules
from bedstone.mill.validate_recipes import recipe_rules
from bedstone.mill.validate_storage import storage_rules
from bedstone.mill.validate_ways import way_rules

__all__ = ["Places", "check_folder"]

Rules = Callable[[Check], Iterator[Iterator[Fault]]]
ALL_RULES: tuple[Rules, ...] = (
    key_rules,
    machine_rules,
    way_rules,
    goods_rules,
    recipe_rules,
    formulation_rules,
    pellet_rules,
    receiving_rules,
    storage_rules,
    instrument_rules,
    order_rules,
)


def check_folder(
    rows: Mapping[str, tuple[Any, ...]], settings: Settings | None, *, places: Places
) -> tuple[Fault, ...]:
    """Return every fault that only shows when tables are held against each other."""
    check = Check(tables=rows, settings=settings, places=places)
    faults: list[Fault] = []
    for rules in ALL_RULES:
        for rule in rules(check):
            try:
                faults.extend(_as_they_come(rule, faults))
            except TouchesDamage:
                continue  # the cell's own fault has been said
    return tuple(faults)


def _as_they_come(rule: Iterator[Fault], faults: list[Fault]) -> Iterator[Fault]:
    """Yield the faults of a rule, each once, keeping those found before damage is touched."""
    for fault in rule:
        if fault not in faults:
            yield fault
