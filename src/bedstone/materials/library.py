"""The composition library: published values of ingredients, pooled by one stated rule.

What no source gives stays unknown. A mill's own values come first; where it has none, the library
may serve, marked as such.

The rule. For a nutrient of an ingredient the sources of the best kind that has a mean are used:
feed tables and analysed samples, else specifications and guides, else food tables, else guides that
print one figure, else what a pure compound must hold. Their means count alike, those of one family (which share their data) together
once. A spread that a source states between samples is used; else, where two or more families
stand behind the mean, the spread between them; else there is none. Every value is kept.
"""

import difflib
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from statistics import fmean, stdev

from bedstone.errors import Unknown
from bedstone.materials.composition import (
    BulkDensity,
    Isotherm,
    LibraryIngredient,
    LibraryLevel,
    LibraryNutrient,
    LibraryRequirement,
    PublishedValue,
    Source,
    What,
)
from bedstone.materials.library_tables import (
    read_densities,
    read_ingredients,
    read_isotherms,
    read_nutrients,
    read_requirements,
    read_sources,
    read_values,
    with_dry_matter,
)

__all__ = ["Library", "library"]

KINDS = {
    "feed tables and analysed samples": ("feed table", "analysed"),
    "specifications and guides": ("specification", "guide"),
    "food tables": ("food table",),
    "guides that print one figure": ("rounded guide",),
    "what a pure compound must hold": ("pure compound",),
}
"""Kinds of sources in words, the best first."""
NEAR = 5


@dataclass(frozen=True)
class Library:
    """Ingredients, nutrients, sources, and every published value."""

    ingredients: Mapping[str, LibraryIngredient]
    nutrients: Mapping[str, LibraryNutrient]
    sources: Mapping[str, Source]
    values: tuple[PublishedValue, ...]
    densities: tuple[BulkDensity, ...]
    isotherms: tuple[Isotherm, ...]
    requirements: tuple[LibraryRequirement, ...]
    _by_pair: dict[tuple[str, str], list[PublishedValue]] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Put the values in order."""
        pairs: dict[tuple[str, str], list[PublishedValue]] = defaultdict(list)
        for value in self.values:
            pairs[value.ingredient, value.nutrient].append(value)
        object.__setattr__(self, "_by_pair", dict(pairs))

    def find(self, words: str) -> tuple[LibraryIngredient, ...]:
        """Ingredients by code or any of their names; else those whose names hold the words.

        Raises
        ------
        Unknown
            If none does; near names are offered.
        """
        asked = words.strip().lower()
        names = {
            code: [code, row.name.lower(), *(name.lower() for name in row.other_names)]
            for code, row in self.ingredients.items()
        }
        exact = [code for code, called in names.items() if asked in called]
        found = exact or [
            code for code, called in names.items() if any(asked in name for name in called)
        ]
        if not found:
            every = {name: code for code, called in names.items() for name in called}
            near = difflib.get_close_matches(asked, every, NEAR, 0.5)
            raise Unknown(
                "The library has no such ingredient.",
                seen=words,
                allowed="near names: " + ", ".join(near) if near else "bedstone library lists all",
            )
        return tuple(self.ingredients[code] for code in found)

    def values_of(self, ingredient: str, nutrient: str) -> tuple[PublishedValue, ...]:
        """Every published value of a nutrient of an ingredient; none if no source gives it."""
        return tuple(self._by_pair.get((ingredient, nutrient), ()))

    def level(
        self, ingredient: str, nutrient: str, *, dry_matter_frac: float | None = None
    ) -> LibraryLevel | None:
        """What an ingredient holds of a nutrient by the library's rule; None if it is unknown.

        Values printed in dry matter are brought to as fed with ``dry_matter_frac``, the mill's own,
        else with the dry matter that the sources give; if they give none, they serve for nothing.

        Raises
        ------
        Unknown
            If the library has no such ingredient or nutrient at all.
        """
        if ingredient not in self.ingredients:
            raise Unknown("The library has no such ingredient.", seen=ingredient)
        if nutrient not in self.nutrients:
            raise Unknown(
                "The library has no such nutrient.",
                seen=nutrient,
                allowed=", ".join(self.nutrients),
            )
        row, values = self.nutrients[nutrient], self.values_of(ingredient, nutrient)
        if dry_matter_frac is not None:
            values = tuple(with_dry_matter(value, row.unit, dry_matter_frac) for value in values)
        return pooled(values, row)

    def levels_of(
        self, ingredient: str, *, dry_matter_frac: float | None = None
    ) -> tuple[LibraryLevel, ...]:
        """Every level that is known of an ingredient, in the order of the nutrients."""
        found = (
            self.level(ingredient, nutrient, dry_matter_frac=dry_matter_frac)
            for nutrient in self.nutrients
        )
        return tuple(level for level in found if level is not None)

    def densities_of(self, ingredient: str) -> tuple[BulkDensity, ...]:
        """Bulk densities and other physical properties of an ingredient."""
        return tuple(row for row in self.densities if row.ingredient == ingredient)


def pooled(values: Sequence[PublishedValue], nutrient: LibraryNutrient) -> LibraryLevel | None:
    """The level that published values give by the library's rule; None if they give none.

    Parameters
    ----------
    values : sequence of PublishedValue
        All values of one nutrient of one ingredient.
    nutrient : LibraryNutrient
        The nutrient.

    Returns
    -------
    level : LibraryLevel or None
        As fed.
    """
    words, used = _best(values)
    if not used:
        return None
    families: dict[str, list[float]] = defaultdict(list)
    for value in used:
        families[value.source.family].append(value.as_fed or 0.0)
    by_family = [fmean(rows) for rows in families.values()]
    mean = fmean(by_family)
    sd, sd_is = _spread(used, by_family, values, mean)
    return LibraryLevel(
        ingredient=used[0].ingredient,
        nutrient=nutrient.name,
        mean=mean,
        unit=nutrient.unit,
        sd=sd,
        sd_is=sd_is,
        sources=len(families),
        rule=f"{'mean of ' if len(used) > 1 else ''}{words}",
        used=tuple(used),
        all_values=tuple(values),
    )


def _best(values: Sequence[PublishedValue]) -> tuple[str, list[PublishedValue]]:
    """The means of the best kind of source that has any, and what that kind is called."""
    means = [value for value in values if value.what is What.MEAN and value.as_fed is not None]
    for words, kinds in KINDS.items():
        used = [value for value in means if value.source.kind in kinds]
        if used:
            return words, used
    return "", []


def _spread(
    used: Iterable[PublishedValue],
    by_family: Sequence[float],
    values: Iterable[PublishedValue],
    mean: float,
) -> tuple[float | None, str]:
    """The spread and what it is: between samples as stated, else between sources, else none."""
    stated = [value.as_fed_sd for value in used if value.as_fed_sd is not None]
    if stated:
        return math.sqrt(fmean(sd * sd for sd in stated)), "between samples"
    varying = [value.value for value in values if value.what is What.VARIATION]
    if varying:
        return fmean(varying) / 100 * mean, "between samples, by the coefficient of variation"
    if len(by_family) > 1:
        return stdev(by_family), "between sources"
    return None, ""


@cache
def library() -> Library:
    """The library as it ships."""
    sources = read_sources()
    ingredients, nutrients = read_ingredients(), read_nutrients()
    return Library(
        ingredients=ingredients,
        nutrients=nutrients,
        sources=sources,
        values=read_values(ingredients, nutrients, sources),
        densities=read_densities(sources),
        isotherms=read_isotherms(sources),
        requirements=read_requirements(sources),
    )
