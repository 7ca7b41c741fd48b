"""What a material contains that others must not get: from contents of ingredients and formulas.

A product contains what its formula brings, products in it by their own running formula and by what
lies in their bins, whichever is more. A ground ingredient contains at least what the grain it is
ground from contains.
"""

from collections.abc import Mapping
from types import MappingProxyType

from bedstone.errors import NoAnswer, Unknown
from bedstone.mill.model import Limit, Mill

__all__ = ["Lying", "contents_of", "formula_contents", "limits_of", "worst_contents"]

Lying = Mapping[str, Mapping[str, float]]
"""What of each substance lots of products that lie in bins contain at most [mg/kg]."""
NOTHING_LIES: Lying = MappingProxyType({})


def contents_of(mill: Mill, material: str, *, lying: Lying = NOTHING_LIES) -> dict[str, float]:
    """Content of each substance in an ingredient, or in a product by its running formula [mg/kg].

    What lies in bins of a product counts too, if it contains more.

    Raises
    ------
    Unknown
        If the mill has no such ingredient or product.
    NoAnswer
        If a product, or one inside it, has no running formula, or contains itself.
    """
    return _contents(mill, material, (), lying)


def formula_contents(
    mill: Mill, product: str, version: int, *, lying: Lying = NOTHING_LIES
) -> dict[str, float]:
    """Content of each substance in one version of a product's formula [mg/kg].

    Products in it count as what lies of them, if that contains more than what would be made.

    Raises
    ------
    NoAnswer
        If there is no such version, or a product inside it cannot be resolved.
    """
    return _of_formula(mill, product, version, (product,), lying)


def limits_of(mill: Mill, product: str) -> tuple[Limit, ...]:
    """The limits that hold for a product: its own and those of its species, in table order."""
    row = mill.product(product)
    return tuple(
        limit
        for limit in mill.limits
        if limit.product == product or (limit.species and limit.species == row.species)
    )


def worst_contents(mill: Mill) -> dict[str, tuple[float, str]]:
    """The highest content of each substance in anything the mill mixes or flushes with, and what.

    Every version of a formula that was ever approved counts, because a machine of which nothing
    is known may have run any of them. [mg/kg]
    """
    candidates: list[tuple[str, Mapping[str, float]]] = []
    for row in mill.formulas:
        if row.status == "draft":
            continue
        try:
            candidates.append((row.product, formula_contents(mill, row.product, row.version)))
        except (NoAnswer, Unknown):
            continue  # such a version cannot have run: it has no lines, or lines that lead nowhere
    if mill.settings.flush_material:
        material = mill.settings.flush_material
        candidates.append((material, contents_of(mill, material)))
    worst: dict[str, tuple[float, str]] = {}
    for material, contents in candidates:
        for substance, content_mg_kg in contents.items():
            if content_mg_kg > worst.get(substance, (0.0, ""))[0]:
                worst[substance] = (content_mg_kg, material)
    return worst


def _contents(mill: Mill, material: str, above: tuple[str, ...], lying: Lying) -> dict[str, float]:
    if material in mill.ingredient_by_code:
        return _of_ingredient(mill, material, ())
    if material not in mill.product_by_code:
        raise Unknown(
            f"There is no ingredient or product {material!r}.",
            do="see the ingredients and products tables",
        )
    if material in above:
        raise NoAnswer(
            f"The formula of {mill.name_of(material)} leads back to itself.",
            seen=" > ".join((*above, material)),
            do="take it out of the formulas on the way",
        )
    formula = mill.running_formula(material)
    if formula is None:
        raise NoAnswer(
            f"{mill.name_of(material)} has no running formula.",
            do="set one approved version of its formula to running",
        )
    made = _of_formula(mill, material, formula.version, (*above, material), lying)
    for substance, content_mg_kg in lying.get(material, {}).items():
        made[substance] = max(content_mg_kg, made.get(substance, 0.0))
    return made


def _of_formula(
    mill: Mill, product: str, version: int, above: tuple[str, ...], lying: Lying
) -> dict[str, float]:
    lines = mill.lines_of(product, version)
    if not lines:
        raise NoAnswer(
            f"Version {version} of the formula of {mill.name_of(product)} has no lines.",
            do="see the formula_lines table",
        )
    total: dict[str, float] = {}
    for line in lines:
        for substance, content_mg_kg in _contents(mill, line.ingredient, above, lying).items():
            total[substance] = total.get(substance, 0.0) + line.parts_frac * content_mg_kg
    return total


def _of_ingredient(mill: Mill, ingredient: str, above: tuple[str, ...]) -> dict[str, float]:
    own = {
        row.substance: row.content_mg_kg for row in mill.contents if row.ingredient == ingredient
    }
    source = mill.ingredient_by_code[ingredient].ground_from
    if source and source in mill.ingredient_by_code and source not in above:
        for substance, content_mg_kg in _of_ingredient(mill, source, (*above, ingredient)).items():
            own.setdefault(substance, content_mg_kg)
    return own
