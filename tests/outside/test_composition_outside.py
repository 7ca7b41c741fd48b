"""The composition library against numbers that are not its own.

Whole published diets with analysed values could not be had with their ingredients' shares; the
roll-up is held against a worked swine ration (ANSC 221 course notes, homework 5 key), whose shares
and results are printed.
"""

import csv
from pathlib import Path

import pytest

from bedstone.materials.composition import What
from bedstone.materials.library import library
from bedstone.materials.stoichiometry import element_share_frac

VALUES = Path(__file__).parent / "values"

# ANSC 221, homework 5 key: swine ration of 12.1 % crude protein with minerals, per cent as fed
SWINE_PCT = {
    "corn": 79.3,
    "oats": 5.0,
    "soybean-meal-44": 12.7,
    "dicalcium-phosphate": 0.9288108,
    "limestone": 0.8538827,
    "salt": 0.25,
    "copper-sulfate": 0.10,
}
SWINE_PROTEIN_PCT = 12.1
SWINE_LYSINE_PCT = 0.6046


def salts() -> list[dict[str, str]]:
    """The rows of the table of pure salts."""
    lines = (VALUES / "pure_salts.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize("row", salts(), ids=lambda row: f"{row['formula']}-{row['element']}")
def test_pure_salts_hold_what_is_printed(row: dict[str, str]) -> None:
    """Shares by the atomic weights equal those that two sources print for pure salts."""
    found = 100 * element_share_frac(row["formula"], row["element"])
    assert found == pytest.approx(float(row["printed_pct"]), abs=float(row["tolerance_pct"]))


def test_zinc_printed_for_zinc_oxide_is_that_of_the_sulfate() -> None:
    """36.4 % zinc (WW-00469, table A-13, "zinc oxide") is ZnSO4.H2O; the misprint is never used."""
    books = library()
    assert 100 * element_share_frac("ZnSO4.H2O", "Zn") == pytest.approx(36.4, abs=0.05)
    misprint = [row for row in books.values_of("zinc-oxide", "zinc") if row.what is What.MISPRINT]
    assert [row.value for row in misprint] == [36.4]
    level = books.level("zinc-oxide", "zinc")
    assert level is not None
    assert level.mean == pytest.approx(803_400, rel=1e-4)
    assert misprint[0] not in level.used


def test_specified_salts_hold_more_than_their_least() -> None:
    """Least contents of a specification (NDDB mineral mixture, table 5.1) lie below the pure salts."""
    books = library()
    checked = set()
    for value in books.values:
        if value.what is not What.LEAST:
            continue
        pure = books.level(value.ingredient, value.nutrient)
        if pure is not None and pure.rule == "what a pure compound must hold":
            assert value.as_fed is not None
            assert value.as_fed < pure.mean
            checked.add(value.ingredient)
    assert checked == {
        "copper-sulfate-dried",
        "manganese-sulfate",
        "potassium-iodide",
        "zinc-sulfate",
    }


def test_the_protein_of_food_tables_is_rescaled() -> None:
    """Soybean meal: USDA SR28 prints 44.95 (16119, factor 5.71) and 49.20 (16419, N x 6.25)."""
    books = library()
    printed = [
        row.value
        for row in books.values_of("soybean-meal", "crude protein")
        if row.reference == "NDB 16419"
    ]
    rescaled = [
        row.value
        for row in books.values_of("soybean-meal", "crude protein")
        if row.source.kind == "food table" and row.derived
    ]
    food = books.level("soybean-meal", "food protein")
    assert food is not None
    assert food.mean == pytest.approx(44.95)
    assert printed == [49.20]
    assert rescaled
    assert rescaled == pytest.approx([49.20] * len(rescaled), abs=0.01)


def test_food_records_add_up_to_the_whole() -> None:
    """Water, protein, fat, ash and carbohydrate by difference of each food record are 100 %."""
    books = library()
    parts = ("moisture", "food protein", "crude fat", "ash", "carbohydrate by difference")
    sums: dict[str, dict[str, float]] = {}
    for value in books.values:
        if value.source.code == "usda-sr28" and value.nutrient in parts and not value.derived:
            sums.setdefault(value.reference, {})[value.nutrient] = value.value
    whole = {key: sum(row.values()) for key, row in sums.items() if len(row) == len(parts)}
    assert len(whole) >= 20
    assert whole == pytest.approx(dict.fromkeys(whole, 100.0), abs=0.06)  # rounding of five figures


def test_feed_grains_lie_near_what_koreans_bought() -> None:
    """Protein as fed beside the range of origin means (An and Kong 2022): wheat inside, corn within
    3 % of its upper end, barley above it by a twelfth at 89 % dry matter.
    """
    books = library()
    expected = {
        "corn": (7.12, 7.68, 0.03),
        "wheat": (10.55, 13.26, 0.0),
        "barley": (9.46, 10.49, 0.09),
    }
    for code, (low, high, over) in expected.items():
        own = 0.89 if code == "barley" else None
        level = books.level(code, "crude protein", dry_matter_frac=own)
        assert level is not None
        assert low <= level.mean <= high * (1 + over), code


def test_a_worked_swine_ration_rolls_up_near_what_is_printed() -> None:
    """By the library's values the ration has 12.4 % protein (printed 12.1): 2.5 % too high, from corn."""
    books = library()
    total = 0.0
    for code, share_pct in SWINE_PCT.items():
        level = books.level(code, "crude protein")
        if level is None:
            assert code in {"salt", "copper-sulfate"}, f"protein of {code} is unknown"
            continue
        total += share_pct / 100 * level.mean
    assert total == pytest.approx(SWINE_PROTEIN_PCT, rel=0.03)
    keys = {"corn": 7.5, "oats": 11.0, "soybean-meal-44": 44.1}  # the key's own figures
    for code, printed in keys.items():
        values = books.values_of(code, "crude protein")
        assert printed in [row.value for row in values if row.source.code == "ansc221"]
    by_key = sum(SWINE_PCT[code] / 100 * printed for code, printed in keys.items())
    assert by_key == pytest.approx(SWINE_PROTEIN_PCT, abs=0.005)


def test_lysine_of_the_swine_ration_is_short_of_the_oats() -> None:
    """Lysine of feed oats is unknown: what is known rolls up to 96 % of the printed 0.6046 %."""
    books = library()
    assert books.level("oats", "lysine") is None
    known = 0.0
    for code in ("corn", "soybean-meal-44"):
        level = books.level(code, "lysine")
        assert level is not None
        known += SWINE_PCT[code] / 100 * level.mean
    assert known < SWINE_LYSINE_PCT
    assert known == pytest.approx(SWINE_LYSINE_PCT, rel=0.05)
