"""A week's answer, or why it has none, in the mill's words."""

from collections.abc import Callable, Sequence

import numpy as np

from bedstone.errors import Fault, NoAnswer
from bedstone.formulation.joint_columns import Shortage
from bedstone.formulation.joint_model import ProductOfWeek, WeekProblem
from bedstone.formulation.words import number

__all__ = ["choices_kept", "no_week", "products_alone", "why_so_much"]

NOTHING_T = 1e-9
NOTHING_USD_T = 1e-6
NEED_FRAC = 1e-6  # a need below this part of the whole is not worth a line


def choices_kept(product: str) -> str:
    """A note that a product's choices were made before the week was solved."""
    return (
        f"{product}: which ingredients it uses was chosen as if it were made alone at the cheapest "
        "offers, and kept; another choice might make the week cheaper"
    )


def products_alone(products: Sequence[ProductOfWeek]) -> NoAnswer:
    """Products whose own demands contradict each other."""
    names = ", ".join(product.problem.product for product in products)
    return NoAnswer(
        f"Demands contradict each other, whatever there is of the materials: {names}.",
        do="formulate each alone: it says which demands clash and what would have to give",
    )


def no_week(week: WeekProblem, shortage: Shortage) -> NoAnswer:
    """Materials that do not suffice, with the proof and the products that need them."""
    scale = float(shortage.weights.max()) or 1.0
    weights = shortage.weights / scale
    needed = [int(at) for at in np.argsort(-weights, kind="stable") if weights[at] > 0]
    names = [week.materials[at].name or week.materials[at].code for at in needed]
    what = " and ".join(names)
    how = ""
    if len(needed) > 1:
        how = ", counted " + " : ".join(number(float(weights[at])) for at in needed)
    need_t, there_t = shortage.need_t / scale, shortage.there_t / scale
    faults = [
        Fault(
            column=week.products[int(at)].problem.product,
            found=f"needs at least {number(float(shortage.product_need_t[at]) / scale)} t",
            allowed="a share of what there is",
        )
        for at in np.argsort(-shortage.product_need_t, kind="stable")
        if shortage.product_need_t[at] > NEED_FRAC * shortage.need_t
    ]
    more = "; ".join(
        f"at least {number(float(short))} t more of {material.name or material.code}"
        for material, short in zip(week.materials, shortage.least_short_t, strict=True)
        if short > NOTHING_T
    )
    return NoAnswer(
        f"The week needs more {what} than can be had, whatever the formulas.",
        seen=f"{number(need_t)} t needed at least{how}; {number(there_t)} t can be had",
        do=f"get {more}; or make less of the products below, or ease their limits",
        faults=tuple(faults),
    )


def why_so_much(
    mass_t: float,
    *,
    last_usd_t: float | None,
    next_usd_t: float | None,
    worth_usd_t: float,
    said: Callable[[float], str],
) -> str:
    """Why a product gets so much of a material and no more.

    Parameters
    ----------
    mass_t : float
        What it gets. [t]
    last_usd_t, next_usd_t : float or None
        What less of it would cost the product and more would save it. [USD/t]
    worth_usd_t : float
        What it is worth to the week. [USD/t]
    said : callable
        A price of a ton in the reader's words, its unit with it.

    Returns
    -------
    why : str
        A sentence.
    """
    if next_usd_t is None:
        coming = "it cannot take more"
    elif next_usd_t <= NOTHING_USD_T:
        coming = "more would save it nothing"
    else:
        worth = f"the {said(worth_usd_t)} that it is worth to the week"
        coming = f"more would save it {said(next_usd_t)}, no more than {worth}"
    if mass_t <= NOTHING_T:
        return f"gets none: {coming}"
    if last_usd_t is None:
        return f"it cannot do with less; {coming}"
    return f"less would cost it {said(last_usd_t)}; {coming}"
