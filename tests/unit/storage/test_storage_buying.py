"""What to buy, and what suppliers' loads were like."""

import numpy as np
import pytest

from bedstone.errors import BadInput
from bedstone.storage.buying import Terms, days_of_cover, what_to_buy
from bedstone.storage.suppliers import Spread, assured_level, cost_per_unit, spread_of


def terms(**other: float) -> Terms:
    """Three days' lead, trucks of twenty, a safety of one day, orders for ten."""
    given: dict[str, float] = {
        "lead_days": 3,
        "truck_kg": 20,
        "safety_days": 1,
        "cover_days": 10,
        **other,
    }
    return Terms(**given)  # type: ignore[arg-type]


def test_days_of_cover():
    """Stock of 25 at 10 a day lasts two and a half days; a day of no use lasts too."""
    assert days_of_cover(25, [10] * 5) == 2.5
    assert days_of_cover(25, [10, 0, 10, 10]) == 3.5
    assert days_of_cover(50, [10] * 5) is None
    assert days_of_cover(-3, [10]) == 0.0


def test_the_last_day_to_order():
    """100 at 10 a day: day 9 ends with none, so the truck must be there then: order on day 6."""
    buy = what_to_buy(100, [10.0] * 28, use_sd_kg=0, terms=terms())
    assert (buy.order_in_days, buy.arrives_in_days, buy.safety_kg) == (6, 9, 10)
    # 10 left that morning; wanted 10 safety and 100 for ten days: 100, five trucks
    assert (buy.trucks, buy.mass_kg) == (5, 100)


def test_late_is_said_and_the_truck_comes_as_soon_as_it_can():
    """With 20 left at 10 a day and three days' lead it is two days late."""
    buy = what_to_buy(20, [10.0] * 28, use_sd_kg=0, terms=terms())
    assert (buy.order_in_days, buy.arrives_in_days, buy.runs_out_in_days) == (-2, 3, 2)


def test_nothing_to_buy():
    """What outlasts the days looked at is not ordered."""
    buy = what_to_buy(1000, [10.0] * 28, use_sd_kg=0, terms=terms())
    assert (buy.order_in_days, buy.trucks) == (None, 0)


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
