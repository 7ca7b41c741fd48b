"""Who may eat a lot with so much of a mould toxin: action, advisory and guidance levels."""

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources

__all__ = ["TOXINS", "Eater", "ToxinLevel", "commodity_of", "eaters_of", "level_for", "may_eat"]

TOXINS = {"aflatoxin": "ug/kg", "don": "mg/kg", "fumonisin": "mg/kg"}
"""Toxins with levels, and the unit in which each is usually read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ToxinLevel:
    """A level of a toxin in a commodity for a class of animals."""

    toxin: str
    commodity: str
    eaters: str
    level_mg_kg: float
    share_max_frac: float | None
    diet_mg_kg: float | None
    kind: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Eater:
    """A feed with who eats it and how much of the ingredient is in it."""

    product: str
    species: str
    life_stage: str
    share_frac: float


def _rows(name: str) -> list[dict[str, str]]:
    text = resources.files("bedstone.receiving").joinpath(f"data/{name}.csv").read_text()
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


@cache
def _levels() -> dict[tuple[str, str, str], ToxinLevel]:
    def number(text: str) -> float | None:
        return float(text) if text else None

    return {
        (row["toxin"], row["commodity"], row["eaters"]): ToxinLevel(
            toxin=row["toxin"],
            commodity=row["commodity"],
            eaters=row["eaters"],
            level_mg_kg=float(row["level_mg_kg"]),
            share_max_frac=number(row["share_max_frac"]),
            diet_mg_kg=number(row["diet_mg_kg"]),
            kind=row["kind"],
            source=row["source"],
        )
        for row in _rows("toxin_levels")
    }


@cache
def eaters_of(toxin: str, species: str, life_stage: str) -> str:
    """The class of animals of a toxin's table that a feed is for; "other" if none is listed."""

    def fits(words: str, text: str) -> bool:
        return words == "*" or any(word in text.lower() for word in words.split())

    for row in _rows("eaters"):
        known = row["toxin"] == toxin and fits(row["species"], species)
        if known and fits(row["stage"], life_stage):
            return row["eaters"]
    return "other"


def commodity_of(toxin: str, library: str, ingredient_class: str) -> str:
    """The commodity of a toxin's table that an ingredient is.

    Parameters
    ----------
    toxin : str
        The toxin.
    library : str
        Code of the composition library, empty if the mill names none.
    ingredient_class : str
        Class of the mill's ingredients table.

    Returns
    -------
    commodity : str
        A commodity of the table; "any" if it is in none of its own.
    """
    if "cottonseed" in library:
        found = "cottonseed meal"
    elif toxin == "aflatoxin":
        found = "corn" if library == "corn" or library.startswith(("corn-ear", "peanut")) else "any"
    elif toxin == "fumonisin":
        by_corn = library.startswith(("corn", "hominy", "ddgs", "distillers"))
        found = "corn" if by_corn else "any"
    else:
        spirit = library.startswith(("ddgs", "distillers", "corn-gluten", "brewers"))
        grain = ingredient_class in {"grain", "ground grain", "by-product"}
        found = "distillers" if spirit else "grain" if grain else "any"
    return found


@cache
def level_for(toxin: str, commodity: str, eaters: str) -> ToxinLevel | None:
    """The level that stands for a commodity and a class; that of "other" or "any" where the pair has
    no row of its own, None where the table has no level at all.
    """
    levels = _levels()
    for key in (
        (toxin, commodity, eaters),
        (toxin, commodity, "other"),
        (toxin, "any", eaters),
        (toxin, "any", "other"),
    ):
        if key in levels:
            return levels[key]
    return None


def may_eat(toxin: str, seen_mg_kg: float, commodity: str, eater: Eater) -> str:
    """Why a lot must not go into a feed; empty if it may.

    Either limit alone keeps it out: the level in the ingredient, or what the whole diet then holds,
    which is the level at the largest share of the guidance. Shares are as fed; the guidance on fumonisin counts dry matter, which
    differs little for grain.

    Parameters
    ----------
    toxin : str
        The toxin.
    seen_mg_kg : float
        What was found. [mg/kg]
    commodity : str
        Commodity of the table.
    eater : Eater
        The feed.

    Returns
    -------
    why : str
        A sentence with the level and its source, or nothing.
    """
    level = level_for(toxin, commodity, eaters_of(toxin, eater.species, eater.life_stage))
    if level is None:
        return ""
    rule = f"{level.kind} for {eater.species}, {eater.life_stage} ({level.source})"
    if seen_mg_kg > level.level_mg_kg:
        return f"{seen_mg_kg:g} mg/kg {toxin} is above {level.level_mg_kg:g} mg/kg, {rule}"
    if level.diet_mg_kg is not None and seen_mg_kg * eater.share_frac > level.diet_mg_kg:
        diet = seen_mg_kg * eater.share_frac
        return f"the feed would hold {diet:.3g} mg/kg {toxin}, above {level.diet_mg_kg:g}, {rule}"
    return ""
