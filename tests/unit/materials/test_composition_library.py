"""The composition library: one list, one rule, units as fed, and unknown stays unknown."""

import dataclasses

import pytest

from bedstone.errors import BadInput, Unknown
from bedstone.materials.composition import LibraryNutrient, PublishedValue, Source, What
from bedstone.materials.library import library, pooled
from bedstone.materials.stoichiometry import element_share_frac, molar_mass

PROTEIN = LibraryNutrient(name="crude protein", unit="%", group="proximate", meaning="")


def source(code: str, kind: str, family: str = "") -> Source:
    """A source of a kind."""
    return Source(
        code=code, title=code, year=2000, kind=kind, licence="", note="", family=family or code
    )


def value(number: float, of: Source, *, sd: float | None = None) -> PublishedValue:
    """A mean of crude protein as fed."""
    return PublishedValue(
        ingredient="corn",
        nutrient="crude protein",
        what=What.MEAN,
        value=number,
        unit="%",
        basis="as fed",
        sd=sd,
        source=of,
        reference="",
        printed_as="corn",
        note="",
        as_fed=number,
        as_fed_sd=sd,
    )


def test_the_best_kind_of_source_serves_alone() -> None:
    """A feed table's value stands though food tables say otherwise; all are kept."""
    rows = (value(8, source("A", "feed table")), value(9.4, source("B", "food table")))
    level = pooled(rows, PROTEIN)
    assert level is not None
    assert level.mean == pytest.approx(8)
    assert level.sd is None
    assert level.all_values == rows


def test_sources_of_one_family_count_once() -> None:
    """Two copies of the same data and one other: the mean of the two kinds of data."""
    rows = (
        value(8, source("A", "food table", "F")),
        value(8.2, source("B", "food table", "F")),
        value(9.1, source("C", "food table")),
    )
    level = pooled(rows, PROTEIN)
    assert level is not None
    assert level.mean == pytest.approx((8.1 + 9.1) / 2)
    assert level.sources == 2
    assert level.sd_is == "between sources"
    assert level.sd == pytest.approx(0.7071, abs=1e-4)


def test_a_stated_spread_comes_before_that_between_sources() -> None:
    """Where a source states its spread between samples that is used."""
    rows = (value(8, source("A", "feed table"), sd=0.5), value(9, source("B", "analysed")))
    level = pooled(rows, PROTEIN)
    assert level is not None
    assert (level.sd, level.sd_is) == (pytest.approx(0.5), "between samples")


@pytest.mark.parametrize("what", [What.LOW, What.HIGH, What.LEAST, What.BLANK, What.MISPRINT])
def test_what_is_no_mean_makes_no_level(what: What) -> None:
    """Ranges, specifications, blanks and misprints alone leave a level unknown."""
    row = dataclasses.replace(value(8, source("A", "feed table")), what=what)
    assert pooled((row,), PROTEIN) is None


def test_what_no_source_gives_is_unknown() -> None:
    """Hominy feed has a bulk density alone: no level of it is known, and none is nought."""
    books = library()
    assert books.levels_of("hominy-feed") == ()
    assert books.level("ddgs", "lysine") is None


def test_dry_matter_is_asked_where_no_source_gives_it() -> None:
    """Feed barley is printed in dry matter alone: 12.8 % is 11.39 % as fed at 89 % dry matter."""
    books = library()
    assert books.level("barley", "crude protein") is None
    level = books.level("barley", "crude protein", dry_matter_frac=0.89)
    assert level is not None
    assert level.mean == pytest.approx(12.8 * 0.89)


def test_units_are_brought_to_one() -> None:
    """Gluten feed prints calcium in g/kg and manganese in mg/kg, the library gives % and mg/kg."""
    books = library()
    calcium, manganese = (
        books.level("corn-gluten-feed", name) for name in ("calcium", "manganese")
    )
    assert calcium is not None
    assert manganese is not None
    assert (calcium.mean, calcium.sd, calcium.unit) == (
        pytest.approx(0.14),
        pytest.approx(0.1),
        "%",
    )
    assert (manganese.mean, manganese.unit) == (pytest.approx(19), "mg/kg")


def test_an_ingredient_is_found_by_any_of_its_names() -> None:
    """Maize is corn, SBM is soybean meal; a slip of the pen is offered near names."""
    books = library()
    assert [row.code for row in books.find("Maize")] == ["corn"]
    assert [row.code for row in books.find("sbm")] == ["soybean-meal"]
    assert len(books.find("zinc")) == 3
    with pytest.raises(Unknown, match="barley"):
        books.find("barly")


def test_unknown_names_are_refused_with_those_there_are() -> None:
    """A nutrient that the library does not have is an error, not an unknown level."""
    with pytest.raises(Unknown, match="crude protein"):
        library().level("corn", "protien")
    with pytest.raises(Unknown):
        library().level("no-such", "lysine")


def test_names_are_unique_and_every_table_agrees() -> None:
    """No name is two ingredients; every source that is cited is listed and every value has one."""
    books = library()
    names: dict[str, str] = {}
    for row in books.ingredients.values():
        for name in {row.name.lower(), row.code, *(other.lower() for other in row.other_names)}:
            assert names.setdefault(name, row.code) == row.code, name
    for density in books.densities:
        assert density.ingredient in {"", *books.ingredients}
    for isotherm in books.isotherms:
        assert isotherm.ingredient in {"", *books.ingredients}
    assert all(value.source.title for value in books.values)
    assert all(source.licence for source in books.sources.values())


def test_no_level_is_impossible() -> None:
    """Every level lies between nothing and the whole, and amino acids stay below the protein."""
    books = library()
    for code in books.ingredients:
        levels = {level.nutrient: level for level in books.levels_of(code)}
        for level in levels.values():
            assert 0 <= level.mean <= (100 if level.unit == "%" else 1e6), level
        acids = sum(
            level.mean
            for name, level in levels.items()
            if books.nutrients[name].group == "amino acid"
        )
        protein = levels.get("crude protein", levels.get("food protein"))
        if protein is not None and books.ingredients[code].kind != "amino acid":
            assert acids <= protein.mean * 1.1, code


@pytest.mark.parametrize("formula", ["", "Xx", "ca", "CuSO4.", "Ca(OH", "5"])
def test_a_formula_that_cannot_be_read_is_refused(formula: str) -> None:
    """Unknown elements, open brackets and empty parts are refused by what is allowed."""
    with pytest.raises(BadInput, match="CuSO4"):
        molar_mass(formula)


def test_shares_of_elements_add_up_to_the_whole() -> None:
    """In basic copper carbonate the four elements make up everything."""
    formula = "CuCO3.Cu(OH)2"
    total = sum(element_share_frac(formula, element) for element in ("Cu", "C", "O", "H"))
    assert total == pytest.approx(1)
