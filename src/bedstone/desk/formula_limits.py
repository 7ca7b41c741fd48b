"""What a product's formula must keep, from the tables: its tag, requirements, groups, substances."""

from collections.abc import Iterable

from bedstone.errors import Refused
from bedstone.formulation.model import (
    Basis,
    ChangeLimit,
    IngredientGroup,
    LevelAndShare,
    MashLimits,
    Requirement,
    Term,
)
from bedstone.mill.contents import limits_of
from bedstone.mill.formula_tables import DEFAULT_ODDS
from bedstone.mill.model import FormulaLine, FormulaRule, Inclusion, Limit, Mill
from bedstone.mill.model import Requirement as RequirementRow
from bedstone.mill.validate_formulation import nutrients_in

__all__ = [
    "TAG",
    "change_of",
    "groups_of",
    "inclusions_of",
    "level_and_share_of",
    "mash_of",
    "requirements_of",
    "rule_of",
    "shut_out",
    "substance_name",
]

TAG = "tag: "
"""What the code of a requirement begins with that is a guarantee on the tag."""
HELD_AS_IT_IS = ("micro", "drug")


def rule_of(mill: Mill, product: str) -> FormulaRule:
    """How a product is formulated; the usual where the mill has not said."""
    rows = (row for row in mill.formula_rules if row.product == product)
    return next(rows, FormulaRule(product=product, odds_frac=DEFAULT_ODDS))


def running_lines(mill: Mill, product: str) -> tuple[FormulaLine, ...]:
    """The lines of the formula that runs; nothing if none does."""
    formula = mill.running_formula(product)
    return () if formula is None else mill.lines_of(product, formula.version)


def inclusions_of(mill: Mill, product: str) -> tuple[Inclusion, ...]:
    """What may go into a product, and how much.

    Without rows of its own a product may be made of what its running formula holds; micros, drugs
    and what is always added by hand then stay as they are, since nothing says how far they may go.

    Raises
    ------
    Refused
        If there are neither rows nor a running formula.
    """
    rows = tuple(row for row in mill.inclusions if row.product == product)
    if rows:
        return rows
    lines = running_lines(mill, product)
    if not lines:
        raise Refused(
            f"Nothing says what may go into {mill.name_of(product)}.",
            allowed="rows of inclusions.csv, or a formula that runs",
            do="add its ingredients to the inclusions table",
        )
    return tuple(_as_running(mill, line) for line in lines)


def _as_running(mill: Mill, line: FormulaLine) -> Inclusion:
    row = mill.ingredient_by_code.get(line.ingredient)
    held = row is None or row.hand_add or row.ingredient_class in HELD_AS_IT_IS
    return Inclusion(
        product=line.product,
        ingredient=line.ingredient,
        min_frac=line.parts_frac if held else 0.0,
        max_frac=line.parts_frac if held else 1.0,
        firm=held,
        source="the running formula" if held else "",
    )


def requirements_of(mill: Mill, product: str, *, odds_frac: float | None) -> list[Requirement]:
    """Guarantees with odds, the table's requirements, and levels of substances.

    Parameters
    ----------
    mill : Mill
        The mill.
    product : str
        Product.
    odds_frac : float or None
        Probability with which each guarantee is to be met; None: by its expected value.
    """
    found = [
        Requirement(
            code=f"{TAG}{row.nutrient}",
            name=f"{row.nutrient} on the tag",
            of=(Term(nutrient=row.nutrient),),
            unit=row.unit,
            minimum=row.minimum,
            maximum=row.maximum,
            odds_frac=odds_frac,
            source="guarantee on the tag",
        )
        for row in mill.guarantees
        if row.product == product
    ]
    found += [_requirement(row) for row in mill.requirements if row.product == product]
    return found + [
        _substance(mill, limit) for limit in limits_of(mill, product) if limit.kind == "level"
    ]


def _requirement(row: RequirementRow) -> Requirement:
    name = f"{row.nutrients} to {row.per}" if row.per else row.nutrients
    basis = f" in {row.basis}" if row.basis != Basis.AS_FED.value and not row.per else ""
    return Requirement(
        code=f"{name}{basis}",
        name=name,
        of=tuple(Term(nutrient=nutrient) for nutrient in nutrients_in(row.nutrients)),
        unit=row.unit,
        per=tuple(Term(nutrient=nutrient) for nutrient in nutrients_in(row.per) if nutrient),
        per_unit=row.per_unit,
        basis=Basis(row.basis),
        minimum=row.minimum,
        maximum=row.maximum,
        odds_frac=row.odds_frac,
        source=row.source,
        may_give=not row.firm,
    )


def substance_name(mill: Mill, substance: str) -> str:
    """The name under which a substance of the contents table takes part in a formula."""
    row = mill.substance_by_code.get(substance)
    return f"{row.name if row is not None else substance} by contents"


def _substance(mill: Mill, limit: Limit) -> Requirement:
    name = substance_name(mill, limit.substance)
    return Requirement(
        code=name,
        name=name,
        of=(Term(nutrient=name),),
        unit="mg/kg",
        maximum=limit.level_mg_kg,
        source=limit.source,
        may_give=False,
    )


def shut_out(mill: Mill, product: str) -> dict[str, Limit]:
    """Substances that must not be in a product on purpose, with the limit that says so.

    A flush, a clean-out or a separate line keeps traces out; what is put in is not a trace.
    """
    return {row.substance: row for row in limits_of(mill, product) if row.kind != "level"}


def groups_of(mill: Mill, product: str, known: Iterable[str]) -> list[IngredientGroup]:
    """Groups with limits on their share; members that may not go into the product left out."""
    there = set(known)
    found = []
    for row in mill.ingredient_groups:
        members = tuple(code for code in row.members.split() if code in there)
        if row.nutrient or not _is_of(mill, product, row.product, row.species):
            continue
        if not members and not row.min_frac:
            continue
        found.append(
            IngredientGroup(
                code=row.group,
                name=_together(row.group),
                ingredients=members,
                min_frac=row.min_frac,
                max_frac=row.max_frac,
                source=row.source,
                may_give=not row.firm,
            )
        )
    return found


def _together(group: str) -> str:
    """A group of ingredients as people read its code: CORN-ALL is corn all together."""
    return f"{group.replace('-', ' ').replace('_', ' ').lower()} together"


def _is_of(mill: Mill, product: str, whose: str, species: str) -> bool:
    return whose == product or (bool(species) and mill.product(product).species == species)


def level_and_share_of(
    mill: Mill, product: str, known: Iterable[str], *, odds_frac: float | None
) -> list[LevelAndShare]:
    """Limits on both the level in each ingredient and the share of all together."""
    there = set(known)
    found = []
    for row in mill.ingredient_groups:
        members = tuple(code for code in row.members.split() if code in there)
        if not members or row.level_max is None or row.max_frac is None:
            continue
        if _is_of(mill, product, row.product, row.species):
            found.append(
                LevelAndShare(
                    code=row.group,
                    name=_together(row.group),
                    ingredients=members,
                    nutrient=row.nutrient,
                    level_max=row.level_max,
                    unit=row.unit,
                    share_max_frac=row.max_frac,
                    basis=Basis(row.basis),
                    odds_frac=odds_frac,
                    source=row.source,
                )
            )
    return found


def mash_of(rule: FormulaRule) -> MashLimits:
    """Limits on moisture and bulk density of the mash."""
    return MashLimits(
        moisture_max_wb=rule.moisture_max_wb,
        density_min_kg_m3=rule.density_min_kg_m3,
        density_max_kg_m3=rule.density_max_kg_m3,
        source=rule.source,
    )


def change_of(rule: FormulaRule) -> ChangeLimit:
    """How far a formula may go from the one that runs."""
    return ChangeLimit(
        each_frac=rule.change_each_frac,
        total_frac=rule.change_total_frac,
        source=rule.source,
    )
