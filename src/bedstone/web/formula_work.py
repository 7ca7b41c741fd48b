"""What-if: a product's problem as it is asked on its page, and changed by what was dragged there.

The problem and its first answer are kept while the record stands. Which ingredients are used is
chosen once; while one drags, only shares move, so that the answer is there at once.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from bedstone.desk.formula_answer import Formulated, formulate
from bedstone.desk.formula_levels import Composed
from bedstone.desk.formulate import Choices
from bedstone.errors import BadInput
from bedstone.formulation.answers import FormulaAnswer
from bedstone.formulation.model import Basis, FormulaIngredient, FormulaProblem, Requirement
from bedstone.formulation.whatif import with_level
from bedstone.quantities.units import DIMENSIONS, from_si, to_si
from bedstone.web.kept import Kept
from bedstone.web.show import Show
from bedstone.web.site import Site
from bedstone.web.typed_measure import typed_number

__all__ = [
    "Asking",
    "Slider",
    "asking",
    "chosen",
    "limit_sliders",
    "price_sliders",
    "typed_amount",
]

PCT = 100.0
PRICE_STEP = 0.01
REACH = 0.4
"""How far a slider goes each way from where it stands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asking:
    """What is asked on a page: the base with its answer, and the problem after the changes."""

    base: Formulated
    problem: FormulaProblem  # with the choices of the base's answer, and the changes
    changed: tuple[str, ...]  # names of what was changed, in words


@dataclass(frozen=True, slots=True, kw_only=True)
class Slider:
    """A value that can be dragged, in the unit that the page shows."""

    name: str
    words: str
    unit: str
    value: float
    base: float
    low: float
    high: float
    step: float


_KEPT = Kept[Formulated]()


def chosen(site: Site, query: Mapping[str, str]) -> Choices:
    """The choices of a query: where compositions come from, and the odds.

    Raises
    ------
    BadInput
        If one of them is none of what can be chosen.
    """
    source = query.get("from") or Composed.TABLES.value
    if source not in {one.value for one in Composed}:
        raise BadInput(
            "Compositions come from elsewhere.",
            seen=repr(source[:40]),
            allowed=", ".join(one.value for one in Composed),
        )
    typed = query.get("odds", "").strip()
    odds = typed_amount(typed, "odds") / PCT if typed else None
    if odds is not None and not 0.5 <= odds <= 0.9999:  # noqa: PLR2004 - as in formula_rules.csv
        raise BadInput(
            "Such odds cannot be asked.", seen=f"{typed[:20]} %", allowed="50 to 99.99 %"
        )
    return Choices(on=site.today(), composed=Composed(source), odds_frac=odds)


def typed_amount(text: str, what: str) -> float:
    """The number that a person means, not below nothing.

    Raises
    ------
    BadInput
        If it is none.
    """
    value = typed_number(text, what=what)
    if value < 0:
        raise BadInput(f"The {what} is below nothing.", seen=text[:40], allowed="0 or more")
    return value


def asking(site: Site, product: str, query: Mapping[str, str]) -> Asking:
    """What is asked of a product by a query; the base is solved once and kept.

    Raises
    ------
    BadInput
        If something in the query cannot be understood.
    """
    return _asked_of(site, _base(site, product, chosen(site, query)), query)


def _base(site: Site, product: str, choices: Choices) -> Formulated:
    return _KEPT.get(
        site.record,
        (product, choices.composed, choices.odds_frac, choices.on),
        lambda: formulate(site.record, product, choices),
    )


def _asked_of(site: Site, base: Formulated, query: Mapping[str, str]) -> Asking:
    """The base with the prices and limits of a query, where they differ from it."""
    show = Show.of(site.mill())
    problem, changed = base.asked.problem, []
    if base.answer is not None:
        problem = _choices_held(problem, base.answer)
    rows = []
    for row in problem.ingredients:
        typed, shown = query.get(f"price.{row.code}", ""), _shown_price(row.price_usd_t, show)
        price = typed_amount(typed, f"price of {row.name}") if typed else shown
        if abs(price - shown) <= PRICE_STEP:
            rows.append(row)
            continue
        changed.append(f"{row.name} at {price:.2f}")
        unit = DIMENSIONS["usd_t"].written(show.units)
        rows.append(replace(row, price_usd_t=float(to_si(Decimal(str(price)), unit))))
    requirements = []
    for need in problem.requirements:
        moved, words = _moved(need, query)
        requirements.append(moved)
        changed += words
    problem = replace(problem, ingredients=tuple(rows), requirements=tuple(requirements))
    if query.get("assay", "").strip():
        problem, said = _as_if_assayed(problem, query)
        changed.append(said)
    return Asking(base=base, problem=problem, changed=tuple(changed))


def _shown_price(usd_t: float, show: Show) -> float:
    return float(from_si(usd_t, DIMENSIONS["usd_t"].written(show.units)))


def _moved(row: Requirement, query: Mapping[str, str]) -> tuple[Requirement, list[str]]:
    words = []
    for side, word in (("minimum", "at least"), ("maximum", "at most")):
        typed, limit = query.get(f"{side}.{row.code}", ""), getattr(row, side)
        if not typed or limit is None or not row.may_give:
            continue
        value = typed_amount(typed, row.name)
        if abs(value - limit) > _step(limit) / 2:
            row = replace(row, minimum=value) if side == "minimum" else replace(row, maximum=value)
            words.append(f"{row.name} {word} {value:g} {_unit(row)}".rstrip())
    return row, words


def _as_if_assayed(problem: FormulaProblem, query: Mapping[str, str]) -> tuple[FormulaProblem, str]:
    """The problem as if an ingredient held another level of a nutrient, with its spread unchanged.

    Raises
    ------
    BadInput
        If the ingredient is none of the formula, or nothing is known of that nutrient in it.
    """
    code, nutrient = query.get("of", ""), query.get("nutrient", "")
    row = next((one for one in problem.ingredients if one.code == code), None)
    level = None if row is None else row.levels.get(nutrient)
    if row is None or level is None:
        raise BadInput(
            "What if what assayed otherwise?",
            seen=f"{nutrient[:40]} of {code[:40]}" if nutrient or code else "neither named",
            allowed="an ingredient of this formula, and a nutrient that is known of it",
        )
    value = typed_amount(query["assay"].strip(), f"{nutrient} of {row.name}")
    words = f"{row.name} with {value:g} {level.unit} of {nutrient} (was {level.mean:.4g})"
    return with_level(problem, code, nutrient, replace(level, mean=value)), words


def _choices_held(problem: FormulaProblem, answer: FormulaAnswer) -> FormulaProblem:
    """The problem with the ingredients of an answer: what was left out stays out."""
    used = answer.shares

    def held(row: FormulaIngredient) -> FormulaIngredient:
        if row.code not in used:
            return replace(row, min_frac=0.0, max_frac=0.0, use_at_least_frac=None)
        least = max(row.min_frac, row.use_at_least_frac or 0.0)
        return replace(row, min_frac=least, use_at_least_frac=None)

    if problem.ingredients_max is None and not any(
        row.use_at_least_frac for row in problem.ingredients
    ):
        return problem
    return replace(
        problem, ingredients=tuple(held(row) for row in problem.ingredients), ingredients_max=None
    )


def price_sliders(asked: Asking, show: Show) -> list[Slider]:
    """A slider for the price of each ingredient that may be more or less."""
    base = {row.code: row for row in asked.base.asked.problem.ingredients}
    sliders = []
    for row in asked.problem.ingredients:
        was = base[row.code]
        if was.max_frac - was.min_frac <= 0:
            continue
        now, before = _shown_price(row.price_usd_t, show), _shown_price(was.price_usd_t, show)
        sliders.append(
            Slider(
                name=f"price.{row.code}",
                words=row.name,
                unit=f"USD a {'ton' if show.us else 't'}",
                value=round(now, 2),
                base=round(before, 2),
                low=round(before * (1 - REACH)),
                high=round(before * (1 + REACH)) + 1,
                step=PRICE_STEP,
            )
        )
    return sliders


def limit_sliders(asked: Asking) -> list[Slider]:
    """A slider for each limit that may give in."""
    base = {row.code: row for row in asked.base.asked.problem.requirements}
    sliders = []
    for row in asked.problem.requirements:
        for side, word in (("minimum", "at least"), ("maximum", "at most")):
            now, was = getattr(row, side), getattr(base[row.code], side)
            if was is None or not row.may_give:
                continue
            step = _step(was)
            sliders.append(
                Slider(
                    name=f"{side}.{row.code}",
                    words=f"{row.name}, {word}",
                    unit=_unit(row),
                    value=now,
                    base=was,
                    low=round(was * (1 - REACH) / step) * step,
                    high=round(was * (1 + REACH) / step) * step,
                    step=step,
                )
            )
    return sliders


def _unit(row: Requirement) -> str:
    """The unit of a limit; a ratio of two levels in one unit has none."""
    if row.is_ratio:
        return "" if row.unit == row.per_unit else f"{row.unit} per {row.per_unit}"
    return row.unit if row.basis is Basis.AS_FED else f"{row.unit} of dry matter"


def _step(value: float) -> float:
    """A step of about a two-hundredth of a value: 1, 2 or 5 and noughts."""
    step = 1e-4
    for candidate in (1e-3, 2e-3, 5e-3, 1e-2, 2e-2, 5e-2, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0):
        if candidate <= value / 150:
            step = candidate
    return step
