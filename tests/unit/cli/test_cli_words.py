"""Numbers as the terminal shows them."""

import datetime as dt

import pytest

from bedstone.cli.words import clock_text, counted, mass_text, money_text, ratio_text
from bedstone.mill.equipment import Settings

SI = Settings(format=1, name="A mill", time_zone="America/Chicago")
US = Settings(format=1, name="A mill", time_zone="America/Chicago", units="US")


@pytest.mark.parametrize(
    ("mass_mg", "settings", "text"),
    [
        (2_000_000_000, SI, "2,000 kg"),
        (12_500_000, SI, "12.5 kg"),
        (180_000, SI, "0.18 kg"),
        (0, SI, "0 kg"),
        (-3_000_000, SI, "-3 kg"),
        (907_184_740, US, "2,000 lb"),
        (453_592, US, "1 lb"),
    ],
)
def test_a_mass_is_in_the_mills_own_unit(mass_mg: int, settings: Settings, text: str) -> None:
    """A mass is shown in kilograms or pounds with as many figures as a person can use."""
    assert mass_text(mass_mg, settings) == text


def test_money_counts_and_parts_in_words() -> None:
    """Money is dollars and cents, a part is per cent, a count agrees with its word."""
    assert money_text(123_456_789) == "$12,345.68"
    assert money_text(-5_000) == "-$0.50"
    assert ratio_text(0.375) == "38 %"
    assert [counted(n, "batch", "batches") for n in (0, 1, 2)] == [
        "no batches",
        "1 batch",
        "2 batches",
    ]


def test_a_time_is_the_mills_own() -> None:
    """A moment is shown in the mill's time, with the date only when it is another day's."""
    at = dt.datetime(2026, 1, 20, 15, 30, tzinfo=dt.UTC)
    assert clock_text(at, SI, day=dt.date(2026, 1, 20)) == "09:30"
    assert clock_text(at, SI, day=dt.date(2026, 1, 21)) == "2026-01-20 09:30"
    assert clock_text(at, SI) == "2026-01-20 09:30"
