"""What to buy, and what suppliers' loads were like."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedstone.errors import BadInput
from bedstone.storage.buying import Delivery, Terms, days_of_cover, what_to_buy
from bedstone.storage.suppliers import Spread, assured_level, cost_per_unit, spread_of


def terms(**other: float) -> Terms:
    """Three days' lead, trucks of twenty, a safety of one day, orders for ten."""
    values: dict[str, float] = {
        "lead_days": 3,
        "truck_kg": 20,
        "safety_days": 1,
        "cover_days": 10,
        **other,
    }
    return Terms(**values)  # type: ignore[arg-type]


def test_days_of_cover():
    """Stock of 25 at 10 a day lasts two and a half days; a day of no use lasts too."""
    assert days_of_cover(25, [10] * 5) == 2.5
    assert days_of_cover(25, [10, 0, 10, 10]) == 3.5
    assert days_of_cover(50, [10] * 5) is None
    assert days_of_cover(-3, [10]) == 0.0


def test_the_last_day_to_order():
    """100 at 10 a day: day 9 ends with none, so the truck must be there then: order on day 6."""
    buy = what_to_buy(100, [10.0] * 28, use_sd_kg=0, terms=terms())
    assert (buy.order_in_days, buy.safety_kg) == (6, 10)
    # 10 left that morning; wanted 10 safety and 100 for ten days: 100, five trucks
    assert buy.wanted_trucks == 5
    assert buy.deliveries == (Delivery(in_days=9, trucks=5, mass_kg=100),)


def test_late_is_said_and_the_truck_comes_as_soon_as_it_can():
    """With 20 left at 10 a day and three days' lead it is two days late."""
    buy = what_to_buy(20, [10.0] * 28, use_sd_kg=0, terms=terms())
    assert (buy.order_in_days, buy.cover_days) == (-2, 2.0)
    assert buy.first is not None
    assert buy.first.in_days == 3


def test_nothing_to_buy():
    """What outlasts the days looked at is not ordered."""
    buy = what_to_buy(1000, [10.0] * 28, use_sd_kg=0, terms=terms())
    assert (buy.order_in_days, buy.wanted_trucks, buy.first) == (None, 0, None)


def test_no_more_trucks_come_than_the_bins_have_room_for():
    """Bins of 60 with 10 left at 10 a day take two trucks of 20 on day 9; each day that would end
    below the safety stock then takes what fits again, until the five trucks have come.
    """
    buy = what_to_buy(100, [10.0] * 28, use_sd_kg=0, terms=terms(holds_kg=60))
    assert [(one.in_days, one.trucks) for one in buy.deliveries] == [(9, 2), (13, 2), (17, 1)]
    assert buy.wanted_trucks == 5


def test_a_truck_waits_until_it_fits():
    """Bins of 25 have no room for a truck of 20 on top of 10: it comes when stock is down to 5."""
    buy = what_to_buy(30, [5.0] * 28, use_sd_kg=0, terms=terms(holds_kg=25, safety_days=3))
    assert [one.in_days for one in buy.deliveries][:2] == [5, 9]
    assert all(one.trucks == 1 for one in buy.deliveries)


def test_a_truck_that_is_more_than_the_bins_hold_is_a_part_load():
    """Bins of 15 take no truck of 20 whole: 15 come once they are empty."""
    buy = what_to_buy(10, [5.0] * 28, use_sd_kg=0, terms=terms(holds_kg=15, safety_days=0.5))
    assert buy.first is not None
    assert (buy.first.in_days, buy.first.mass_kg) == (3, 15)


@given(
    stock=st.floats(0, 300),
    use=st.floats(1, 30),
    holds=st.floats(5, 400),
    cover=st.integers(1, 30),
    safety=st.floats(0, 5),
)
def test_what_is_proposed_always_fits(
    stock: float, use: float, holds: float, cover: int, safety: float
):
    """Whatever the terms, stock and deliveries are together never more than the bins hold, and no
    more trucks come than are wanted.
    """
    given_terms = terms(holds_kg=holds, cover_days=cover, safety_days=safety)
    buy = what_to_buy(min(stock, holds), [use] * 28, use_sd_kg=0, terms=given_terms)
    left = min(stock, holds)
    for day in range(28):
        left += sum(one.mass_kg for one in buy.deliveries if one.in_days == day)
        assert left <= holds * (1 + 1e-6)
        left = max(0.0, left - use)
    assert sum(one.trucks for one in buy.deliveries) <= buy.wanted_trucks


def test_uneven_use_asks_for_more_safety():
    """At 95 % the safety stock is 1.645 sd over root of four days (normal table)."""
    buy = what_to_buy(100, [10.0] * 28, use_sd_kg=10, terms=terms())
    assert buy.safety_kg == pytest.approx(1.6449 * 10 * 2, rel=1e-4)


def test_too_few_days():
    """Looking less far than the lead time is refused with words."""
    with pytest.raises(BadInput, match="Too few days"):
        what_to_buy(100, [10.0] * 3, use_sd_kg=0, terms=terms())


def test_spread_and_cost():
    """Mean and sample sd by hand; a kilogram of protein at 48 % of 480 USD/t costs a dollar."""
    assert spread_of([]) is None
    assert spread_of([4.0]) == Spread(loads=1, mean=4.0, sd=None)
    assert spread_of([3.0, 5.0]) == Spread(loads=2, mean=4.0, sd=pytest.approx(2**0.5))
    assert cost_per_unit(480, 0.48) == pytest.approx(1.0)
    assert cost_per_unit(480, None) is None
    assert cost_per_unit(480, 0.0) is None


def test_nine_loads_in_ten_reach_the_assured_level():
    """Over many simulated suppliers of six loads the next one reaches it nine times in ten."""
    dice = np.random.default_rng(5)
    loads = dice.normal(46.0, 1.0, size=(4000, 7))
    reached = 0
    for row in loads:
        spread = spread_of(list(row[:6]))
        assert spread is not None
        level = assured_level(spread, odds_frac=0.9)
        assert level is not None
        reached += row[6] >= level
    assert reached / 4000 == pytest.approx(0.9, abs=0.02)  # four standard errors


def test_one_load_assures_nothing():
    """Of one load no level can be promised, and odds below even are refused."""
    assert assured_level(Spread(loads=1, mean=4.0, sd=None), odds_frac=0.9) is None
    with pytest.raises(BadInput):
        assured_level(Spread(loads=2, mean=4.0, sd=1.0), odds_frac=0.4)
