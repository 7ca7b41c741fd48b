"""Formulas: their parts, their approval, what they are made of and where that can be drawn."""

import math
from collections.abc import Iterator

from bedstone.errors import Fault
from bedstone.mill.cells import near_words
from bedstone.mill.equipment import Bin, Machine, Route, Settings
from bedstone.mill.goods import Formula, FormulaLine, Ingredient, Product
from bedstone.mill.residue_places import way_of
from bedstone.mill.validate_places import Check
from bedstone.mill.validate_ways import closing_edges

__all__ = ["recipe_rules"]

ADDS_UP_WITHIN = 1e-6


def recipe_rules(check: Check) -> Iterator[Iterator[Fault]]:
    """Yield the rules of formulas."""
    if not check.readable("formulas", "formula_lines", "products"):
        return
    yield from _version_rules(check)
    yield _recipe_cycles(check)
    yield from _line_rules(check)
    if check.whole("bins", "scales", "machines", "routes") and check.settings is not None:
        yield _flush_can_be_drawn(check, check.settings)
    if check.whole("machines", "ingredients"):
        yield _hand_station(check)


def _version_rules(check: Check) -> Iterator[Iterator[Fault]]:
    for at, formula in check.each(Formula):
        if check.whole("formula_lines"):
            yield _adds_up(check, at, formula)
        yield _approved(check, at, formula)
        yield _one_running(check, at, formula)
    if check.whole("formulas"):
        for (product, version), lines in check.lines_of.items():
            yield _has_formula(check, product=product, version=version, at=lines[0][0])


def _line_rules(check: Check) -> Iterator[Iterator[Fault]]:
    drawable = check.whole("ingredients", "bins", "scales", "meters", "machines", "routes")
    for at, formula in check.each(Formula):
        for place, line in check.lines_of.get((formula.product, formula.version), ()):
            yield _parts_can_run(check, formula, at=place, line=line)
            if check.whole("ingredients", "products"):
                yield _says_medicated(check, formula, at=at, line=line)
            if drawable:
                yield _can_be_drawn(check, formula, at=place, line=line)


def _adds_up(check: Check, at: int, row: Formula) -> Iterator[Fault]:
    lines = check.lines_of.get((row.product, row.version), [])
    if not lines:
        yield check.fault(
            Formula,
            at,
            "version",
            found=f"no lines of {row.product} version {row.version} in formula_lines.csv",
            allowed="at least one line for each version",
        )
        return
    total = math.fsum(line.parts_frac for _, line in lines)
    if abs(total - 1.0) > ADDS_UP_WITHIN:
        yield check.fault(
            FormulaLine,
            lines[0][0],
            "parts_frac",
            found=f"parts of {row.product} version {row.version} that add up to {total * 100:.6g} %",
            allowed="parts that add up to 100 %",
            do=f"{'add' if total < 1 else 'take away'} {abs(total - 1) * 100:.6g} %",
        )


def _approved(check: Check, at: int, row: Formula) -> Iterator[Fault]:
    if row.status not in {"approved", "running"}:
        return
    for field, found in (
        ("approved_by", not row.approved_by),
        ("approved_on", not row.approved_on),
    ):
        if found:
            yield check.fault(
                Formula,
                at,
                field,
                found="an empty cell",
                allowed=f"who approved it and when: a formula that is {row.status} names both",
            )


def _one_running(check: Check, at: int, row: Formula) -> Iterator[Fault]:
    if row.status != "running":
        return
    for before, other in check.each(Formula):
        if before >= at:
            return
        if other.product == row.product and other.status == "running":
            yield check.fault(
                Formula,
                at,
                "status",
                found=f"a second running version of {row.product} (the first is version "
                f"{other.version}, {check.row_of(Formula, before)})",
                allowed="one running version of each product",
                do="set the older one to withdrawn",
            )


def _has_formula(check: Check, *, product: str, version: int, at: int) -> Iterator[Fault]:
    keys = {(row.product, row.version) for _, row in check.each(Formula)}
    if (product, version) not in keys and product in check.products:
        there = [f"{row.version}" for _, row in check.each(Formula) if row.product == product]
        yield check.fault(
            FormulaLine,
            at,
            "version",
            found=f"{product} version {version}, which is not in formulas.csv",
            allowed=f"version {' or '.join(there)}" if there else "a version in formulas.csv",
            do=near_words(str(version), there) or "add the version to formulas.csv",
        )


def _recipe_cycles(check: Check) -> Iterator[Fault]:
    withdrawn = {
        (row.product, row.version) for _, row in check.each(Formula) if row.status == "withdrawn"
    }
    edges: dict[str, list[tuple[str, int]]] = {}
    for key, lines in check.lines_of.items():
        if key not in withdrawn:
            edges.setdefault(key[0], []).extend((line.ingredient, at) for at, line in lines)
    for at, cycle in closing_edges(edges):
        yield check.fault(
            FormulaLine,
            at,
            "ingredient",
            found=f"a recipe that leads back to itself: {' > '.join(cycle)}",
            allowed="products made of other things than themselves",
        )


def _parts_can_run(
    check: Check, formula: Formula, *, at: int, line: FormulaLine
) -> Iterator[Fault]:
    if formula.status != "running" or line.ingredient not in check.products:
        return
    if not any(
        row.product == line.ingredient and row.status == "running" for _, row in check.each(Formula)
    ):
        yield check.fault(
            FormulaLine,
            at,
            "ingredient",
            found=f"the product {line.ingredient}, of which no formula is running",
            allowed="products with a running formula",
        )


def _says_medicated(
    check: Check, formula: Formula, *, at: int, line: FormulaLine
) -> Iterator[Fault]:
    product = check.products.get(formula.product)
    if product is None or formula.status != "running" or product.medicated:
        return
    ingredient = check.ingredients.get(line.ingredient)
    inside = check.products.get(line.ingredient)
    drug = ingredient is not None and ingredient.ingredient_class == "drug"
    if drug or (inside is not None and inside.medicated):
        where = next(place for place, row in check.each(Product) if row.product == product.product)
        yield check.fault(
            Product,
            where,
            "medicated",
            found=f"no, but its formula version {formula.version} "
            f"({check.row_of(Formula, at)} of formulas.csv) holds {line.ingredient}",
            allowed="yes, since that holds a drug",
        )


def _reaching(check: Check, mixer: str) -> set[str]:
    """Return the mixer and the hand-add stations from which a way leads to it."""
    ways = {row.start for _, row in check.each(Route) if row.end == mixer}
    return {mixer} | {code for code in ways if check.machine_kind(code) == "hand-add station"}


def _drawn_on(check: Check, material: str, mixer: str) -> set[str]:
    """Return the kinds of instrument on which a material can be drawn for a mixer.

    A place that is kept for nothing in particular counts by hand only for what is always added
    by hand: nobody weighs soybean meal out of sacks because the premix floor may hold anything.
    """
    row = check.ingredients.get(material)
    by_hand = {material, ""} if row is not None and row.hand_add else {material}
    near = _reaching(check, mixer)
    kinds = set()
    for _, place in check.each(Bin):
        if place.holds not in {"", material}:
            continue
        for code in place.feeds.split():
            scale, meter = check.scales.get(code), check.meters.get(code)
            if scale is not None and scale.machine == mixer:
                kinds.add("scale")
            elif scale is not None and scale.machine in near and place.holds in by_hand:
                kinds.add("hand-add scale")
            if meter is not None and meter.machine == mixer:
                kinds.add("meter")
    return kinds


def _can_be_drawn(check: Check, formula: Formula, *, at: int, line: FormulaLine) -> Iterator[Fault]:
    product = check.products.get(formula.product)
    if formula.status != "running" or product is None:
        return
    wanted = {"scale", "hand-add scale"}
    row = check.ingredients.get(line.ingredient)
    if row is None and line.ingredient not in check.products:
        return
    if row is not None and row.hand_add:
        if not any(item.kind == "hand-add station" for item in check.machines.values()):
            return  # said once for the ingredient
        wanted = {"hand-add scale"}
    elif row is not None and row.ingredient_class == "liquid":
        wanted = {"meter"}
    way = way_of(product.route)
    for mixer in way[0] if way else ():
        if (
            check.machine_kind(mixer) != "mixer"
            or _drawn_on(check, line.ingredient, mixer) & wanted
        ):
            continue
        yield check.fault(
            FormulaLine,
            at,
            "ingredient",
            found=f"{line.ingredient} for {formula.product}, which no bin gives to a "
            f"{' or '.join(sorted(wanted))} of {mixer}",
            allowed="ingredients of a running formula that some bin holds and feeds",
            do=f"name {line.ingredient} in holds and the {max(wanted)} in feeds of a bin "
            "in bins.csv",
        )


def _flush_can_be_drawn(check: Check, settings: Settings) -> Iterator[Fault]:
    if not settings.flush_material or settings.flush_material not in check.ingredients:
        return
    for code, row in check.machines.items():
        if row.kind == "mixer" and "scale" not in _drawn_on(check, settings.flush_material, code):
            yield check.settings_fault(
                "flush_material",
                found=f"{settings.flush_material}, which no bin gives to a scale of {code}",
                allowed="an ingredient that every mixer can weigh",
                do="name it in holds, and a scale of that mixer in feeds, of a bin in bins.csv",
            )


def _hand_station(check: Check) -> Iterator[Fault]:
    if any(row.kind == "hand-add station" for _, row in check.each(Machine)):
        return
    used = {line.ingredient for _, line in check.each(FormulaLine)}
    for at, row in check.each(Ingredient):
        if row.hand_add and row.ingredient in used:
            yield check.fault(
                Ingredient,
                at,
                "hand_add",
                found=f"{row.ingredient} is added by hand, but the mill has no hand-add station",
                allowed="hand additions where machines.csv has a hand-add station",
            )
