"""Formula problems for tests: short to write, and random ones of a stated size."""

import numpy as np

from bedstone.formulation.model import (
    Basis,
    FormulaIngredient,
    FormulaProblem,
    IngredientGroup,
    NutrientLevel,
    Requirement,
    Term,
)

__all__ = ["ingredient", "need", "problem", "random_problem"]


def ingredient(code: str, price: float, **given: object) -> FormulaIngredient:
    """An ingredient; nutrients as per cent by keyword, as a mean or (mean, sd); the rest as named."""
    own = set(FormulaIngredient.__dataclass_fields__)
    levels = {
        name.replace("_", " "): NutrientLevel(mean=value[0], sd=value[1], unit="%")
        if isinstance(value, tuple)
        else NutrientLevel(mean=value, unit="%")
        for name, value in given.items()
        if name not in own
    }
    rest = {name: value for name, value in given.items() if name in own}
    return FormulaIngredient(code=code, price_usd_t=price, levels=levels, **rest)


def need(nutrients: str, low: float | None = None, high: float | None = None, **given: object):
    """A requirement in per cent on a nutrient, or a sum written with +."""
    code = str(given.pop("code", nutrients))
    return Requirement(
        code=code,
        of=tuple(Term(nutrient=name.strip()) for name in nutrients.split("+")),
        unit="%",
        minimum=low,
        maximum=high,
        **given,
    )


def problem(ingredients: list, requirements: list, **given: object) -> FormulaProblem:
    """A problem of a product called TEST."""
    return FormulaProblem(
        product="TEST", ingredients=tuple(ingredients), requirements=tuple(requirements), **given
    )


def random_problem(
    seed: int,
    *,
    size: int = 20,
    nutrients: int = 12,
    odds: int = 0,
    dry: int = 0,
    ratios: int = 0,
    groups: int = 0,
    slack: float = 0.1,
    cv: float = 0.08,
    whole: bool = False,
) -> FormulaProblem:
    """A random problem that something fits. ``whole`` rounds its numbers so that corners are common.

    The first ``odds`` requirements ask 95 %, the next ``dry`` are in dry matter, then ``ratios``.
    """
    rng = np.random.default_rng(seed)
    level = rng.uniform(0, 1, (nutrients, size)) * (rng.random((nutrients, size)) < 0.8)
    level *= np.exp(rng.normal(0, 1, nutrients))[:, None]
    price, shares = rng.uniform(100, 800, size), rng.dirichlet(np.full(size, 0.4))
    dry_matter = rng.uniform(0.86, 0.95, size)
    if whole:
        level, price = np.round(level, 1), np.round(price, -2)
        shares = np.round(shares * 10) / 10
        shares[np.argmax(shares)] += 1 - shares.sum()
        slack = 0.0
    high = np.minimum(1, np.maximum(shares * 1.5 + 1e-3, rng.uniform(0.05, 0.6, size)))
    if whole:
        high = np.ceil(high * 10) / 10
    rows = [
        FormulaIngredient(
            code=f"I{place}",
            price_usd_t=float(price[place]),
            dry_matter_frac=float(dry_matter[place]),
            max_frac=float(high[place]),
            levels={
                f"n{row}": NutrientLevel(
                    mean=float(level[row, place]), sd=float(cv * level[row, place]), unit="%"
                )
                for row in range(nutrients)
            },
        )
        for place in range(size)
    ]
    asked = []
    for row in range(nutrients):
        per: tuple[Term, ...] = ()
        basis, frac = Basis.AS_FED, 0.95 if row < odds else None
        value, spread = float(level[row] @ shares), 0.0
        if row < odds:
            spread = 1.65 * float(np.sqrt(((cv * level[row] * shares) ** 2).sum()))
        if odds <= row < odds + dry:
            basis, value = Basis.DRY_MATTER, value / float(dry_matter @ shares)
        elif odds + dry <= row < odds + dry + ratios:
            per = (Term(nutrient="n0"),)
            value /= max(1e-9, float(level[0] @ shares))
        kind = rng.random()
        low = (value - spread) * (1 - slack * rng.random()) if kind < 0.6 else None
        top = (value + spread) * (1 + slack * rng.random()) if kind > 0.5 else None
        asked.append(
            Requirement(
                code=f"R{row}", of=(Term(nutrient=f"n{row}"),), unit="%", per=per,
                per_unit="%" if per else "", basis=basis, minimum=low, maximum=top, odds_frac=frac,
            )
        )  # fmt: skip
    together = []
    for place in range(groups):
        members = rng.choice(size, 4, replace=False)
        total = float(shares[members].sum())
        together.append(
            IngredientGroup(
                code=f"G{place}",
                ingredients=tuple(f"I{member}" for member in members),
                min_frac=max(0.0, total * (1 - slack)),
                max_frac=min(1.0, total * (1 + slack) + 1e-6),
            )
        )
    return FormulaProblem(
        product=f"random {seed}",
        ingredients=tuple(rows),
        requirements=tuple(asked),
        groups=tuple(together),
    )
