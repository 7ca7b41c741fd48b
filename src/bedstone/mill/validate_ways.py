"""Ways between machines and bins, and the routes of the products along them."""

import itertools
from collections.abc import Iterator, Mapping, Sequence

from bedstone.errors import Fault
from bedstone.mill.equipment import Route
from bedstone.mill.goods import Product
from bedstone.mill.residue_places import way_of
from bedstone.mill.validate_places import Check

__all__ = ["closing_edges", "way_rules"]

ALONG_A_ROUTE = ("surge", "finished", "warehouse", "pellet line", "sacking line", "load-out")
ENDS = ("finished", "warehouse", "sacking line", "load-out")


def way_rules(check: Check) -> Iterator[Iterator[Fault]]:
    """Yield the rules of ways and routes."""
    yield _cycles(check)
    if not check.readable("products"):
        return
    for at, product in check.each(Product):
        yield _form_of_route(check, at, product)
        if check.whole("bins", "machines"):
            yield _kinds_along(check, at, product)
            yield _bins_free(check, at, product)
            yield _right_form(check, at, product)
            yield _right_pack(check, at, product)
        if check.whole("routes"):
            yield _ways_exist(check, at, product)


def closing_edges(
    edges: Mapping[str, Sequence[tuple[str, int]]],
) -> Iterator[tuple[int, tuple[str, ...]]]:
    """Yield each edge that closes a cycle, by its number, with the nodes of the cycle in order.

    ``edges`` gives for each node the nodes it leads to, with the number of the edge.
    """
    state: dict[str, int] = {}
    for root in edges:
        if root in state:
            continue
        path = [root]
        state[root] = 1
        ahead = [iter(edges.get(root, ()))]
        while path:
            step = next(ahead[-1], None)
            if step is None:
                state[path.pop()] = 2
                ahead.pop()
                continue
            node, number = step
            if state.get(node) == 1:
                yield number, (*path[path.index(node) :], node)
            elif node not in state:
                state[node] = 1
                path.append(node)
                ahead.append(iter(edges.get(node, ())))


def _cycles(check: Check) -> Iterator[Fault]:
    edges: dict[str, list[tuple[str, int]]] = {}
    for at, row in check.each(Route):
        edges.setdefault(row.start, []).append((row.end, at))
    for at, cycle in closing_edges(edges):
        yield check.fault(
            Route,
            at,
            "end",
            found=f"ways that lead back to where they began: {' > '.join(cycle)}",
            allowed="ways that never lead back",
            do="delete the way that does not exist, or turn it about",
        )


def _form_of_route(check: Check, at: int, row: Product) -> Iterator[Fault]:
    steps = [[code.strip() for code in step.split("|")] for step in row.route.split(">")]
    if not all(code and " " not in code for step in steps for code in step):
        yield check.fault(
            Product,
            at,
            "route",
            found=f'"{row.route}", in which a code is missing or a sign between two codes',
            allowed='codes with ">" between, alternatives with "|": MX1 > FB1|FB2 > SK1',
        )
    codes = [code for step in steps for code in step]
    for code in sorted({code for code in codes if code and codes.count(code) > 1}):
        yield check.fault(
            Product, at, "route", found=f"{code} twice", allowed="each machine and bin once"
        )


def _kind(check: Check, code: str) -> str:
    place = check.bins.get(code)
    return place.kind if place is not None else check.machine_kind(code)


def _kinds_along(check: Check, at: int, row: Product) -> Iterator[Fault]:
    way = way_of(row.route)
    for code in way[0] if way else ():
        if _kind(check, code) not in {"", "mixer"}:
            yield check.fault(
                Product,
                at,
                "route",
                found=f"{code} first, which is a {_kind(check, code)}",
                allowed="a mixer first",
            )
    for code in itertools.chain.from_iterable(way[1:]):
        kind = _kind(check, code)
        if kind and kind not in ALONG_A_ROUTE:
            yield check.fault(
                Product,
                at,
                "route",
                found=f"{code} on the way, which is of kind {kind}",
                allowed=f"after the mixer only {', '.join(ALONG_A_ROUTE)}",
            )
    for code in way[-1] if way else ():
        kind = _kind(check, code)
        if kind and kind not in ENDS and len(way) > 1:
            yield check.fault(
                Product,
                at,
                "route",
                found=f"{code} last, which is of kind {kind}",
                allowed=f"last one of {', '.join(ENDS)}",
            )
    if way and not any(_all_of(check, step, "finished") for step in way):
        yield check.fault(
            Product,
            at,
            "route",
            found="no finished bin on the way",
            allowed="a step of finished bins, which the batches go to",
        )


def _bins_free(check: Check, at: int, row: Product) -> Iterator[Fault]:
    for code in itertools.chain.from_iterable(way_of(row.route)):
        place = check.bins.get(code)
        if place is not None and place.holds and place.holds != row.product:
            yield check.fault(
                Product,
                at,
                "route",
                found=f"{code} on the way of {row.product}, which is kept for {place.holds}",
                allowed="bins kept for nothing else",
                do="take the bin out of this route, or empty its cell holds in bins.csv",
            )


def _all_of(check: Check, step: tuple[str, ...], kind: str) -> bool:
    return all(_kind(check, code) in {kind, ""} for code in step)


def _any_of(check: Check, row: Product, kind: str) -> bool:
    return any(_kind(check, code) in {kind, ""} for step in way_of(row.route) for code in step)


def _right_form(check: Check, at: int, row: Product) -> Iterator[Fault]:
    passes = any(_all_of(check, step, "pellet line") for step in way_of(row.route))
    if row.form == "pellet" and not passes:
        yield check.fault(
            Product,
            at,
            "route",
            found=f"a pellet whose route {row.route} passes no pellet line",
            allowed="a route with a pellet line, or the form mash",
        )
    if row.form == "pellet" and not row.die:
        yield check.fault(
            Product, at, "die", found="an empty cell", allowed="the die: a pellet needs one"
        )
    through = [
        code
        for step in way_of(row.route)
        for code in step
        if check.machine_kind(code) == "pellet line"
    ]
    if row.form == "mash" and through:
        yield check.fault(
            Product,
            at,
            "form",
            found=f"a mash whose route passes the pellet line {through[0]}",
            allowed="the form pellet, or a route without pellet line",
        )


def _right_pack(check: Check, at: int, row: Product) -> Iterator[Fault]:
    if row.pack_kg is not None and not _any_of(check, row, "sacking line"):
        yield check.fault(
            Product,
            at,
            "pack_kg",
            found=f"a bag of {check.shown(Product, 'pack_kg', row.pack_kg)}, but no sacking line on "
            f"the route {row.route}",
            allowed="a route with a sacking line, or no bag",
        )


def _ways_exist(check: Check, at: int, row: Product) -> Iterator[Fault]:
    ways = {(way.start, way.end) for _, way in check.each(Route)}
    for here, there in itertools.pairwise(way_of(row.route)):
        for start, end in itertools.product(here, there):
            known = {start, end} <= (check.bins.keys() | check.machines.keys())
            if known and (start, end) not in ways:
                yield check.fault(
                    Product,
                    at,
                    "route",
                    found=f"the way {start} > {end}, which is not in routes.csv",
                    allowed="ways of routes.csv, from each alternative to each of the next step",
                    do=f"add the row {start},{end} to routes.csv, or take it out of this route",
                )
