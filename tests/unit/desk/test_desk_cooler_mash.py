"""What leaves a cooler against the mash that went in: water won or lost, and money only where lost."""

import pytest

from bedstone.desk.cooler_mash import OfMash, above_words, against_mash, mash_words


def test_what_is_wetter_than_its_mash_loses_no_money() -> None:
    """Mash of 11.3 %, pellets of 12.8 %: 100 kg of dry matter carry 14.68 instead of 12.74 kg."""
    found = against_mash(1.0, 0.128, OfMash(moisture_wb=0.113, hot_share=1.05, usd_per_kg=0.25))
    assert found.kg_s == pytest.approx(0.014679 / 0.1 - 0.012740 / 0.1, abs=1e-5)
    assert found.points == pytest.approx(1.5)
    assert found.lost_usd_per_h is None
    assert mash_words(found, "US") == "1.5 points more water than their mash: 150 lb/h won"


def test_what_is_drier_than_its_mash_is_sold_no_more() -> None:
    """A tenth of a kilogram an hour for each point and kilogram of dry matter, at the mash's cost."""
    found = against_mash(1.0, 0.10, OfMash(moisture_wb=0.12, hot_share=1.05, usd_per_kg=0.25))
    assert found.kg_s == pytest.approx(0.1 / 0.9 - 0.12 / 0.88)
    assert found.lost_usd_per_h == pytest.approx(-found.kg_s * 3600 * 0.25)
    assert mash_words(found, "SI").startswith("2.0 points less water than their mash: ")
    assert mash_words(found, "SI").endswith("USD an hour")


def test_the_same_water_and_no_price() -> None:
    """Half a tenth of a point is no difference; without a price no money is said."""
    assert mash_words(against_mash(1.0, 0.12, OfMash(moisture_wb=0.1202, hot_share=1.0, usd_per_kg=None)),
                      "US") == "as much water as their mash"  # fmt: skip
    found = against_mash(1.0, 0.10, OfMash(moisture_wb=0.12, hot_share=1.0, usd_per_kg=None))
    assert "USD" not in mash_words(found, "US")


def test_pellets_below_the_air_are_called_so() -> None:
    """Drying may cool pellets below the air: no negative degrees above it."""
    assert above_words(5.0, "US") == "9 °F above the air"
    assert above_words(0.1, "US") == "as warm as the air"
    assert above_words(-1.7, "US") == "3 °F below the air, which their drying does"
