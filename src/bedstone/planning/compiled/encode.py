"""A day as arrays: what the plain evaluator and its runs say, put down for the compiled one."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from bedstone.mill.tolerances import scale_tolerance_divisions
from bedstone.planning.compiled import tables as at
from bedstone.planning.compiled.charts import Charts
from bedstone.planning.compiled.tables import Floats, Ints
from bedstone.planning.evaluate import Evaluator
from bedstone.planning.grinding import is_watched
from bedstone.planning.jobs import Job, Option

__all__ = ["Encoded", "Filled"]

Filled = NDArray[np.int64] | NDArray[np.float64]

KINDS = {"procedure": at.PROCEDURE, "clean-out": at.CLEAN_OUT, "never": at.NEVER_MET}


class Encoded:
    """The tables of a day, and the numbers that stand for its things."""

    def __init__(self, evaluator: Evaluator, jobs: Sequence[Job]) -> None:
        """Number everything, then fill the tables."""
        self.evaluator, self.jobs = evaluator, tuple(jobs)
        mill, work = evaluator.floor.mill, evaluator.floor.work
        self.nodes = {
            code: number for number, code in enumerate((*mill.machine_by_code, *mill.bin_by_code))
        }
        self.materials = {
            code: number
            for number, code in enumerate((*mill.product_by_code, *mill.ingredient_by_code))
        }
        self.dies = {
            die: number for number, die in enumerate(sorted({row.die for row in mill.products}))
        }
        keys = [*work.lying_kg, *work.pools]
        for job in jobs:
            for option in job.options:
                keys.extend(evaluator.floor.keyed(job.parts, option.mixer))
                keys.extend(self.flush_parts(option))
        keys = list(dict.fromkeys(keys))
        keys.sort(key=lambda key: not is_watched(evaluator.floor, key))
        self.keys = {key: number for number, key in enumerate(keys)}
        self.watched = sum(is_watched(evaluator.floor, key) for key in keys)
        self.options = [(job, option) for job in jobs for option in job.options]
        self.paths = [
            (job, option, path) for job, option in self.options for path in sorted(option.paths)
        ]
        self.sources = {
            source: number
            for number, source in enumerate(sorted({pool.source for pool in work.pools.values()}))
        }

    def flush_parts(self, option: Option) -> dict[str, float]:
        """Of what a flush is, by shelf; of nothing where nothing flushes."""
        material = self.evaluator.between.flush_material
        return self.evaluator.floor.keyed({material: 1.0}, option.mixer) if material else {}

    def tables(self) -> dict[str, Filled]:
        """All that stays as it is, table by table."""
        return {
            **_floor(self), **_lines(self), **_limits(self), **_ways(self),
            **_shelves(self), **_work(self),
        }  # fmt: skip


def _floor(day: Encoded) -> dict[str, Filled]:
    floor, mill = day.evaluator.floor, day.evaluator.floor.mill
    node_i = np.zeros((len(day.nodes), 6), dtype=np.int64)
    node_f = np.zeros(len(day.nodes))
    node_i[:, at.HOLDS] = -1
    for code, machine in mill.machine_by_code.items():
        row = node_i[day.nodes[code]]
        row[at.IS_PELLET] = machine.kind == "pellet line"
        row[at.CHANGEOVER_S] = int(machine.changeover_s)
        row[at.DIE_CHANGE_S] = int(machine.die_change_s)
    for code, bin_ in mill.bin_by_code.items():
        row = node_i[day.nodes[code]]
        row[at.IS_BIN], row[at.IS_FINISHED] = 1, bin_.kind == "finished"
        row[at.HOLDS] = day.materials.get(bin_.holds, len(day.materials)) if bin_.holds else -1
        node_f[day.nodes[code]] = bin_.capacity_kg
    spans = [
        floor.windows(code).spans if code in mill.machine_by_code else () for code in day.nodes
    ]
    win, win_n = _ragged([np.array(row, dtype=np.int64).reshape(-1, 2) for row in spans])
    return {"NODE": node_i, "CAPACITY": node_f, "WIN": win.reshape(len(win), -1), "WIN_N": win_n}


def _lines(day: Encoded) -> dict[str, Filled]:
    """Which line each machine is for each product and for a flush; spans and paces of each."""
    floor = day.evaluator.floor
    products = len(floor.mill.product_by_code)
    line_of = np.zeros((len(day.nodes), products + 1), dtype=np.int64)
    lines: list[tuple[Ints, Floats]] = []
    wanted = {
        (code, product)
        for job, _, path in day.paths
        for code in path[1:]
        if not floor.is_bin(code)
        for product in (job.product.product, "")
    }
    for code, product in sorted(wanted):
        line = floor.line(code, product)
        line_of[day.nodes[code], day.materials[product] if product else products] = len(lines)
        span = np.array([line.starts, line.ends], dtype=np.int64).T.reshape(-1, 2)
        pace = np.array([line.rates, line.done_kg[1:]], dtype=np.float64).T.reshape(-1, 2)
        lines.append((np.ascontiguousarray(span), np.ascontiguousarray(pace)))
    if not lines:
        lines.append((np.zeros((0, 2), dtype=np.int64), np.zeros((0, 2))))
    spans, line_n = _ragged([row[0] for row in lines])
    paces, _ = _ragged([row[1] for row in lines])
    return {
        "LINE_OF": line_of,
        "LINE_SPAN": spans.reshape(len(lines), -1),
        "LINE_PACE": paces.reshape(len(lines), -1),
        "LINE_N": line_n,
    }


def _limits(day: Encoded) -> dict[str, Filled]:
    between, mill = day.evaluator.between, day.evaluator.floor.mill
    count = len(mill.product_by_code)
    found = {day.materials[job.product.product]: between.limits(job) for job in day.jobs}
    levels = max([1, *(len(row.levels) for row in found.values())])
    others = max([1, *(len(row.others) for row in found.values())])
    product_i = np.zeros((count, 2), dtype=np.int64)
    lev_col = np.zeros((count, levels), dtype=np.int64)
    lev_mg_kg, oth_kg = np.ones((count, levels)), np.zeros((count, others))
    oth_i = np.zeros((count, others, 2), dtype=np.int64)
    own = np.zeros((count + 1, len(day.evaluator.residue.substances)))
    own[count] = between.flush_own
    for product, row in found.items():
        product_i[product] = len(row.levels), len(row.others)
        lev_col[product, : len(row.levels)] = row.level_columns
        lev_mg_kg[product, : len(row.levels)] = row.levels_mg_kg
        own[product] = row.own
        for number, (column, limit) in enumerate(row.others):
            oth_i[product, number] = column, KINDS[limit.kind]
            oth_kg[product, number] = limit.flush_kg or 0.0
    places = [place.place for place in day.evaluator.residue.places.all]
    clean_s = np.array([_clean_s(day, code) for code in places])
    most = max([0, *(between.flush_steps(option.mixer)[2] for _, option in day.options)])
    tolerance = np.array(
        [scale_tolerance_divisions(number) for number in range(most + 1)], dtype=np.int64
    )
    settings = mill.settings
    money = np.array([settings.labour_usd_h, between.flush_usd_kg, settings.late_usd_t_h])
    return {
        "LIMITED": product_i,
        "LEVEL_COLUMN": lev_col,
        "LEVEL_MG_KG": lev_mg_kg,
        "OTHER": oth_i.reshape(count, -1),
        "OTHER_KG": oth_kg,
        "OWN": own,
        "PLACE_CLEAN_S": clean_s,
        "TOLERANCE": tolerance,
        "MONEY": money,
    }


def _clean_s(day: Encoded, code: str) -> float:
    """Time to clean a place by hand, in parts of a second as the tables have it."""
    mill = day.evaluator.floor.mill
    machine = mill.machine_by_code.get(code)
    if machine is not None:
        return machine.clean_out_s
    if ">" in code:
        start, end = code.split(">", 1)
        return mill.route_by_ends[(start, end)].clean_out_s
    return 0.0


def _ways(day: Encoded) -> dict[str, Filled]:
    charts = Charts(day.evaluator)
    between = day.evaluator.between
    path_i = np.zeros((len(day.paths), 6), dtype=np.int64)
    nodes, places, routes, arriving = [], [], [], []
    for number, (job, option, path) in enumerate(day.paths):
        way = day.evaluator.residue.way(path)
        mine = [charts.route(option, route) for route in between.flush_routes(path)]
        keys = _arriving(day, job, path)
        is_barred = between.is_barred(path)
        chart = charts.chart(job, option, path)
        path_i[number] = len(path), len(way.places), is_barred, len(mine), chart, len(keys)
        nodes.append(np.array([day.nodes[code] for code in path], dtype=np.int64))
        places.append(way.places)
        routes.append(np.array(mine, dtype=np.int64))
        arriving.append(np.array(keys, dtype=np.int64))
    wide = max([1, *(len(row) for row in places)]) + 2
    return {
        "PATH": path_i,
        "PATH_NODES": _ragged(nodes)[0],
        "PATH_PLACES": _ragged(places)[0],
        "PATH_ROUTES": _ragged(routes)[0],
        "PATH_KEYS": _ragged(arriving)[0],
        **charts.runs(wide),
        **charts.ones(wide),
        **charts.routes(wide),
    }


def _arriving(day: Encoded, job: Job, path: tuple[str, ...]) -> list[int]:
    """Shelves to which the feed of a run for stock comes."""
    if job.pack != "stock":
        return []
    shelves = day.evaluator.floor.work.shelves
    found = shelves.keys_of_bin(job.product.product, path[-1])
    return sorted(day.keys[key] for key in found if key in day.keys)


def _shelves(day: Encoded) -> dict[str, Filled]:
    work = day.evaluator.floor.work
    pools = {key: number for number, key in enumerate(work.pools)}
    key_i = np.array(
        [(pools.get(key, -1), is_watched(day.evaluator.floor, key)) for key in day.keys],
        dtype=np.int64,
    ).reshape(-1, 2)
    key_kg = np.array([work.needs_kg.get(key, 0.0) for key in day.keys])
    lying_kg = np.array([work.lying_kg.get(key, -1.0) for key in day.keys])
    rows = work.pools.values()
    pool_i = np.array(
        [
            (day.nodes[row.grinder.machine], day.sources[row.source], day.materials[row.material])
            for row in rows
        ],
        dtype=np.int64,
    ).reshape(-1, 3)
    pool_f = np.array(
        [(row.capacity_kg, row.grinder.loss_frac, row.grinder.rate_kg_s or 1.0) for row in rows],
        dtype=np.float64,
    ).reshape(-1, 3)
    return {
        "KEY": key_i,
        "KEY_KG": key_kg,
        "LYING_KG": lying_kg,
        "GROUND": pool_i,
        "GROUND_F": pool_f,
    }


def _work(day: Encoded) -> dict[str, Filled]:
    job_i = np.zeros((len(day.jobs), 7), dtype=np.int64)
    first = 0
    for number, job in enumerate(day.jobs):
        die = day.dies[job.product.die] if job.product.die else -1
        product, is_stock = day.materials[job.product.product], job.order is None
        job_i[number] = (
            product, job.release_s, job.due_s, is_stock, die, first, len(job.options),
        )  # fmt: skip
        first += len(job.options)
    needs = [_needs(day, job, option) for job, option in day.options]
    need_key, _ = _ragged(
        [np.array([day.keys[key] for key in row], dtype=np.int64) for row in needs]
    )
    need_part, _ = _ragged([np.array(list(row.values()), dtype=np.float64) for row in needs])
    opt_i = np.zeros((len(day.options), 14), dtype=np.int64)
    opt_f = np.zeros((len(day.options), 4))
    first = 0
    for number, ((_, option), row) in enumerate(zip(day.options, needs, strict=True)):
        opt_i[number], opt_f[number] = _option(day, option, row, first)
        first += len(option.paths)
    tonnes = np.array([job.tonnes for job in day.jobs])
    now_s = np.array([day.evaluator.floor.now_s], dtype=np.int64)
    return {
        "JOB": job_i,
        "TONNES": tonnes,
        "OPTION": opt_i,
        "OPTION_KG": opt_f,
        "NEED_KEY": need_key,
        "NEED_PART": need_part,
        "NOW_S": now_s,
    }


def _needs(day: Encoded, job: Job, option: Option) -> dict[str, float]:
    """Parts of a batch by shelf, watched ones first."""
    parts = day.evaluator.floor.keyed(job.parts, option.mixer)
    return dict(sorted(parts.items(), key=lambda row: not is_watched(day.evaluator.floor, row[0])))


def _option(
    day: Encoded, option: Option, needs: dict[str, float], first_path: int
) -> tuple[list[int], list[float]]:
    floor, between = day.evaluator.floor, day.evaluator.between
    step_kg, least, most = between.flush_steps(option.mixer)
    flush_s = between.flush_s(option.mixer)
    flush = next(iter(day.flush_parts(option)), "")
    whole = [
        day.nodes[option.mixer],
        option.cut.batches,
        option.proc_s,
        option.discharge_s,
        first_path,
        len(option.paths),
        sum(is_watched(floor, key) for key in needs),
        len(needs),
        day.keys.get(flush, -1),
        bool(flush) and is_watched(floor, flush),
        flush_s - option.discharge_s,
        flush_s,
        least,
        most,
    ]
    left_kg = floor.flush_left_kg(option.mixer, day.evaluator.opening.state)
    return whole, [option.masses_kg[0], sum(option.masses_kg), step_kg, left_kg]


def _ragged(rows: Sequence[NDArray[np.generic]]) -> tuple[NDArray, Ints]:  # type: ignore[type-arg]
    """Rows of different lengths as one array, short ones filled with noughts, and their lengths."""
    longest = max([1, *(len(row) for row in rows)])
    more = rows[0].shape[1:] if rows else ()
    kind = rows[0].dtype if rows else np.int64
    whole = np.zeros((len(rows), longest, *more), dtype=kind)
    for number, row in enumerate(rows):
        whole[number, : len(row)] = row
    return whole, np.array([len(row) for row in rows], dtype=np.int64)
