"""What is known of an ingredient: each nutrient by the tables, the assays and the bins, as bars."""

from fastapi import APIRouter, Request
from fastapi.responses import Response

from bedstone.desk.assays import assays
from bedstone.desk.formula_levels import Composed, known_levels
from bedstone.desk.formula_prices import price_of
from bedstone.errors import Unknown
from bedstone.formulation.model import NutrientLevel
from bedstone.web.formula_pictures import level_picture
from bedstone.web.site import site_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
WORDS = {Composed.TABLES: "tables", Composed.ASSAYS: "assays", Composed.BINS: "bins"}


@router.get("/ingredients")
def ingredients(request: Request) -> Response:
    """Every ingredient with its price today and how many nutrients are known of it."""
    site = site_of(request)
    mill = site.mill()
    known = known_levels(site.record, mill.ingredient_by_code, composed=Composed.ASSAYS)
    rows = [
        (row, price_of(mill, row.ingredient, on=site.today()), len(known[row.ingredient].levels))
        for row in mill.ingredients
    ]
    return site.page(request, "ingredients.html", rows=rows)


@router.get("/ingredients/{code}")
def one_ingredient(request: Request, code: str) -> Response:
    """One ingredient: its nutrients with the spread of lots, and the mill's own assays."""
    site = site_of(request)
    mill = site.mill()
    row = mill.ingredient_by_code.get(code)
    if row is None:
        raise Unknown(f"There is no ingredient {code!r}.", do="see the list of ingredients")
    known = {
        composed: known_levels(site.record, [code], composed=composed)[code] for composed in WORDS
    }
    same = {code, row.ground_from} - {""}
    own = [item for item in assays(site.record) if item.of in same]
    nutrients = sorted({name for one in known.values() for name in one.levels})
    pictures = []
    for nutrient in nutrients:
        levels: list[tuple[str, NutrientLevel]] = [
            (WORDS[composed], one.levels[nutrient])
            for composed, one in known.items()
            if nutrient in one.levels
        ]
        values = [item.value for item in own if item.nutrient == nutrient]
        pictures.append((nutrient, levels, values, level_picture(levels, values, nutrient)))
    return site.page(
        request,
        "ingredient.html",
        row=row,
        price=price_of(mill, code, on=site.today()),
        pictures=pictures,
        bins=known[Composed.BINS],
        own=own[::-1],
        today=site.today(),
    )
