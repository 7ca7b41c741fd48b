"""The mass balance of the demo mill, from its record alone."""

import datetime as dt

import pytest

from bedstone.desk.balance import Balance, balance, place_words, said_of
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput
from conftest import DemoMill


def balanced(demo: DemoMill, first: dt.date, last: dt.date) -> Balance:
    """The balance of some days of the demo."""
    return balance(demo.parts.open_record(demo.directory), first=first, last=last)


def test_the_oil_is_what_does_not_balance(demo_made: DemoMill) -> None:
    """In the days after the second power cut the oil tank, and nothing else, does not balance; what
    is missing is what LM2 reads too little, and that the tank's other flows would explain the same
    is said.
    """
    found = balanced(demo_made, dt.date(2026, 11, 14), dt.date(2026, 11, 24))
    (gross,) = found.reconciled.gross
    names = {gross.about, *gross.not_told_from}
    assert all("T02" in name for name in names)
    assert "T02 to MX1 by LM2" in names
    mill = current_mill(demo_made.parts.open_record(demo_made.directory))
    assert said_of(mill, found)["T02 to MX1 by LM2"] == (
        "soybean oil tank (T02) to two-ton ribbon mixer (MX1) by LM2"
    )
    assert place_words(mill, "customer/tanner") == "Tanner Hill Sheep"
    read_kg = next(row.measured_kg for row in found.flows if row.flow == "T02 to MX1 by LM2")
    assert read_kg is not None
    assert abs(gross.size_kg) == pytest.approx(0.07 * read_kg, abs=3 * gross.size_sd_kg)


def test_a_quiet_week_balances(demo_made: DemoMill) -> None:
    """Before that cut nothing is wrong beyond what the instruments can err."""
    found = balanced(demo_made, dt.date(2026, 11, 2), dt.date(2026, 11, 10))
    assert found.reconciled.agrees
    assert found.reconciled.checks >= 2


def test_nothing_that_is_only_booked_is_its_own_witness(demo_made: DemoMill) -> None:
    """What leaves a mixer is the sum of its draws and counts as not measured; it is reckoned or
    named as unknown, never "measured and checked".
    """
    found = balanced(demo_made, dt.date(2026, 11, 2), dt.date(2026, 11, 10))
    says = {row.flow: row.says for row in found.reconciled.flows}
    mixed = [says[name] for name in says if name.startswith(("MX1 to ", "MX2 to "))]
    assert mixed
    assert set(mixed) <= {"reckoned", "cannot be known"}


def test_shrink_is_what_left_over_what_came(demo_made: DemoMill) -> None:
    """Each station's loss is its water, dust and scrap as part of what it took in."""
    found = balanced(demo_made, dt.date(2026, 11, 2), dt.date(2026, 11, 10))
    line = next(row for row in found.shrink if row.station == "PL1")
    assert 0.03 < line.lost_frac < 0.06
    assert line.lost_frac == pytest.approx((line.air_kg + line.scrap_kg) / line.in_kg)


def test_days_the_wrong_way_round_are_refused(demo_made: DemoMill) -> None:
    """A last day before the first is said, not reckoned."""
    with pytest.raises(BadInput, match="before the first"):
        balanced(demo_made, dt.date(2026, 11, 10), dt.date(2026, 11, 2))
