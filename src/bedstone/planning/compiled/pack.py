"""The tables of a day put into six rows of numbers, with room for the days and for the work."""

import itertools
from typing import NamedTuple

import numpy as np

from bedstone.planning.compiled import tables as at
from bedstone.planning.compiled.encode import Encoded, Filled
from bedstone.planning.compiled.tables import TABLES, Floats, Ints

__all__ = ["NUMBERS", "Packed", "pack"]

SLOTS_KEPT = 4000
ENTRIES_SPARE = 64
FLUSH_BATCHES_MOST = 3
NUMBERS = {name: number for number, name in enumerate(itertools.chain(*TABLES.values()))}
"""Number of each table."""


class Packed(NamedTuple):
    """The six rows; of the days one for each position, and one to walk in."""

    ti: Ints
    tf: Floats
    days_i: Ints  # (runs + 2, ...)
    days_f: Floats
    wi: Ints
    wf: Floats


def pack(day: Encoded, *, seed: int) -> Packed:
    """Everything that the compiled evaluator needs of a day; the order of running is empty."""
    given, opening, runs = day.tables(), _opening(day), len(day.jobs)
    sizes = np.zeros(14, dtype=np.int64)
    whole = {**given, **opening, **_room(day, given, opening, seed=seed), "SIZE": sizes}
    _measure(day, whole, sizes)
    head = np.zeros(2 * len(NUMBERS), dtype=np.int64)
    for row, names in TABLES.items():
        first = len(head) if row == "ti" else 0
        for name in names:
            table = whole[name]
            head[2 * NUMBERS[name]] = first
            head[2 * NUMBERS[name] + 1] = table.size // max(1, len(table))
            first += table.size
    return Packed(
        np.concatenate([head, _wholes(whole, "ti")]),
        _parts(whole, "tf"),
        np.repeat(_wholes(whole, "si")[None], runs + 2, axis=0),
        np.repeat(_parts(whole, "sf")[None], runs + 2, axis=0),
        _wholes(whole, "wi"),
        _parts(whole, "wf"),
    )


def _wholes(whole: dict[str, Filled], row: str) -> Ints:
    return np.concatenate([whole[name].ravel() for name in TABLES[row]], dtype=np.int64)


def _parts(whole: dict[str, Filled], row: str) -> Floats:
    return np.concatenate([whole[name].ravel() for name in TABLES[row]], dtype=np.float64)


def _measure(day: Encoded, whole: dict[str, Filled], sizes: Ints) -> None:
    """The sizes that functions ask for."""

    def size(*names: str) -> int:
        return sum(whole[name].size for name in names)

    sizes[at.SUBSTANCES] = whole["HELD"].shape[1]
    sizes[at.KEYS] = len(day.keys)
    sizes[at.WATCHED] = day.watched
    sizes[at.ENTRIES] = whole["SUP_KG"].shape[1]
    sizes[at.FLUSH_ROW] = len(whole["OWN"]) - 1
    sizes[at.FLUSH_LINE] = whole["LINE_OF"].shape[1] - 1
    sizes[at.SLOTS_KEPT] = len(whole["SLOTS"])
    sizes[at.SLOT_COUNT] = size("SLOT")
    sizes[at.WIDE] = whole["WORST"].shape[1]
    sizes[at.KEEP_I] = size("NODE_NOW", "KEY_NOW")
    sizes[at.KEEP_F] = size("STAYS", "SUMS")
    sizes[at.BASE_I] = size("NODE_NOW", "KEY_NOW", "FLAGS")
    sizes[at.BASE_F] = size("STAYS", "SUMS", "HELD", "PASSED", "COST")
    sizes[at.SUM_COUNT] = size("SUMS")


def _opening(day: Encoded) -> dict[str, Filled]:
    """The day before anything runs."""
    state, residue = day.evaluator.opening.state, day.evaluator.opening.residue
    node_now = np.full((len(day.nodes), 4), at.ABSENT, dtype=np.int64)
    stays = np.zeros(len(day.nodes))
    for code, number in day.nodes.items():
        last, die = state.last.get(code, ""), state.dies.get(code, "")
        node_now[number, at.FREE_S] = state.free_s.get(code, 0)
        if last:
            node_now[number, at.LAST] = day.materials.get(last, len(day.materials))
        if die:
            node_now[number, at.DIE_IN] = day.dies.get(die, len(day.dies))
        if code in state.lying:
            product, stays[number] = state.lying[code]
            node_now[number, at.LYING] = day.materials.get(product, at.MIXED)
    sums = np.zeros(len(day.keys) + len(day.sources) + 2)
    for source, number in day.sources.items():
        sums[len(day.keys) + number] = state.grain_kg.get(source, 0.0)
    sums[-2:] = state.flushed_kg, state.flush_room_kg
    flags = residue.known.astype(np.int64) + 2 * residue.ever.astype(np.int64)
    return {
        "NODE_NOW": node_now,
        "STAYS": stays,
        "SUMS": sums,
        "FLAGS": flags,
        "HELD": residue.held_mg_kg,
        "PASSED": residue.passed_kg,
        "COST": np.zeros(6),
        **_supplies(day),
    }


def _supplies(day: Encoded) -> dict[str, Filled]:
    """What there is of watched shelves, and room for what comes and is drawn."""
    state = day.evaluator.opening.state
    batches = sum(max(option.cut.batches for option in job.options) for job in day.jobs)
    entries = batches + FLUSH_BATCHES_MOST * len(day.jobs) + ENTRIES_SPARE
    shape = (max(1, day.watched), entries)
    sup_kg, sup_at = np.zeros(shape), np.zeros(shape, dtype=np.int64)
    key_now = np.zeros((len(day.keys), 2), dtype=np.int64)
    for key, number in day.keys.items():
        found = state.supply.get(key, ()) if number < day.watched else ()
        key_now[number, at.SUPPLIES] = len(found)
        for entry, (mass_kg, at_s) in enumerate(found):
            sup_kg[number, entry], sup_at[number, entry] = mass_kg, at_s
    return {
        "KEY_NOW": key_now,
        "SUP_KG": sup_kg,
        "SUP_AT": sup_at,
        "LOG_KG": np.zeros(shape),
        "LOG_AT": np.zeros(shape, dtype=np.int64),
    }


def _room(
    day: Encoded, given: dict[str, Filled], opening: dict[str, Filled], *, seed: int
) -> dict[str, Filled]:
    """Room to work in, and the orders of running."""
    batches = max([1, *(option.cut.batches for _, option in day.options)]) + FLUSH_BATCHES_MOST
    paths = max([1, *(len(option.paths) for _, option in day.options)])
    nodes, wide, runs = given["PATH_NODES"].shape[1], given["WORST"].shape[1], len(day.jobs)
    places, substances = opening["HELD"].shape
    whole, part = np.int64, np.float64
    slots = np.full((len(given["ROUTE_HOLD_KG"]), len(given["TOLERANCE"])), -1, dtype=whole)
    return {
        "INSIDE_AT": np.zeros((nodes, batches), dtype=whole),
        "INSIDE_KG": np.zeros((nodes, batches), dtype=part),
        "INSIDE_N": np.zeros(nodes, dtype=whole),
        "READY": np.zeros(nodes, dtype=whole),
        "KEPT_I": np.zeros(opening["NODE_NOW"].size + opening["KEY_NOW"].size, dtype=whole),
        "KEPT_F": np.zeros(opening["STAYS"].size + opening["SUMS"].size, dtype=part),
        "ALONG": np.zeros((wide, substances), dtype=part),
        "LEVEL": np.zeros((2, wide), dtype=part),
        "LOWEST": np.zeros((2, substances), dtype=part),
        "BROKEN": np.zeros(substances, dtype=whole),
        "DIRTY": np.zeros(max(1, places), dtype=whole),
        "SCORE": np.zeros((paths, 3), dtype=part),
        "NOTED": np.zeros(8, dtype=whole),
        "NOTED_KG": np.zeros(2, dtype=part),
        "SLOT": slots,
        "SLOTS": np.zeros((min(SLOTS_KEPT, max(1, slots.size)), wide, wide), dtype=part),
        "GUESS": np.zeros((len(day.paths), given["PATH_ROUTES"].shape[1]), dtype=whole),
        "POWER": np.zeros((4, wide, wide), dtype=part),
        "ORDER": np.zeros((3, runs), dtype=whole),
        "WHICH": np.zeros((3, runs), dtype=whole),
        "COUNT": np.zeros(3, dtype=whole),
        "CHANCE": np.array([2 * seed + 1], dtype=whole),
        "SEARCH_COST": np.array([0.0, np.inf]),
    }
