"""What batches and flushes carry along their ways, put down as arrays, each map kept once."""

import numpy as np

from bedstone.mill.residue_chain import BatchMap, batch_map
from bedstone.planning.compiled.tables import Floats, Ints
from bedstone.planning.evaluate import Evaluator
from bedstone.planning.jobs import Job, Option

__all__ = ["Charts"]


class Charts:
    """Maps of batches and routes of flushes, each kept once."""

    def __init__(self, evaluator: Evaluator) -> None:
        self.evaluator = evaluator
        self.maps: dict[int, tuple[int, BatchMap]] = {}
        self.order: list[BatchMap] = []
        self.paths: list[tuple[BatchMap, int]] = []
        self.route_number: dict[tuple[str, ...], int] = {}
        self.rows: dict[tuple[tuple[float, ...], tuple[float, ...], float], int] = {}
        self.route_rows: list[tuple[int, int, int]] = []

    def chart(self, job: Job, option: Option, path: tuple[str, ...]) -> int:
        """Number of the map of one batch of a run."""
        way = self.evaluator.residue.way(path)
        one = batch_map(
            way.hold_ups_kg,
            way.exchanges_frac,
            mass_kg=option.masses_kg[0],
            sack_kg=job.sack_kg,
        )
        number, _ = self.maps.setdefault(id(one), (len(self.order), one))
        if number == len(self.order):
            self.order.append(one)
        self.paths.append((one, option.cut.batches))
        return number

    def route(self, option: Option, route: tuple[str, ...]) -> int:
        """Number of a route of flushes."""
        number = self.route_number.get(route)
        if number is None:
            way = self.evaluator.residue.way(route)
            step_kg = self.evaluator.between.flush_steps(option.mixer)[0]
            key = (way.hold_ups_kg, way.exchanges_frac, step_kg)
            row = self.rows.setdefault(key, len(self.rows))
            number = self.route_number[route] = len(self.route_rows)
            self.route_rows.append((len(route), len(way.places), row))
        return number

    def runs(self, wide: int) -> dict[str, Ints | Floats]:
        """Of each path: the map of the whole run, and the most that a portion has of a place."""
        run_after = np.zeros((len(self.paths), wide, wide))
        worst = np.zeros((len(self.paths), wide))
        kept: dict[tuple[int, int], tuple[Floats, Floats]] = {}
        for number, (one, batches) in enumerate(self.paths):
            found = kept.get((id(one), batches))
            if found is None:
                found = kept[id(one), batches] = _whole_run(one, batches)
            after, most = found
            run_after[number, : after.shape[0], : after.shape[1]] = after
            worst[number, : len(most)] = most
        return {"RUN_AFTER": run_after, "WORST": worst}

    def ones(self, wide: int) -> dict[str, Ints | Floats]:
        """Of each map: what one batch leaves, and its portions."""
        one_after = np.zeros((max(1, len(self.order)), wide, wide))
        sack_i = np.zeros((max(1, len(self.order)), 2), dtype=np.int64)
        sacks = np.zeros((sum(len(one.sacks) for one in self.order), wide))
        first = 0
        for number, one in enumerate(self.order):
            one_after[number, : one.after.shape[0], : one.after.shape[1]] = one.after
            sack_i[number] = first, len(one.sacks)
            sacks[first : first + len(one.sacks), : one.sacks.shape[1]] = one.sacks
            first += len(one.sacks)
        return {"ONE_AFTER": one_after, "SACK": sacks, "SACK_ROWS": sack_i}

    def routes(self, wide: int) -> dict[str, Ints | Floats]:
        """Routes of flushes, with the hold-ups and exchanges along them."""
        route_i = np.array(self.route_rows, dtype=np.int64).reshape(-1, 3)
        hold_kg = np.zeros((max(1, len(self.rows)), wide))
        exchange = np.zeros((max(1, len(self.rows)), wide))
        for (holds, exchanges, _), row in self.rows.items():
            hold_kg[row, : len(holds)] = holds
            exchange[row, : len(exchanges)] = exchanges
        return {"ROUTE": route_i, "ROUTE_HOLD_KG": hold_kg, "ROUTE_EXCHANGE": exchange}


def _whole_run(one: BatchMap, batches: int) -> tuple[Floats, Floats]:
    """The state after equal batches in a row, and the most that any portion has of each place."""
    size = len(one.after)
    so_far = np.eye(size + 1)
    worst = np.zeros(size)
    for _ in range(batches):
        worst = np.maximum(worst, (one.sacks @ so_far)[:, :size].max(axis=0))
        so_far[:size] = one.after @ so_far
    return so_far[:size].copy(), worst
