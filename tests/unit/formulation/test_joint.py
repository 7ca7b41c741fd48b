"""The week in the mill's words: who gets what is scarce, what to buy, and why nothing fits."""

import dataclasses

import pytest

from bedstone.errors import BadInput, NoAnswer, Unknown
from bedstone.formulation.joint import WeekWork, joint_week
from bedstone.formulation.joint_model import (
    Offer,
    OfferKind,
    ProductOfWeek,
    SharedMaterial,
    WeekProblem,
)
from bedstone.formulation.least_cost import least_cost
from bedstone.formulation.model import (
    FormulaIngredient,
    FormulaProblem,
    NutrientLevel,
    Requirement,
    Term,
)


def ingredient(code: str, price_usd_t: float, protein: float, sd: float = 0.0) -> FormulaIngredient:
    """An ingredient with protein alone."""
    level = NutrientLevel(mean=protein, unit="%", sd=sd)
    return FormulaIngredient(code=code, price_usd_t=price_usd_t, levels={"protein": level})


def product(
    name: str, mass_t: float, other_usd_t: float, *, odds: float | None = None
) -> ProductOfWeek:
    """A feed of at least 20 % protein from corn (10 %), meal (50 %) and its own other (50 %)."""
    return ProductOfWeek(
        problem=FormulaProblem(
            product=name,
            ingredients=(
                ingredient("MEAL", 0.0, 50, sd=1.0),
                ingredient("CORN", 200.0, 10, sd=0.5),
                ingredient(f"{name}-OTHER", other_usd_t, 50, sd=0.2),
            ),
            requirements=(
                Requirement(
                    code="CP", of=(Term(nutrient="protein"),), unit="%", minimum=20, odds_frac=odds
                ),
            ),
        ),
        mass_t=mass_t,
    )


def week(stock_t: float, *offers: Offer, odds: float | None = None) -> WeekProblem:
    """Layers (10 t, other protein at 600) and calves (4 t, at 900) share meal valued at 400."""
    return WeekProblem(
        products=(product("LAYER", 10, 600, odds=odds), product("CALF", 4, 900, odds=odds)),
        materials=(
            SharedMaterial(
                code="MEAL", name="soybean meal", stock_t=stock_t, value_usd_t=400, offers=offers
            ),
        ),
    )


def test_the_product_that_can_do_without_only_dearly_gets_the_scarce_lot() -> None:
    """By hand: calves take their 1 t first, layers the rest; the ton at the margin is worth 600."""
    answer = joint_week(week(2))
    meal = answer.materials[0]
    assert {use.product: use.mass_t for use in meal.uses} == pytest.approx({"LAYER": 1, "CALF": 1})
    assert meal.scarce
    assert meal.pay_at_most_usd_t == pytest.approx(600)
    # 10 t of layer feed: 7.5 t corn, 1 t meal, 1.5 t other; 4 t calf feed: 3 t corn, 1 t meal
    assert answer.cost_usd == pytest.approx(10.5 * 200 + 2 * 400 + 1.5 * 600)
    assert answer.gap_frac < 1e-9
    assert answer.violation < 1e-9


def test_the_reason_is_what_a_kilogram_saves_each() -> None:
    """Calves would pay 0.90 a kilogram for their last and cannot use more; layers 0.60."""
    claims = {claim.product: claim for claim in WeekWork(week(2)).claims("MEAL")}
    assert claims["CALF"].last_usd_t == pytest.approx(900)
    assert claims["CALF"].next_usd_t == pytest.approx(200)  # it would stand in for corn
    assert claims["LAYER"].last_usd_t == pytest.approx(600)
    assert claims["LAYER"].next_usd_t == pytest.approx(600)
    assert "900.00 USD/t" in claims["CALF"].why


def test_buying_limits_say_how_much_at_what_price() -> None:
    """Up to 600 a ton layers take 1.5 t more; beyond, meal is worth what corn costs."""
    limits = WeekWork(week(2)).buying_limits("MEAL", prices_usd_t=(590.0, 450.0, 610.0))
    assert limits.next_ton_saves_usd == pytest.approx(600)
    assert [step.price_usd_t for step in limits.steps] == [610, 590, 450]
    assert [step.up_to_t for step in limits.steps] == pytest.approx([0, 1.5, 1.5], abs=1e-9)
    assert [step.saves_usd for step in limits.steps] == pytest.approx([0, 15, 225], abs=1e-6)


def test_buying_limits_leave_the_week_as_it_was() -> None:
    """After asking what more would be worth, the answer is the same as before."""
    work = WeekWork(week(2))
    before = work.answer()
    default = work.buying_limits("MEAL")
    assert default.steps[0].price_usd_t < before.materials[0].pay_at_most_usd_t
    assert work.answer() == before
    assert WeekWork(week(2)).answer().cost_usd == pytest.approx(before.cost_usd)


def test_offers_are_taken_cheapest_first_up_to_what_they_save() -> None:
    """A contract at 500 is taken up to its most, the spot market at 650 by calves alone: not at all."""
    contract = Offer(kind=OfferKind.CONTRACT, name="C-1", price_usd_t=500, max_t=1)
    spot = Offer(kind=OfferKind.SPOT, name="", price_usd_t=650)
    meal = joint_week(week(2, contract, spot)).materials[0]
    assert [offer.taken_t for offer in meal.offers] == pytest.approx([1, 0])
    assert [offer.more_saves_usd_t for offer in meal.offers] == pytest.approx([100, 0])
    assert not meal.scarce  # the spot market has more


def test_a_contracts_least_quantity_is_paid_in_any_case() -> None:
    """Forced 3 t at 700 on top of 2 t: what is used counts at its value, the rest as forced cost."""
    forced = Offer(kind=OfferKind.CONTRACT, name="C-2", price_usd_t=700, min_t=3, max_t=4)
    answer = joint_week(week(2, forced))
    assert answer.forced_usd == pytest.approx(3 * 300)
    assert answer.cost_usd == pytest.approx(10.5 * 200 + 3.5 * 400 + 900)
    assert answer.materials[0].left_t == pytest.approx(1.5)
    assert answer.materials[0].offers[0].taken_t == pytest.approx(3)


def test_a_week_of_one_unhurried_product_is_its_single_optimum() -> None:
    """With meal in plenty at its value the joint formula is the single one at that price."""
    alone = product("LAYER", 10, 600).problem
    priced = dataclasses.replace(
        alone, ingredients=(ingredient("MEAL", 400, 50, sd=1.0), *alone.ingredients[1:])
    )
    plenty = SharedMaterial(code="MEAL", stock_t=100, value_usd_t=400)
    answer = joint_week(
        WeekProblem(products=(ProductOfWeek(problem=alone, mass_t=10),), materials=(plenty,))
    )
    single = least_cost(priced)
    assert answer.products[0].cost_usd_t == pytest.approx(single.cost_usd_t)
    assert answer.products[0].shares == pytest.approx(single.shares)


def test_odds_are_kept_and_the_bound_still_proves_it() -> None:
    """With 95 % odds the week costs more, keeps the odds, and its bound is within a millionth."""
    plain, careful = joint_week(week(2)), joint_week(week(2, odds=0.95))
    assert careful.cost_usd > plain.cost_usd
    assert abs(careful.gap_frac) < 1e-6
    shares = careful.products[0].shares
    mean = 50 * shares.get("MEAL", 0) + 10 * shares["CORN"] + 50 * shares["LAYER-OTHER"]
    sd = (
        (1.0 * shares.get("MEAL", 0)) ** 2
        + (0.5 * shares["CORN"]) ** 2
        + (0.2 * shares["LAYER-OTHER"]) ** 2
    ) ** 0.5
    assert mean - 1.6448536 * sd >= 20 - 1e-5  # the 5 % point of the normal distribution


def test_too_little_material_is_said_with_who_needs_it() -> None:
    """Without their others both need 3.5 t of meal; with 2 t the message names meal and both."""
    both = week(2)
    only = tuple(
        ProductOfWeek(
            problem=dataclasses.replace(row.problem, ingredients=row.problem.ingredients[:2]),
            mass_t=row.mass_t,
        )
        for row in both.products
    )
    with pytest.raises(NoAnswer) as caught:
        joint_week(WeekProblem(products=only, materials=both.materials))
    assert "soybean meal" in caught.value.what
    assert "3.5 t needed" in caught.value.seen
    assert "1.5 t more of soybean meal" in caught.value.do
    assert [fault.column for fault in caught.value.faults] == ["LAYER", "CALF"]
    assert "2.5 t" in caught.value.faults[0].found


def test_a_product_that_cannot_be_made_is_named() -> None:
    """Calves whose meal and other are gone cannot reach 20 %: the message names them alone."""
    rows = week(2).products
    calf = dataclasses.replace(rows[1].problem, ingredients=rows[1].problem.ingredients[1:2])
    broken = WeekProblem(
        products=(rows[0], ProductOfWeek(problem=calf, mass_t=4)), materials=week(2).materials
    )
    with pytest.raises(NoAnswer, match="CALF") as caught:
        joint_week(broken)
    assert "LAYER" not in caught.value.what


def test_choices_are_kept_and_said() -> None:
    """A product with "if used, at least" keeps the choice it made alone, with a note."""
    row = product("LAYER", 10, 600)
    chosen = dataclasses.replace(
        row.problem.ingredients[2], use_at_least_frac=0.2
    )  # more than it would need beside meal
    problem = dataclasses.replace(row.problem, ingredients=(*row.problem.ingredients[:2], chosen))
    answer = joint_week(
        WeekProblem(
            products=(ProductOfWeek(problem=problem, mass_t=10),),
            materials=(SharedMaterial(code="MEAL", stock_t=100, value_usd_t=400),),
        )
    )
    assert "LAYER" in answer.notes[0]
    assert "LAYER-OTHER" not in answer.products[0].shares


@pytest.mark.parametrize(
    ("broken", "words"),
    [
        (WeekProblem(products=(), materials=()), "no product"),
        (dataclasses.replace(week(2), products=week(2).products * 2), "2 times"),
        (dataclasses.replace(week(2), materials=week(2).materials * 2), "2 times"),
        (week(-1), "stock"),
        (week(2, Offer(kind=OfferKind.SPOT, name="", price_usd_t=-5)), "price"),
        (
            week(2, Offer(kind=OfferKind.CONTRACT, name="C", price_usd_t=5, min_t=3, max_t=2)),
            "greatest",
        ),
        (
            dataclasses.replace(
                week(2),
                products=(dataclasses.replace(week(2).products[0], mass_t=float("nan")),),
            ),
            "more than 0 t",
        ),
    ],
)
def test_a_week_that_makes_no_sense_is_refused(broken: WeekProblem, words: str) -> None:
    """Bad tons, prices, quantities and doubles are refused by name, not reckoned."""
    with pytest.raises(BadInput, match=words):
        joint_week(broken)


def test_an_unknown_material_is_said_with_those_there_are() -> None:
    """Asking about a material that is not shared names those that are."""
    with pytest.raises(Unknown, match="MEAL"):
        WeekWork(week(2)).claims("BARLEY")
