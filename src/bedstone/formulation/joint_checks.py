"""What a week must be to be understood."""

import math
from collections import Counter
from collections.abc import Iterator

from bedstone.errors import BadInput, Fault
from bedstone.formulation.joint_model import SharedMaterial, WeekProblem

__all__ = ["refuse_bad_week"]

FROM_NOTHING = "a number from 0 up"


def refuse_bad_week(week: WeekProblem) -> None:
    """Refuse a week that cannot be understood.

    Raises
    ------
    BadInput
        With every fault.
    """
    faults = [*_product_faults(week)]
    twice = Counter(material.code for material in week.materials)
    faults += [
        Fault(column=code, found=f"this material {count} times", allowed="each material once")
        for code, count in twice.items()
        if count > 1
    ]
    for material in week.materials:
        faults += _material_faults(material)
    if faults:
        raise BadInput("The week cannot be reckoned as it is.", faults=tuple(faults))


def _product_faults(week: WeekProblem) -> Iterator[Fault]:
    if not week.products:
        yield Fault(found="no product", allowed="at least one product with its tons")
    for product in week.products:
        if not (math.isfinite(product.mass_t) and product.mass_t > 0):
            yield Fault(
                column=product.problem.product,
                found=f"{product.mass_t:g} t",
                allowed="more than 0 t",
                do="leave out a product that the week does not ask for",
            )
    twice = Counter(product.problem.product for product in week.products)
    for code, count in twice.items():
        if count > 1:
            yield Fault(
                column=code,
                found=f"this product {count} times",
                allowed="each product once",
                do="add its tons up",
            )


def _material_faults(material: SharedMaterial) -> Iterator[Fault]:
    name = material.name or material.code
    for what, value in (("stock", material.stock_t), ("value", material.value_usd_t)):
        if not _from_nothing(value):
            yield Fault(column=f"{name}, {what}", found=f"{value:g}", allowed=FROM_NOTHING)
    for offer in material.offers:
        where = f"{name}, {offer.kind} {offer.name}".strip()
        if not _from_nothing(offer.price_usd_t):
            yield Fault(
                column=f"{where}, price", found=f"{offer.price_usd_t:g}", allowed=FROM_NOTHING
            )
        if not _from_nothing(offer.min_t):
            yield Fault(
                column=f"{where}, least quantity", found=f"{offer.min_t:g}", allowed=FROM_NOTHING
            )
        if offer.max_t is not None and not (
            math.isfinite(offer.max_t) and offer.max_t >= offer.min_t
        ):
            yield Fault(
                column=f"{where}, greatest quantity",
                found=f"{offer.max_t:g} t",
                allowed=f"{offer.min_t:g} t (its least quantity) or more, or none",
            )


def _from_nothing(value: float) -> bool:
    return math.isfinite(value) and value >= 0
