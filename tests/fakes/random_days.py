"""Random days of random mills, for tests and benchmarks of the planner.

random_day(7)                         # 40 orders, about 120 batches
random_day(7, orders=150)             # 150 orders, about 200 batches
random_day(7, orders=5, batches=10)   # a small one
"""

import datetime as dt
import random

from bedstone.mill.contents import contents_of
from bedstone.mill.model import Mill, Order, Product
from bedstone.mill.plan import HeldSubstance
from bedstone.mill.residue import CleanedOut, MaterialPassed, Ran, Residue, replay
from bedstone.planning.model import DayProblem, OrderToMake
from bedstone.planning.paths import Paths
from fakes.random_mill import random_mill

__all__ = ["random_day", "random_days", "usual_batches"]

DAY = dt.date(2026, 11, 25)  # a Wednesday
NOW = dt.datetime(2026, 11, 25, 9, tzinfo=dt.UTC)  # three in the morning in Chicago
MG_KG = 1_000_000
HURRIED_FRAC = 0.7
STARTS = ("clean", "dirty", "dirty", "unknown")


def usual_batches(orders: int) -> int:
    """About how many batches a day of so many orders has: 3 an order, less where there are many."""
    return round(min(3.0 * orders, 91 + 0.73 * orders))


def random_day(
    seed: int,
    *,
    orders: int = 40,
    batches: int | None = None,
    mill: Mill | None = None,
    start: str | None = None,
    evaluations: int = 300,
) -> DayProblem:
    """The day of a seed: orders of the mill's products, some due early, and what the machines hold.

    ``start`` is "clean", "dirty" (after some random runs) or "unknown"; a random one if not given.
    """
    chance = random.Random(f"day {seed} {orders}")
    mill = random_mill(seed) if mill is None else mill
    mean = (usual_batches(orders) if batches is None else batches) / orders
    liked = {row.product: chance.random() ** 2 + 0.05 for row in mill.products}
    rows = [_order(chance, mill, liked, number=number, mean=mean) for number in range(orders)]
    start = chance.choice(STARTS) if start is None else start
    starting, last = _starting(chance, mill, start)
    return DayProblem(
        mill=mill,
        orders=tuple(rows),
        stock_mg=_stock(chance, mill),
        starting=starting,
        day=DAY,
        now=NOW,
        seed=seed,
        last_product=last,
        dies={row.machine: chance.choice(("3 mm", "4 mm", "6 mm")) for row in _lines(mill)},
        evaluations=evaluations,
    )


def random_days(first_seed: int, count: int, *, orders: int = 40) -> tuple[DayProblem, ...]:
    """So many days, each of a mill of its own."""
    return tuple(random_day(first_seed + at, orders=orders) for at in range(count))


def _lines(mill: Mill) -> list:
    return [row for row in mill.machines if row.kind == "pellet line"]


def _order(
    chance: random.Random, mill: Mill, liked: dict[str, float], *, number: int, mean: float
) -> OrderToMake:
    code = chance.choices(list(liked), list(liked.values()))[0]
    row = mill.product(code)
    mass_kg = _mass_kg(chance, mill, row, mean=mean)
    is_bulk = "LO1" in row.route and chance.random() < 0.4
    entered_h = -1.0 - chance.random() * 40
    due_h = chance.uniform(2.5, 12.0) if chance.random() < HURRIED_FRAC else 21.0
    return OrderToMake(
        order=Order(
            order=str(4100 + number),
            customer="harrow",
            product=code,
            mass_kg=mass_kg,
            pack="bulk" if is_bulk else "bags",
            entered_at=NOW + dt.timedelta(seconds=round(entered_h * 3600)),
            due_at=NOW + dt.timedelta(seconds=round(due_h * 3600)),
        ),
        remaining_mg=round(mass_kg * MG_KG),
    )


def _mass_kg(chance: random.Random, mill: Mill, row: Product, *, mean: float) -> float:
    """A mass of some whole bags that makes about ``mean`` batches in the mixers of the product."""
    mixers = [mill.machine_by_code[code] for code in row.route.split(" > ")[0].split("|")]
    full_kg = sum(
        min(one.mass_max_kg or 0.0, (one.volume_max_m3 or 0.0) * row.density_kg_m3)
        for one in mixers
    ) / len(mixers)
    count = max(0.6, chance.uniform(0.4, 1.6) * mean - 0.45)
    longest_kg = 7_500.0 if row.species == "horse" else 9_500.0  # what its bins hold at once
    return 25.0 * max(20, round(min(count * full_kg, longest_kg) / 25.0))


def _stock(chance: random.Random, mill: Mill) -> dict[tuple[str, str], int]:
    """Book stock with plenty of everything; ground bins half full."""
    rows: dict[tuple[str, str], int] = {}
    for row in mill.bins:
        if row.kind == "ground":
            rows[row.bin, row.holds] = round(row.capacity_kg * chance.uniform(0.2, 0.8)) * MG_KG
        elif row.holds:
            rows[row.bin, row.holds] = round(row.capacity_kg * 0.9) * MG_KG
    return rows


def _starting(
    chance: random.Random, mill: Mill, start: str
) -> tuple[tuple[HeldSubstance, ...], dict[str, str]]:
    """What the machines hold, and what each ran last."""
    if start == "unknown":
        return (), {}
    places = tuple(row.place for row in Residue(mill).places.all)
    clean = replay(mill, [CleanedOut(places=places)])
    if start == "clean":
        return clean, {}
    paths, events, last = Paths(mill), [], {}
    ran: list[Ran] = events
    for _ in range(chance.randint(3, 12)):
        product = chance.choice(mill.products)
        route = chance.choice(paths.all_of(product))
        ran.append(
            MaterialPassed(
                route=route,
                material=product.product,
                mass_mg=chance.randint(500, 6_000) * MG_KG,
                contents=contents_of(mill, product.product),
            )
        )
        last.update({code: product.product for code in route if code in mill.machine_by_code})
    return replay(mill, ran, starting=clean), last
