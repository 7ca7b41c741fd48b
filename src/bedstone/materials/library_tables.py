"""The library's tables as typed values: read, brought to one unit as fed, and what follows reckoned.

Three things are reckoned from what is printed, and say so: dry matter from moisture; crude protein
from the protein of food tables, whose nitrogen factor is not 6.25; and what a pure compound holds.
"""

import csv
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import replace
from importlib import resources

from bedstone.errors import SetupError
from bedstone.materials.composition import (
    BulkDensity,
    Isotherm,
    LibraryIngredient,
    LibraryNutrient,
    LibraryRequirement,
    PublishedValue,
    Source,
    What,
)
from bedstone.materials.stoichiometry import element_share_frac, molar_mass

__all__ = [
    "read_densities",
    "read_ingredients",
    "read_isotherms",
    "read_nutrients",
    "read_requirements",
    "read_sources",
    "read_values",
    "with_dry_matter",
]

CRUDE_FACTOR = 6.25
"""Crude protein is nitrogen times this, by definition."""
PARTS = {"%": 1e-2, "g/kg": 1e-3, "mg/kg": 1e-6, "mg/100 g": 1e-5, "ug/100 g": 1e-8}
"""What one of a unit is as a part of the whole."""
ELEMENTS = {
    "calcium": "Ca", "phosphorus": "P", "magnesium": "Mg", "potassium": "K", "sodium": "Na",
    "chloride": "Cl", "sulfur": "S", "copper": "Cu", "iron": "Fe", "manganese": "Mn", "zinc": "Zn",
    "selenium": "Se", "iodine": "I", "cobalt": "Co",
}  # fmt: skip
AMINO_ACIDS = {"C6H14N2O2.HCl": ("lysine", "C6H14N2O2"), "C5H11NO2S": ("methionine", "C5H11NO2S")}
"""Of a compound's formula: the amino acid in it, and the formula of that."""


def _rows(name: str) -> Iterator[dict[str, str]]:
    text = resources.files("bedstone.materials").joinpath(f"data/{name}").read_text("utf-8")
    yield from csv.DictReader(text.splitlines())


def _number(text: str) -> float | None:
    return float(text) if text else None


def read_sources() -> dict[str, Source]:
    """The sources by code."""
    return {
        row["source"]: Source(
            code=row["source"],
            title=row["title"],
            year=int(row["year"]) if row["year"] else None,
            kind=row["kind"],
            licence=row["licence"],
            note=row["note"],
            family=row["family"],
        )
        for row in _rows("sources.csv")
    }


def read_ingredients() -> dict[str, LibraryIngredient]:
    """The ingredients by code."""
    return {
        row["ingredient"]: LibraryIngredient(
            code=row["ingredient"],
            name=row["name"],
            kind=row["kind"],
            other_names=tuple(name for name in row["other_names"].split(";") if name),
            note=row["note"],
        )
        for row in _rows("ingredients.csv")
    }


def read_nutrients() -> dict[str, LibraryNutrient]:
    """The nutrients by name."""
    return {
        row["nutrient"]: LibraryNutrient(
            name=row["nutrient"], unit=row["unit"], group=row["group"], meaning=row["meaning"]
        )
        for row in _rows("nutrients.csv")
    }


def read_values(
    ingredients: Mapping[str, LibraryIngredient],
    nutrients: Mapping[str, LibraryNutrient],
    sources: Mapping[str, Source],
) -> tuple[PublishedValue, ...]:
    """Every value, printed or reckoned, with its level as fed where that is known.

    Raises
    ------
    SetupError
        If a table names an ingredient, nutrient or unit that is not in its list.
    """
    printed = [_value(row, sources) for row in _rows("composition.csv")]
    found = [*printed, *_dry_matter(printed), *_crude_protein(printed), *_compounds(sources)]
    for value in found:
        if (
            value.ingredient not in ingredients
            or value.nutrient not in nutrients
            or (value.unit not in PARTS)
        ):
            raise SetupError(
                "The packaged composition table does not agree with its lists.", seen=str(value)
            )
    dry = _dry_matters(found)
    return tuple(_as_fed(value, nutrients[value.nutrient].unit, dry) for value in found)


def _value(row: Mapping[str, str], sources: Mapping[str, Source]) -> PublishedValue:
    return PublishedValue(
        ingredient=row["ingredient"],
        nutrient=row["nutrient"],
        what=What(row["what"]),
        value=float(row["value"]),
        unit=row["unit"],
        basis=row["basis"],
        sd=_number(row["sd"]),
        source=sources[row["source"]],
        reference=row["reference"],
        printed_as=row["printed_as"],
        note=row["note"],
    )


def _dry_matter(printed: list[PublishedValue]) -> Iterator[PublishedValue]:
    """Dry matter of what is printed with its moisture."""
    for value in printed:
        if value.nutrient == "moisture":
            yield replace(
                value, nutrient="dry matter", value=100 - value.value, derived="100 - moisture"
            )


def _crude_protein(printed: list[PublishedValue]) -> Iterator[PublishedValue]:
    """Nitrogen x 6.25 of what food tables print with their own factor, where that is known."""
    factors = {row["ingredient"]: float(row["factor"]) for row in _rows("nitrogen_factors.csv")}
    for value in printed:
        factor = factors.get(value.ingredient)
        if value.nutrient == "food protein" and factor is not None:
            yield replace(
                value,
                nutrient="crude protein",
                value=value.value * CRUDE_FACTOR / factor,
                derived=f"protein x {CRUDE_FACTOR}/{factor:g}",
            )


def _compounds(sources: Mapping[str, Source]) -> Iterator[PublishedValue]:
    """What pure compounds hold by their formula."""
    for row in _rows("compounds.csv"):
        formula, purity = row["formula"], float(row["purity_frac"])
        if formula in AMINO_ACIDS:
            name, inner = AMINO_ACIDS[formula]
            shares = {name: molar_mass(inner) / molar_mass(formula)}
        else:
            shares = {
                name: share
                for name, element in ELEMENTS.items()
                if (share := element_share_frac(formula, element)) > 0
            }
        for name, share in shares.items():
            yield PublishedValue(
                ingredient=row["ingredient"],
                nutrient=name,
                what=What.MEAN,
                value=100 * share * purity,
                unit="%",
                basis="as fed",
                sd=None,
                source=sources["stoichiometry"],
                reference="",
                printed_as=formula,
                note="" if purity == 1 else f"{100 * purity:g} % pure",
                derived="from the formula",
            )


def _dry_matters(values: list[PublishedValue]) -> dict[tuple[str, str], float]:
    """Dry matter as a part, by ingredient and source, and by ingredient alone ("" as source)."""
    found: dict[tuple[str, str], list[float]] = defaultdict(list)
    for value in values:
        if value.nutrient == "dry matter" and value.what is What.MEAN:
            found[value.ingredient, value.source.code].append(value.value / 100)
    by_source = {key: sum(rows) / len(rows) for key, rows in found.items()}
    alone: dict[str, list[float]] = defaultdict(list)
    for (ingredient, _), part in by_source.items():
        alone[ingredient].append(part)
    return by_source | {(key, ""): sum(rows) / len(rows) for key, rows in alone.items()}


def _as_fed(
    value: PublishedValue, unit: str, dry: Mapping[tuple[str, str], float]
) -> PublishedValue:
    """A value with its level as fed, by the dry matter of the same source or of the others."""
    part = dry.get((value.ingredient, value.source.code), dry.get((value.ingredient, "")))
    return with_dry_matter(value, unit, part)


def with_dry_matter(
    value: PublishedValue, unit: str, dry_matter_frac: float | None
) -> PublishedValue:
    """A value with its level as fed in a unit; without one where dry matter is asked and unknown.

    Parameters
    ----------
    value : PublishedValue
        As printed.
    unit : str
        The nutrient's unit.
    dry_matter_frac : float or None
        Dry matter of the ingredient, used where the value is in dry matter. [0 to 1]

    Returns
    -------
    value : PublishedValue
        The same with ``as_fed`` and ``as_fed_sd``.
    """
    if value.what is What.VARIATION:  # per cent of the mean, no level
        return value
    factor = PARTS[value.unit] / PARTS[unit]
    if value.basis == "dry matter":
        if dry_matter_frac is None:
            return value
        factor *= dry_matter_frac
    return replace(
        value,
        as_fed=value.value * factor,
        as_fed_sd=None if value.sd is None else value.sd * factor,
    )


def read_densities(sources: Mapping[str, Source]) -> tuple[BulkDensity, ...]:
    """Bulk densities and angles as printed."""
    return tuple(
        BulkDensity(
            ingredient=row["ingredient"],
            printed_as=row["printed_as"],
            what=row["property"],
            low=float(row["low"]),
            high=_number(row["high"]),
            unit=row["unit"],
            source=sources[row["source"]],
        )
        for row in _rows("bulk_density.csv")
    )


def read_isotherms(sources: Mapping[str, Source]) -> tuple[Isotherm, ...]:
    """Coefficients of sorption isotherms."""
    return tuple(
        Isotherm(
            ingredient=row["ingredient"],
            printed_as=row["printed_as"],
            form=row["form"],
            a=float(row["a"]),
            b=float(row["b"]),
            c=float(row["c"]),
            moisture_in=row["moisture_in"],
            source=sources[row["source"]],
            note=row["note"],
        )
        for row in _rows("isotherms.csv")
    )


def read_requirements(sources: Mapping[str, Source]) -> tuple[LibraryRequirement, ...]:
    """Requirements of animals as printed."""
    return tuple(
        LibraryRequirement(
            species=row["species"],
            kind=row["class"],
            nutrient=row["nutrient"],
            what=row["what"],
            low=_number(row["low"]),
            high=_number(row["high"]),
            most=_number(row["most"]),
            unit=row["unit"],
            source=sources[row["source"]],
            note=row["note"],
        )
        for row in _rows("requirements.csv")
    )
