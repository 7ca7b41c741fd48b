"""Masses in milligrams: to divisions, shown, and typed by people."""

from fractions import Fraction

import pytest

from bedstone.errors import BadInput
from bedstone.quantities.masses import (
    kg_from_mg,
    lb_from_mg,
    mass_typed,
    mg_from_kg,
    mg_from_lb,
    round_to_division,
    shown_mass,
)


def test_kilograms_and_milligrams():
    """A kilogram is a million milligrams, there and back, also for a float as it is shown."""
    assert mg_from_kg(0.1) == 100_000
    assert kg_from_mg(mg_from_kg(1234.567891)) * 1_000_000 == 1_234_567_891


@pytest.mark.parametrize(("kg", "mg"), [("0.0000005", 1), ("0.0000004", 0), ("-0.0000005", -1)])
def test_half_a_milligram_goes_up(kg: str, mg: int):
    """Exactly half a milligram goes away from nothing."""
    assert mg_from_kg(Fraction(kg)) == mg


@pytest.mark.parametrize(
    ("mass_kg", "division_kg", "expected_kg"),
    [
        (1250.25, 0.5, 1250.5),
        (1250.24, 0.5, 1250.0),
        (1250.75, 0.5, 1251.0),
        (0.2, 0.5, 0.0),
        (7.0, 2.0, 8.0),
        (5.0, 2.0, 6.0),
    ],
)
def test_division_ties_go_up(mass_kg: float, division_kg: float, expected_kg: float):
    """A mass between two divisions goes to the nearer one, exactly between to the larger."""
    assert round_to_division(mg_from_kg(mass_kg), division_kg) == mg_from_kg(expected_kg)


def test_errors_of_pound_divisions_do_not_add_up():
    """A hundred thousand divisions of one pound are a hundred thousand pounds to the milligram."""
    near = mg_from_lb(100_000) + 1000
    assert round_to_division(near, 0.45359237) == mg_from_lb(100_000)


@pytest.mark.parametrize("division_kg", [0.0, -0.5])
def test_division_must_be_above_nothing(division_kg: float):
    """A division of nothing or less is refused."""
    with pytest.raises(ValueError, match="above 0"):
        round_to_division(1, division_kg)


@pytest.mark.parametrize(
    ("mass_mg", "units", "division_kg", "text"),
    [
        (1_250_500_000, "SI", 0.5, "1,250.5 kg"),
        (1_250_500_000, "SI", None, "1,251 kg"),
        (15_040_000, "SI", None, "15 kg"),
        (15_060_000, "SI", None, "15.1 kg"),
        (1_234_000, "SI", 0.01, "1.23 kg"),
        (1_234_000, "SI", None, "1.23 kg"),
        (45_000, "SI", None, "0.045 kg"),
        (907_184_740, "US", None, "2,000 lb"),
        (907_184_740, "US", 0.45359237, "2,000 lb"),
        (4_535_924, "US", 0.0045359237, "10.00 lb"),
        (0, "SI", None, "0 kg"),
        (-2_000_000, "SI", None, "-2 kg"),
    ],
)
def test_mass_is_shown_with_sensible_figures(
    mass_mg: int, units: str, division_kg: float | None, text: str
):
    """A mass is shown with the decimals of its scale, or with those that help."""
    assert shown_mass(mass_mg, units=units, division_kg=division_kg) == text


def test_mass_is_shown_in_the_locale():
    """Where people write a comma for the decimals, it is shown so."""
    assert shown_mass(1_250_500_000, units="SI", division_kg=0.5, locale="de_DE") == "1.250,5 kg"


@pytest.mark.parametrize(
    ("typed", "units", "mass_mg"),
    [
        ("1,250.5 lb", "SI", 567_217_259),
        ("1.2 t", "US", 1_200_000_000),
        ("1.2 ton", "SI", 1_088_621_688),
        ("300", "SI", 300_000_000),
        ("300", "US", 136_077_711),
        (" 12.5kg ", "US", 12_500_000),
        ("2 Lbs.", "SI", 907_185),
        ("750 g", "US", 750_000),
        ("2 short tons", "SI", 1_814_369_480),
        ("0", "SI", 0),
    ],
)
def test_typed_mass_is_understood(typed: str, units: str, mass_mg: int):
    """A number with or without a unit is understood; without, in the mill's own unit."""
    assert mass_typed(typed, units=units).mass_mg == mass_mg


def test_what_was_understood_is_said():
    """The answer says number, unit and kilograms, to be shown before it is kept."""
    assert mass_typed("1,250.5 lb", units="US").text == "1250.5 lb = 567.217 kg"
    assert mass_typed("300", units="SI").text == "300 kg"


def test_typed_mass_in_another_locale():
    """The same text is another number where the comma is the decimal mark."""
    assert mass_typed("1.250,5 kg", units="SI", locale="de_DE").mass_mg == 1_250_500_000


@pytest.mark.parametrize(
    "typed",
    ["", "kg", "1,5", "1,5 kg", "12,50 lb", "1.2.3", "5 stone", "-3 kg", "1e3", "nan", "inf kg",
     "٣ kg", "1 250 kg kg", "9" * 39, "12 kg 5 lb", "--1", "1,,000", "1/2 kg"],
)  # fmt: skip
def test_doubtful_mass_is_bad_input(typed: str):
    """What could be read in two ways, or in none, is refused with what was found and is allowed."""
    with pytest.raises(BadInput) as caught:
        mass_typed(typed, units="SI")
    assert caught.value.seen
    assert caught.value.allowed


def test_pounds_are_exact():
    """A mass in milligrams is an exact number of pounds."""
    assert lb_from_mg(mg_from_lb(2000)) == 2000
