"""Ways through the simulated mill: routes as steps, what lies along them, how fast things go."""

import itertools

from bedstone.mill.model import Machine, Mill, Product

__all__ = ["alternatives", "kind_of", "places_along", "rate_kg_s", "step_of"]


def alternatives(product: Product) -> tuple[tuple[str, ...], ...]:
    """Steps of a product's route, each with its alternatives."""
    return tuple(
        tuple(code.strip() for code in step.split("|")) for step in product.route.split(">")
    )


def kind_of(mill: Mill, code: str) -> str:
    """What a bin or machine is."""
    machine = mill.machine_by_code.get(code)
    return machine.kind if machine else mill.bin_by_code[code].kind


def step_of(mill: Mill, product: Product, kind: str) -> tuple[str, ...]:
    """The alternatives of the step of a route that is of a kind; empty if there is none."""
    for step in alternatives(product):
        found = tuple(code for code in step if kind_of(mill, code) == kind)
        if found:
            return found
    return ()


def places_along(mill: Mill, route: tuple[str, ...]) -> dict[str, tuple[float, float]]:
    """Every place and way along a route with its hold-up in kg and its exchange."""
    found: dict[str, tuple[float, float]] = {}
    for code in route:
        machine = mill.machine_by_code.get(code)
        held = mill.bin_by_code.get(code)
        if machine is not None:
            found[code] = (machine.hold_up_kg, machine.exchange_frac)
        elif held is not None and held.kind != "flush":
            found[code] = (held.hold_up_kg, 1.0)
    for start, end in itertools.pairwise(route):
        way = mill.route_by_ends.get((start, end))
        if way is not None:
            found[f"{start}>{end}"] = (way.hold_up_kg, way.exchange_frac)
    return found


def rate_kg_s(mill: Mill, product: str, machine: Machine) -> float:
    """Usual throughput of a product on a machine; the slowest hour counts."""
    rates = [
        row.rate_kg_s
        for row in mill.rates
        if row.product == product and row.machine == machine.machine
    ]
    return min(rates) if rates else (machine.rate_kg_s or 1.0)
