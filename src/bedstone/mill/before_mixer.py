"""What a feed may meet before the mixer: on grinders, and on hand-add stations.

Residue is reckoned from the mixer on. A grinder that grinds two grains leaves some of one in the
other, and a station that serves two mixers is a place on the way of both. How much that is nobody
reckons; that it can be, the tables say, and here it is read from them.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from bedstone.errors import NoAnswer, Unknown
from bedstone.mill.contents import contents_of, formula_contents
from bedstone.mill.model import Limit, Mill, Product
from bedstone.mill.residue_places import way_of

__all__ = ["Meeting", "flush_meetings", "meetings_of"]

LEVEL_SLACK = 1e-9  # of rounding, as part of the level


@dataclass(frozen=True, slots=True, kw_only=True)
class Meeting:
    """A limited substance that may reach a feed before the mixer, and where."""

    limit: Limit
    machine: str  # grinder or hand-add station
    ingredient: str  # of the feed: what is ground or weighed there
    others: tuple[str, ...]  # what else is, and contains the substance


def meetings_of(
    mill: Mill, product: str, *, version: int, limits: tuple[Limit, ...]
) -> tuple[Meeting, ...]:
    """Where a feed's ground ingredients share a grinder with what a limit is about, and, for a
    limit that says never, where its hand-adds share a station with it.

    A level counts only where it would be broken if the ground ingredients were wholly the worst
    that their grinders grind.
    """
    parts = _leaves(mill, product, version, ())
    own = formula_contents(mill, product, version)
    found = list(_on_grinders(mill, parts, own=own, limits=limits))
    found.extend(_at_stations(mill, mill.product(product), parts, limits=limits))
    return tuple(found)


def flush_meetings(mill: Mill, *, limits: tuple[Limit, ...]) -> tuple[Meeting, ...]:
    """The same for the flush material before a feed with these limits."""
    material = mill.settings.flush_material
    if material not in mill.ingredient_by_code:
        return ()
    own = contents_of(mill, material)
    return tuple(_on_grinders(mill, {material: 1.0}, own=own, limits=limits))


def _leaves(mill: Mill, product: str, version: int, above: tuple[str, ...]) -> dict[str, float]:
    """Parts of ingredients in a feed, those of products in it by their running formula."""
    parts: dict[str, float] = {}
    for line in mill.lines_of(product, version):
        inner = {line.ingredient: 1.0}
        formula = mill.running_formula(line.ingredient)
        if line.ingredient in mill.product_by_code and formula is not None:
            if line.ingredient in (*above, product):
                continue
            inner = _leaves(mill, line.ingredient, formula.version, (*above, product))
        for ingredient, part in inner.items():
            parts[ingredient] = parts.get(ingredient, 0.0) + part * line.parts_frac
    return parts


def _on_grinders(
    mill: Mill, parts: dict[str, float], *, own: dict[str, float], limits: tuple[Limit, ...]
) -> Iterator[Meeting]:
    shared = [
        (machine, ingredient, [other for other in materials if other != ingredient])
        for machine, materials in _ground_on(mill).items()
        for ingredient in parts
        if ingredient in materials
    ]
    for limit in limits:
        substance = limit.substance
        met: list[Meeting] = []
        more_mg_kg: dict[str, float] = {}  # by ingredient, if it were wholly the worst
        for machine, ingredient, materials in shared:
            here_mg_kg = _content(mill, ingredient, substance)
            beyond = {other: _content(mill, other, substance) - here_mg_kg for other in materials}
            others = tuple(other for other in materials if beyond[other] > 0)
            if others:
                met.append(
                    Meeting(limit=limit, machine=machine, ingredient=ingredient, others=others)
                )
                more_mg_kg[ingredient] = max(more_mg_kg.get(ingredient, 0.0), *beyond.values())
        worst_mg_kg = own.get(substance, 0.0) + sum(
            parts[ingredient] * more for ingredient, more in more_mg_kg.items()
        )
        if limit.kind != "level" or worst_mg_kg > (limit.level_mg_kg or 0.0) * (1 + LEVEL_SLACK):
            yield from met


def _ground_on(mill: Mill) -> dict[str, tuple[str, ...]]:
    """What each grinder may make: there is a way to it from a bin of the grain, and one from it
    into a bin of the ground grain.
    """
    found: dict[str, tuple[str, ...]] = {}
    for machine in mill.machines:
        if machine.kind != "grinder":
            continue
        into = [
            mill.bin_by_code.get(row.start) for row in mill.routes if row.end == machine.machine
        ]
        out = [mill.bin_by_code.get(row.end) for row in mill.routes if row.start == machine.machine]
        found[machine.machine] = tuple(
            row.ingredient
            for row in mill.ingredients
            if row.ground_from
            and any(one is not None and one.holds in ("", row.ground_from) for one in into)
            and any(one is not None and one.holds in ("", row.ingredient) for one in out)
        )
    return found


def _at_stations(
    mill: Mill, product: Product, parts: dict[str, float], *, limits: tuple[Limit, ...]
) -> Iterator[Meeting]:
    """Stations that a feed's mixers share with other mixers on which a feed gets what it must
    never meet by hand.
    """
    nevers = [limit for limit in limits if limit.kind == "never"]
    if not nevers:
        return
    mixers = _mixers_of(product)
    by_hand = [code for code in parts if _is_by_hand(mill, code)]
    for station in mill.machines:
        serves = {row.end for row in mill.routes if row.start == station.machine}
        if station.kind != "hand-add station" or not serves & mixers or not by_hand:
            continue
        added = _added_by_hand(mill, serves)
        for limit in nevers:
            others = tuple(
                sorted(code for code in added if _content(mill, code, limit.substance) > 0)
            )
            if others:
                yield Meeting(
                    limit=limit, machine=station.machine, ingredient=by_hand[0], others=others
                )


def _added_by_hand(mill: Mill, mixers: set[str]) -> set[str]:
    """Ingredients weighed by hand into any feed of some mixers, by any version that may have run."""
    routed = {row.product for row in mill.products if mixers & _mixers_of(row)}
    return {
        line.ingredient
        for formula in mill.formulas
        if formula.product in routed and formula.status != "draft"
        for line in mill.lines_of(formula.product, formula.version)
        if _is_by_hand(mill, line.ingredient)
    }


def _mixers_of(product: Product) -> set[str]:
    way = way_of(product.route)
    return set(way[0]) if way else set()


def _is_by_hand(mill: Mill, ingredient: str) -> bool:
    row = mill.ingredient_by_code.get(ingredient)
    return row is not None and (row.hand_add or row.ingredient_class in ("micro", "drug"))


def _content(mill: Mill, material: str, substance: str) -> float:
    try:
        return contents_of(mill, material).get(substance, 0.0)
    except (NoAnswer, Unknown):
        return 0.0  # what cannot be resolved cannot be made
