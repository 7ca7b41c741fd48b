"""What the conditioner refuses, and which way its answers must move."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedstone.errors import BadInput, NoAnswer
from bedstone.pelleting.boiler import boiler_load
from bedstone.pelleting.conditioner import (
    WATER,
    Chamber,
    Conditioned,
    Liquid,
    MashIn,
    hottest_for_die,
    molasses,
    steam_for,
    unsteamed_c,
    with_steam,
)
from bedstone.pelleting.residence import chamber_m3, fill_for, residence_s
from bedstone.pelleting.specific_heat import TYPICAL_FEED, Proximate, mash_heat_j_kg
from bedstone.pelleting.steam import steam_at_gauge, water_j_kg

STEAM = steam_at_gauge(200_000)
MASH = MashIn(rate_kg_s=3.0, temperature_c=15.0)
PLAIN = Chamber(mash=MASH, steam=STEAM)
SWEET = replace(PLAIN, liquids=(Liquid(share=0.06, temperature_c=45.0, made_of=molasses(0.26)),))


def test_steam_that_cannot_be_is_refused() -> None:
    """A vacuum, a pressure of a power station, steam that is mostly water."""
    for gauge, quality in ((-1.0, 1.0), (9e6, 1.0), (2e5, 0.2)):
        with pytest.raises(BadInput, match="Steam"):
            steam_at_gauge(gauge, quality)


def test_steam_colder_than_it_boils_is_refused() -> None:
    """At 2 bar over the air steam is no colder than 133 C: what is, is water, and colder mash or not it
    heats nothing as steam does; as hot as saturated it is that, with its quality.
    """
    with pytest.raises(BadInput, match="colder it is water") as caught:
        steam_at_gauge(200_000, superheated_c=40.0)
    assert "273 °F" in caught.value.allowed
    same = steam_at_gauge(200_000, 0.95, superheated_c=133.5)
    assert same.enthalpy_j_kg == pytest.approx(steam_at_gauge(200_000, 0.95).enthalpy_j_kg)
    hotter = steam_at_gauge(200_000, 0.95, superheated_c=180.0)
    assert hotter.enthalpy_j_kg > steam_at_gauge(200_000, 1.0).enthalpy_j_kg
    less = steam_for(replace(PLAIN, steam=hotter), 75.0).steam_kg_s
    assert less < steam_for(PLAIN, 75.0).steam_kg_s


def test_molasses_and_steam_share_the_heat_and_the_moisture() -> None:
    """Molasses brings its own water, and where it is colder than the outlet it asks for steam."""
    plain, sweet = steam_for(PLAIN, 75.0), steam_for(SWEET, 75.0)
    assert sweet.steam_kg_s > plain.steam_kg_s
    assert sweet.moisture_wb > plain.moisture_wb
    assert sweet.rate_kg_s == pytest.approx(
        plain.rate_kg_s + 0.18 + sweet.steam_kg_s - plain.steam_kg_s
    )


def test_molasses_without_steam_warms_the_mash_as_a_mixture() -> None:
    """No steam: the temperature lies between both, heat given is heat taken, water adds up."""
    found = with_steam(SWEET, 0.0)
    assert found.steam_kg_s == 0
    assert MASH.temperature_c < found.temperature_c < 45.0
    given_j = 0.06 * mash_heat_j_kg(molasses(0.26), found.temperature_c, 45.0)
    assert mash_heat_j_kg(TYPICAL_FEED, 15.0, found.temperature_c) == pytest.approx(given_j)
    assert found.moisture_wb == pytest.approx((0.12 + 0.06 * 0.26) / 1.06, rel=1e-12)


def test_no_steam_leaves_the_mash_as_it_was() -> None:
    """Zero steam: same temperature, same moisture, no degrees for a point."""
    found = with_steam(PLAIN, 0.0)
    assert found.temperature_c == MASH.temperature_c
    assert found.moisture_wb == pytest.approx(0.12)
    assert found.dk_per_point is None


def test_steam_that_cannot_condense_is_said() -> None:
    """A fifth of the mash blows through; how much it may be is said in the mill's unit."""
    with pytest.raises(NoAnswer, match="condense") as caught:
        with_steam(replace(PLAIN, units="US"), 0.6)
    assert "lb/h" in caught.value.allowed


def test_the_die_sets_the_hottest_outlet() -> None:
    """At the limit the moisture is the limit; a mash too wet already is refused; where the limit is
    never reached it is where water boils.
    """
    assert hottest_for_die(PLAIN, 0.16).moisture_wb == pytest.approx(0.16, abs=1e-9)
    wet = replace(PLAIN, mash=replace(MASH, made_of=TYPICAL_FEED.with_water(0.165)))
    with pytest.raises(NoAnswer, match="too wet"):
        hottest_for_die(wet, 0.16)
    assert hottest_for_die(PLAIN, 0.24).temperature_c == pytest.approx(STEAM.boils_c)
    assert hottest_for_die(SWEET, 0.16).temperature_c < hottest_for_die(PLAIN, 0.16).temperature_c


def test_a_wanted_temperature_out_of_reach_is_refused_in_the_mills_degrees() -> None:
    """Steam does not cool, and mash gets no hotter than water boils: lower on a mountain."""
    chamber = replace(PLAIN, units="US")
    with pytest.raises(BadInput, match="does not cool") as caught:
        steam_for(chamber, 10.0)
    assert caught.value.seen == "50 °F"
    with pytest.raises(BadInput, match="boils") as caught:
        steam_for(chamber, 101.0)
    assert "212 °F" in caught.value.allowed
    high = replace(chamber, steam=steam_at_gauge(200_000, ambient_pa=80_000))
    with pytest.raises(BadInput, match="boils") as caught:
        steam_for(high, 95.0)
    assert "200 °F" in caught.value.allowed


@pytest.mark.parametrize("change", [{"share": 0.4}, {"share": -0.1}, {"temperature_c": 140.0}])
def test_liquids_that_cannot_be_are_refused(change: dict[str, float]) -> None:
    """More than a quarter of the mash, less than nothing, hotter than boiling."""
    with pytest.raises(BadInput, match="liquid"):
        replace(SWEET.liquids[0], **change)


def test_mash_that_cannot_be_is_refused() -> None:
    """Nothing flows, or it comes hotter than any mixer leaves it; a loss of all is no loss."""
    for change in ({"rate_kg_s": 0.0}, {"temperature_c": 90.0}):
        with pytest.raises(BadInput, match="cannot be right"):
            replace(MASH, **change)
    with pytest.raises(BadInput, match="Loss"):
        replace(PLAIN, loss_frac=1.0)
    with pytest.raises(BadInput, match="Steam flows in"):
        with_steam(PLAIN, -0.1)


def test_compositions_that_do_not_add_up_are_refused() -> None:
    """Shares of 90 % in all leave something unsaid."""
    with pytest.raises(BadInput, match="add up"):
        Proximate(water=0.12, protein=0.18, fat=0.04, carbohydrate=0.44, fibre=0.06, ash=0.06)


def test_residence_falls_with_the_rate_and_fill_undoes_it() -> None:
    """Half full, 0.25 m3, 500 kg/m3, 3 kg/s: 20.8 s; nothing flows: refused; the fill for that time
    is half; more than a full one holds is refused with what it holds.
    """
    assert residence_s(0.25, 0.5, 500.0, 3.0) == pytest.approx(20.833, abs=1e-3)
    assert fill_for(0.25, 20.8333333, 500.0, 3.0) == pytest.approx(0.5)
    with pytest.raises(BadInput, match="volume"):
        residence_s(0.25, 0.5, 500.0, 0.0)
    with pytest.raises(NoAnswer, match="too small") as caught:
        fill_for(0.25, 60.0, 500.0, 3.0)
    assert "42 s" in caught.value.allowed
    assert chamber_m3(2.0, 0.4) == pytest.approx(0.2513, abs=1e-4)


def test_boiler_cost_follows_price_and_efficiency() -> None:
    """Twice the price is twice the cost; an efficiency over 1 is refused; cold feedwater asks for
    more horsepower.
    """
    one = boiler_load(STEAM, 0.2, 3.0)
    two = boiler_load(STEAM, 0.2, 3.0, fuel_usd_per_kwh=0.06)
    assert two.usd_per_t == pytest.approx(2 * one.usd_per_t)
    assert one.fuel_kw == pytest.approx(one.heat_kw / 0.8)
    assert boiler_load(STEAM, 0.2, 3.0, feedwater_c=80.0).horsepower < one.horsepower
    with pytest.raises(BadInput, match="boiler"):
        boiler_load(STEAM, 0.2, 3.0, efficiency_frac=1.2)


shares = st.floats(0, 0.12)
chambers = st.builds(
    lambda rate, mash_c, water, gauge, quality, ambient, sweet, sweet_c, solids, wet, wet_c, loss: (
        Chamber(
            mash=MashIn(
                rate_kg_s=rate, temperature_c=mash_c, made_of=TYPICAL_FEED.with_water(water)
            ),
            steam=steam_at_gauge(gauge, quality, ambient),
            liquids=(
                Liquid(share=sweet, temperature_c=sweet_c, made_of=molasses(1 - solids)),
                Liquid(share=wet, temperature_c=wet_c, made_of=WATER),
            ),
            loss_frac=loss,
        )
    ),
    st.floats(0.05, 25),
    st.floats(-20, 60),
    st.floats(0.04, 0.2),
    st.floats(0, 1.5e6),
    st.floats(0.5, 1),
    st.floats(70_000, 105_000),
    shares,
    st.floats(0, 95),
    st.floats(0.6, 0.85),
    shares,
    st.floats(0, 95),
    st.floats(0, 0.3),
)


def _closes(chamber: Chamber, found: Conditioned) -> None:
    """Heat in is heat out, water in is water out, each to 1e-9 of what goes through."""
    mash = chamber.mash
    streams = [(mash.rate_kg_s, mash.temperature_c, mash.made_of)] + [
        (one.share * mash.rate_kg_s, one.temperature_c, one.made_of) for one in chamber.liquids
    ]
    taken = [rate * mash_heat_j_kg(made, at, found.temperature_c) for rate, at, made in streams]
    steam_w = found.steam_kg_s * (chamber.steam.enthalpy_j_kg - water_j_kg(found.temperature_c))
    kelvin_w = 1000.0 * mash.rate_kg_s  # where nothing warms: what a kelvin would take, about
    through_w = steam_w + sum(abs(one) for one in taken) + kelvin_w
    assert abs(steam_w - sum(taken) - 1000 * found.loss_kw) <= 1e-9 * through_w
    water_in = found.steam_kg_s + sum(rate * made.water for rate, _, made in streams)
    dry_in = sum(rate * (1 - made.water) for rate, _, made in streams)
    assert found.rate_kg_s * found.moisture_wb == pytest.approx(water_in, rel=1e-9)
    assert found.rate_kg_s * (1 - found.moisture_wb) == pytest.approx(dry_in, rel=1e-9)


@given(chambers, st.floats(0, 1))
def test_heat_and_water_balance_whatever_goes_in(chamber: Chamber, part: float) -> None:
    """From cold mash without steam up to where water boils, with molasses and water, at any steam:
    both balances close to 1e-9, and steam and temperature undo each other.
    """
    coldest_c = unsteamed_c(chamber)
    _closes(chamber, with_steam(chamber, 0.0))
    wanted_c = coldest_c + part * (chamber.steam.boils_c - coldest_c)
    try:
        found = steam_for(chamber, wanted_c)
    except NoAnswer:  # more steam than a quarter of the mash
        return
    _closes(chamber, found)
    back = with_steam(chamber, found.steam_kg_s)
    _closes(chamber, back)
    assert back.temperature_c == pytest.approx(wanted_c, abs=1e-6)
