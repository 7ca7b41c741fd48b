"""All products that are on order, on the stock and the contracts that they share: one optimum."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from bedstone.desk.formula_prices import price_of, standing
from bedstone.desk.formulate import Asked, Choices, asked
from bedstone.desk.made import made_batches
from bedstone.desk.orders import all_orders
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import NotSettled, Refused
from bedstone.formulation.arrays import compile_problem
from bedstone.formulation.joint import WeekWork
from bedstone.formulation.joint_model import (
    BuyingLimits,
    Claim,
    JointAnswer,
    Offer,
    OfferKind,
    ProductOfWeek,
    SharedMaterial,
    WeekProblem,
)
from bedstone.formulation.optimum import optimum
from bedstone.mill.model import Mill, Price
from bedstone.mill.plan import BatchKind

__all__ = ["FormulatedWeek", "formulate_week", "week_tonnes"]

KG_T, MG_T = 1000.0, 1e9
WEEK_DAYS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class FormulatedWeek:
    """The cheapest week; for each scarce material who gets it and why, and what to buy at most.

    ``alone_usd_t`` is what a ton of each product costs by its own cheapest formula at the price of
    the next ton of everything, whatever there is of it.
    """

    asked: tuple[Asked, ...]
    answer: JointAnswer
    claims: Mapping[str, tuple[Claim, ...]]
    buying: Mapping[str, BuyingLimits]
    alone_usd_t: Mapping[str, float]


def week_tonnes(record: Record, at: dt.datetime) -> dict[str, float]:
    """Tonnes of each product for a week like the last one, and no less than what is on order.

    That is what was mixed of it in the seven days before ``at``, or what open orders still ask
    for, whichever is more.
    """
    began = at - dt.timedelta(days=WEEK_DAYS)
    mixed: dict[str, float] = {}
    for batch in made_batches(record).values():
        if batch.made.kind is BatchKind.FEED and began < batch.happened_at <= at:
            product = batch.made.material
            mixed[product] = mixed.get(product, 0.0) + batch.mass_mg / MG_T
    wanted: dict[str, float] = {}
    for row in all_orders(record):
        if row.status == "open" and row.left_mg > 0:
            product = row.order.product
            wanted[product] = wanted.get(product, 0.0) + row.left_mg / MG_T
    return {
        product: max(mixed.get(product, 0.0), wanted.get(product, 0.0))
        for product in sorted({*mixed, *wanted})
    }


def formulate_week(
    record: Record,
    tonnes: Mapping[str, float],
    choices: Choices,
    *,
    offers: Mapping[str, float] | None = None,
) -> FormulatedWeek:
    """One optimum over products that share stock and contracts.

    Parameters
    ----------
    record : Record
        The record.
    tonnes : mapping of str to float
        How much of each product.
    choices : Choices
        As for one product.
    offers : mapping of str to float, optional
        Materials that somebody offers at a price: how much of each to buy at most. [USD/t]

    Raises
    ------
    Refused
        If no product is asked for.
    Unknown
        If something is offered that no product of the week may hold.
    NoAnswer
        If a product cannot be made at all, or materials do not suffice; it says which.
    """
    if not tonnes:
        raise Refused(
            "Nothing is on order and nothing was mixed in the last week: there is no week to formulate.",
            do="enter orders, or formulate single products",
        )
    mill = current_mill(record)
    puts = tuple(asked(record, product, choices) for product in sorted(tonnes))
    used = sorted({row.code for put in puts for row in put.problem.ingredients if row.max_frac > 0})
    bought = [code for code in used if code in mill.ingredient_by_code]
    stock_t = _stock_t(record, mill, bought)
    ground_into = _ground_into(mill, bought)
    materials = tuple(
        _material(mill, code, stock_t, choices, ground_into=ground_into) for code in bought
    )
    week = WeekProblem(
        products=tuple(
            ProductOfWeek(problem=put.problem, mass_t=tonnes[put.product]) for put in puts
        ),
        materials=materials,
    )
    work = WeekWork(week)
    answer = work.answer()
    scarce = [row.code for row in answer.materials if row.scarce]
    told = dict.fromkeys([*scarce, *(offers or {})])
    return FormulatedWeek(
        asked=puts,
        answer=answer,
        claims={code: work.claims(code) for code in told},
        buying={
            code: work.buying_limits(code, (offers[code],) if offers and code in offers else ())
            for code in told
        },
        alone_usd_t={put.product: _alone_usd_t(put) for put in puts},
    )


def _alone_usd_t(put: Asked) -> float:
    """What a ton costs by the product's own cheapest formula."""
    found = optimum(compile_problem(put.problem))
    if found is None:  # what fits jointly fits alone
        raise NotSettled(f"No formula of {put.product} was found alone, but one jointly.")
    return found.point.cost


def _stock_t(record: Record, mill: Mill, codes: list[str]) -> dict[str, float]:
    """Book stock of each material; whole grain counts with what most of it is ground into.

    That is the ground ingredient whose share in the running formulas is largest.
    """
    booked: dict[str, float] = {}
    for line in record.stock():
        if line.place in mill.bin_by_code:
            booked[line.material] = booked.get(line.material, 0.0) + line.mass_mg / MG_T
    stock = {code: max(0.0, booked.get(code, 0.0)) for code in codes}
    for grain, into in _ground_into(mill, codes).items():
        if grain not in stock:
            stock[into] += max(0.0, booked.get(grain, 0.0))
    return stock


def _ground_into(mill: Mill, codes: list[str]) -> dict[str, str]:
    running = {(row.product, row.version) for row in mill.formulas if row.status == "running"}
    weight = dict.fromkeys(codes, 0.0)
    for line in mill.formula_lines:
        if (line.product, line.version) in running and line.ingredient in weight:
            weight[line.ingredient] += line.parts_frac
    into: dict[str, str] = {}
    for code in sorted(codes, key=lambda one: (weight[one], one)):
        grain = mill.ingredient_by_code[code].ground_from
        if grain:
            into[grain] = code
    return into


def _material(
    mill: Mill,
    code: str,
    stock_t: Mapping[str, float],
    choices: Choices,
    *,
    ground_into: Mapping[str, str],
) -> SharedMaterial:
    """A material with what may be had of it.

    A contract of whole grain counts once: with what most of the grain is ground into.
    """
    row = mill.ingredient_by_code[code]
    raw = mill.ingredient_by_code.get(row.ground_from)
    rows = [item for item in standing(mill, choices.on) if item.ingredient == code]
    more_usd_t = 0.0
    if not rows and raw is not None:
        rows = [
            item
            for item in standing(mill, choices.on)
            if item.ingredient == raw.ingredient
            and (not item.contract or ground_into.get(raw.ingredient) == code)
        ]
        more_usd_t = row.price_usd_t - raw.price_usd_t
    worth = choices.prices_usd_t.get(code, price_of(mill, code, on=choices.on).price_usd_t)
    offers = [_offer(mill, item, more_usd_t) for item in rows if item.contract]
    spot = [item for item in rows if not item.contract]
    if spot and code not in choices.prices_usd_t:
        offers += [_offer(mill, item, more_usd_t) for item in spot]
    else:
        offers.append(Offer(kind=OfferKind.SPOT, name="market", price_usd_t=worth))
    return SharedMaterial(
        code=code,
        name=mill.name_of(code),
        stock_t=stock_t[code],
        value_usd_t=worth,
        offers=tuple(offers),
    )


def _offer(mill: Mill, row: Price, more_usd_t: float) -> Offer:
    seller = mill.name_of(row.supplier) if row.supplier else "market"
    return Offer(
        kind=OfferKind.CONTRACT if row.contract else OfferKind.SPOT,
        name=f"{seller}, {row.contract}" if row.contract else seller,
        price_usd_t=max(0.0, row.price_usd_t + more_usd_t),
        min_t=(row.mass_min_kg or 0.0) / KG_T,
        max_t=None if row.mass_max_kg is None else row.mass_max_kg / KG_T,
    )
