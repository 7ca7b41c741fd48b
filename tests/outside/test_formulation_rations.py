"""Worked rations of textbooks and extension pages against their printed answers.

Beside each: where it is worked. Where the printed answer is rounded, or was reckoned with rounded
parts, the tolerance says so; "(reckoned here)" marks an answer that the source leaves to the reader.
"""

import pytest

from bedstone.formulation.least_cost import least_cost
from bedstone.formulation.model import Requirement, Term
from fakes.formulas import ingredient, need, problem


def shares_of(ingredients: list, needs: list) -> tuple[dict[str, float], float]:
    """Shares and cost of the cheapest formula."""
    answer = least_cost(problem(ingredients, needs))
    return answer.shares, answer.cost_usd_t


# name: low and high protein [%], their names, wanted [%], printed parts [%], tolerance, source
SQUARES = {
    "corn 10, soybean meal 45 to 14 %": (
        10,
        45,
        14,
        (88.57, 11.43),
        5e-3,
    ),  # CSU 1.618 (reckoned here)
    "corn 8.9, soybean meal 44.4 to 18 %": (
        8.9,
        44.4,
        18,
        (74.4, 25.6),
        0.05,
    ),  # balancing rations, slides
    "barley 8, cottonseed meal 54 to 26 %": (
        8,
        54,
        26,
        (100 * 28 / 46, 100 * 18 / 46),
        1e-6,
    ),  # slides
    "silage 10.8, hay 12.25 to 11 %": (
        10.8,
        12.25,
        11,
        (86.2, 13.8),
        0.05,
    ),  # feed & additive magazine
    "grain 10.8, supplement 39 to 15 %": (
        10.8,
        39,
        15,
        (85.106, 14.894),
        5e-4,
    ),  # Pearson squares, slides
}


@pytest.mark.parametrize("name", SQUARES)
def test_pearson_squares(name: str) -> None:
    """Two feeds to a protein content: the parts of the printed Pearson square."""
    low, high, wanted, printed, close = SQUARES[name]
    feeds = [
        ingredient("LOW", 100.0, protein=float(low)),
        ingredient("HIGH", 300.0, protein=float(high)),
    ]
    shares, _ = shares_of(feeds, [need("protein", float(wanted))])
    assert (100 * shares["LOW"], 100 * shares["HIGH"]) == pytest.approx(printed, abs=close)


@pytest.mark.parametrize(
    ("protein", "corn", "meal"),
    [(18.0, 68.0, 27.0), (16.0, 73.71, 21.29), (14.0, 79.43, 15.57), (12.0, 85.14, 9.86)],
)
def test_a_grower_with_a_fixed_supplement(protein: float, corn: float, meal: float) -> None:
    """5 % supplement without protein, corn 9 and soybean meal 44: corn and meal of each protein.

    Feed Strategy, swine ration equations (the printed equations; parts reckoned here to 0.01).
    """
    feeds = [
        ingredient("CORN", 100.0, protein=9.0),
        ingredient("SBM", 300.0, protein=44.0),
        ingredient("SUPPLEMENT", 900.0, protein=0.0, min_frac=0.05, max_frac=0.05),
    ]
    shares, _ = shares_of(feeds, [need("protein", protein)])
    assert 100 * shares["CORN"] == pytest.approx(corn, abs=6e-3)
    assert 100 * shares["SBM"] == pytest.approx(meal, abs=6e-3)


def test_a_square_with_slack_for_minerals() -> None:
    """18 % protein with 3 % kept free: 71.41 corn, 25.59 soybean meal.

    Balancing Ca and P, course slides; printed parts were reckoned with the target rounded to 18.56.
    """
    feeds = [
        ingredient("CORN", 100.0, protein=8.8),
        ingredient("SBM", 300.0, protein=45.8),
        ingredient("SLACK", 0.0, protein=0.0, min_frac=0.03, max_frac=0.03),
    ]
    shares, _ = shares_of(feeds, [need("protein", 18.0)])
    assert 100 * shares["CORN"] == pytest.approx(71.41, abs=0.02)
    assert 100 * shares["SBM"] == pytest.approx(25.59, abs=0.02)


def test_calcium_and_phosphorus_by_amount() -> None:
    """20 g Ca and 10 g P with 9.6 and 5.5 g in the diet: 24.3 g dicalcium phosphate, 12.95 g limestone.

    Balancing Ca and P, course slides. Shares of a kilogram stand for grams; the rest is empty.
    """
    feeds = [
        ingredient("DIET", 0.0, Ca=1.92, P=1.10, min_frac=0.5, max_frac=0.5),
        ingredient("DICAL", 500.0, Ca=22.0, P=18.5),
        ingredient("LIME", 50.0, Ca=39.0, P=0.0),
        ingredient("EMPTY", 0.0, Ca=0.0, P=0.0),
    ]
    shares, _ = shares_of(feeds, [need("Ca", 2.0), need("P", 1.0)])
    assert 1000 * shares["DICAL"] == pytest.approx(24.3, abs=0.05)
    assert 1000 * shares["LIME"] == pytest.approx(12.95, abs=0.01)


def test_a_feed_mix_of_three() -> None:
    """65 % corn, 3 % limestone, 32 % soybean meal at 0.4916 $/kg, with the prices of both limits.

    A linear-programming textbook's feed mix (printed rounded to whole per cent and four figures).
    """
    feeds = [
        ingredient("LIME", 10.0, Ca=38.0, protein=0.0, fibre=0.0),
        ingredient("CORN", 30.5, Ca=0.1, protein=9.0, fibre=2.0),
        ingredient("SBM", 90.0, Ca=0.2, protein=50.0, fibre=8.0),
    ]
    answer = least_cost(
        problem(feeds, [need("Ca", 0.8, 1.2), need("protein", 22.0), need("fibre", None, 5.0)])
    )
    assert answer.shares == pytest.approx({"LIME": 0.03, "CORN": 0.65, "SBM": 0.32}, abs=5e-3)
    assert answer.cost_usd_t == pytest.approx(49.16, abs=5e-3)
    lines = {line.code: line for line in answer.limits}
    # in cents a kilogram for a whole part, so a hundredth for a per cent
    assert lines["Ca"].marginal_usd_t == pytest.approx(-19.6167 / 100, abs=1e-6)
    assert lines["protein"].marginal_usd_t == pytest.approx(145.1698 / 100, abs=1e-6)


def test_a_ration_of_corn_and_soybean_meal_by_weight() -> None:
    """800 lb with 30 % protein and 5 % fibre: 470.6 and 329.4 lb at 437.64 $.

    H. A. Taha, Operations Research, example 2.2-2 (the optimum from memory, the problem read).
    """
    feeds = [
        ingredient("CORN", 0.30, protein=9.0, fibre=2.0),
        ingredient("SBM", 0.90, protein=60.0, fibre=6.0),
    ]
    shares, cost = shares_of(feeds, [need("protein", 30.0), need("fibre", None, 5.0)])
    assert 800 * shares["CORN"] == pytest.approx(470.6, abs=0.05)
    assert 800 * shares["SBM"] == pytest.approx(329.4, abs=0.05)
    assert 800 * cost == pytest.approx(437.64, abs=0.01)


BLEND = {
    "chicken": (0.013, 10.0, 8.0, 0.1, 0.2),
    "beef": (0.008, 20.0, 10.0, 0.5, 0.5),
    "mutton": (0.010, 15.0, 11.0, 0.3, 0.7),
    "rice": (0.002, 0.0, 1.0, 10.0, 0.2),
    "wheat": (0.005, 4.0, 1.0, 15.0, 0.8),
    "gel": (0.001, 0.0, 0.0, 0.0, 0.0),
}


@pytest.mark.parametrize(
    ("names", "parts", "cost"),
    [
        (tuple(BLEND), {"beef": 60.0, "gel": 40.0}, 0.52),
        (("chicken", "beef"), {"chicken": 100 / 3, "beef": 200 / 3}, 0.97),
    ],
    ids=["six", "two"],
)
def test_a_can_of_food_blended(
    names: tuple[str, ...], parts: dict[str, float], cost: float
) -> None:
    """60 g beef and 40 g gel at 0.52; of two meats a third and two thirds at 0.97.

    The blending case of a linear-programming library's manual (data read; answers from memory).
    """
    feeds = [
        ingredient(name, row[0] * 1000, protein=row[1], fat=row[2], fibre=row[3], salt=row[4])
        for name, row in BLEND.items()
        if name in names
    ]
    needs = [
        need("protein", 8.0), need("fat", 6.0), need("fibre", None, 2.0), need("salt", None, 0.4),
    ]  # fmt: skip
    shares, found = shares_of(feeds, needs)
    assert {code: 100 * share for code, share in shares.items()} == pytest.approx(parts, abs=1e-3)
    assert found * 100 / 1000 == pytest.approx(cost, abs=5e-3)


def test_a_mix_with_a_filler() -> None:
    """.5909, .1364 and .2727 of two ingredients and a filler.

    The Blending data and answer of an R package for linear inverse problems (limSolve, manual).
    """
    feeds = [
        ingredient("I1", 40.0, A=10.0, B=5.0, C=4.0, D=1.0),
        ingredient("I2", 60.0, A=20.0, B=15.0, C=1.0, D=0.0),
        ingredient("FILLER", 0.0, A=0.0, B=0.0, C=0.0, D=0.0),
    ]
    needs = [
        Requirement(code=name, of=(Term(nutrient=name),), unit="g/kg", minimum=least)
        for name, least in (("A", 80.0), ("B", 50.0), ("C", 25.0), ("D", 5.0))
    ]
    shares, cost = shares_of(feeds, needs)
    assert shares == pytest.approx({"I1": 0.5909, "I2": 0.1364, "FILLER": 0.2727}, abs=5e-5)
    assert cost == pytest.approx(31.81818, abs=1e-5)
