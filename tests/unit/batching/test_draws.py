import datetime as dt
from dataclasses import replace

import pytest

from bedstone.batching.draws import draws_of_batch, draws_of_day
from bedstone.batching.model import Arrival, BatchToDraw, Layer, Part, Taking
from bedstone.mill.model import Bin, Mill, Scale
from bedstone.mill.plan import Draw, GrindJob, Verdict
from fakes.plans import LB_MG, at, lb
from fakes.small_mill import a_mill

FIRST = dt.datetime(2026, 11, 1, tzinfo=dt.UTC)


def layer(lot: str, pounds: float, day: int = 1) -> Layer:
    return Layer(lot=lot, mass_mg=lb(pounds), since_at=FIRST + dt.timedelta(days=day - 1))


def full_stock() -> dict[tuple[str, str], tuple[Layer, ...]]:
    return {
        ("G1", "CORN-GR"): (layer("C1", 1100, 1), layer("C2", 9000, 5)),
        ("G2", "CORN-GR"): (layer("C3", 9000, 3),),
        ("G3", "BARLEY-GR"): (layer("BY1", 9000),),
        ("B4", "SBM"): (layer("S1", 9000, 1), layer("S2", 700, 2)),
        ("B5", "MIDDS"): (layer("M1", 9000),),
        ("B6", "LIME"): (layer("L1", 9000),),
        ("B7", "SALT"): (layer("A1", 9000),),
        ("T1", "MOL"): (layer("T1A", 3000), layer("T1B", 1000)),
        ("T2", "OIL"): (layer("O1", 3000),),
        ("F1", "SHEEP-PX"): (layer("X1", 900),),
        ("F1", "VITE"): (layer("V1", 50),),
        ("F1", "MONEN"): (layer("D1", 1, 1), layer("D2", 50, 2)),
    }


def parts(mill: Mill, product: str) -> tuple[Part, ...]:
    formula = mill.running_formula(product)
    assert formula is not None
    return tuple(
        Part(ingredient=line.ingredient, parts_frac=line.parts_frac)
        for line in mill.lines_of(product, formula.version)
    )


def a_work(mill: Mill, product: str, pounds: float, batch: str = "4107-01") -> BatchToDraw:
    return BatchToDraw(
        batch=batch,
        material=product,
        mixer="MX1",
        mass_mg=lb(pounds),
        parts=parts(mill, product),
    )


def of(draws: tuple[Draw, ...], ingredient: str) -> list[Draw]:
    return [draw for draw in draws if draw.ingredient == ingredient]


def pounds_of(draw: Draw) -> float:
    return round(draw.target_mg / LB_MG, 4)


def test_order_is_large_first_micros_in_the_middle_liquids_last() -> None:
    """A batch is weighed largest first on each scale, hand additions after half, liquids last."""
    mill = a_mill()
    drawn = draws_of_batch(mill, a_work(mill, "SHEEP-GR", 4000), stock=full_stock())
    assert [draw.ingredient for draw in drawn.draws] == [
        "CORN-GR", "MIDDS", "SHEEP-PX", "VITE", "SBM", "LIME", "SALT", "MOL", "OIL",
    ]  # fmt: skip
    assert [draw.sequence for draw in drawn.draws] == list(range(1, 10))
    assert [draw.instrument for draw in drawn.draws] == [
        "SC1", "SC1", "HS", "HS", "SC1", "SC2", "SC2", "LM1", "LM2",
    ]  # fmt: skip
    assert [draw.how for draw in drawn.draws[-2:]] == ["metered", "metered"]
    assert drawn.findings == ()


def test_targets_are_whole_divisions_and_add_up() -> None:
    """Targets stand on the divisions of their scales and add up to the batch."""
    mill = a_mill()
    drawn = draws_of_batch(mill, a_work(mill, "SHEEP-GR", 3333), stock=full_stock())
    steps = {"SC1": 1.0, "SC2": 0.1, "HS": 0.01, "LM1": 0.1, "LM2": 0.1}
    for draw in drawn.draws:
        divisions = pounds_of(draw) / steps[draw.instrument]
        assert divisions == pytest.approx(round(divisions), abs=1e-3), draw
    assert drawn.mass_mg == pytest.approx(lb(3333), abs=lb(0.5))
    assert pounds_of(of(drawn.draws, "VITE")[0]) == 3.33
    assert pounds_of(of(drawn.draws, "SALT")[0]) == pytest.approx(16.7, abs=0.11)


def test_largest_remainder_keeps_the_sum_of_a_scale() -> None:
    """Three thirds of 100 divisions become 34, 33 and 33, never 33 each."""
    mill = a_mill()
    work = BatchToDraw(
        batch="1-01",
        material="X",
        mixer="MX1",
        mass_mg=lb(1000),
        parts=tuple(
            Part(ingredient=code, parts_frac=1 / 3) for code in ("CORN-GR", "SBM", "MIDDS")
        ),
    )
    drawn = draws_of_batch(mill, work, stock=full_stock())
    assert sorted(pounds_of(draw) for draw in drawn.draws) == [333, 333, 334]


def test_oldest_lot_decides_which_bin_comes_first() -> None:
    """Of two bins with the same material the one with the oldest lot is drawn from."""
    mill = a_mill()
    stock = full_stock()
    drawn = draws_of_batch(mill, a_work(mill, "SHEEP-GR", 4000), stock=stock)
    assert of(drawn.draws, "CORN-GR")[0].from_place == "G1"
    stock[("G1", "CORN-GR")] = (layer("C9", 9000, 20),)
    drawn = draws_of_batch(mill, a_work(mill, "SHEEP-GR", 4000), stock=stock)
    assert of(drawn.draws, "CORN-GR")[0].from_place == "G2"


def test_two_bins_give_what_one_does_not_hold() -> None:
    """A bin that does not hold enough is drawn down and the next gives the rest."""
    mill = a_mill()
    stock = full_stock() | {("G1", "CORN-GR"): (layer("C1", 700.4),)}
    drawn = draws_of_batch(mill, a_work(mill, "SHEEP-GR", 4000), stock=stock)
    corn = of(drawn.draws, "CORN-GR")
    assert [(draw.from_place, pounds_of(draw)) for draw in corn] == [("G1", 700), ("G2", 900)]
    assert [share.lot for draw in corn for share in draw.lots] == ["C1", "C3"]
    assert corn[1].sequence == corn[0].sequence + 1
    left = drawn.stock[("G1", "CORN-GR")]
    assert [one.mass_mg for one in left] == [pytest.approx(lb(0.4), abs=2)]


def test_no_part_of_a_split_is_too_small_to_trust() -> None:
    """Neither dregs nor a small rest is drawn: below 50 lb the main scale is not trusted."""
    mill = a_mill()
    dregs = full_stock() | {("G1", "CORN-GR"): (layer("C1", 30),)}
    drawn = draws_of_batch(mill, a_work(mill, "SHEEP-GR", 4000), stock=dregs)
    assert [draw.from_place for draw in of(drawn.draws, "CORN-GR")] == ["G2"]
    nearly = full_stock() | {("G1", "CORN-GR"): (layer("C1", 1590),)}
    drawn = draws_of_batch(mill, a_work(mill, "SHEEP-GR", 4000), stock=nearly)
    assert [pounds_of(draw) for draw in of(drawn.draws, "CORN-GR")] == [1550, 50]


def test_lots_come_out_by_flow_pattern() -> None:
    """First in first out by mass flow, last in first by funnel flow, in proportion when stirred."""
    mill = a_mill()
    drawn = draws_of_batch(mill, a_work(mill, "SHEEP-GR", 4000), stock=full_stock()).draws

    def shares(ingredient: str) -> list[tuple[str, float]]:
        lots = of(drawn, ingredient)[0].lots
        return [(share.lot, round(share.mass_mg / LB_MG, 2)) for share in lots]

    assert shares("CORN-GR") == [("C1", 1100), ("C2", 500)]
    assert shares("SBM") == [("S2", 700), ("S1", 100)]
    assert shares("MOL") == [("T1A", 150), ("T1B", 50)]


def test_what_is_too_small_for_its_scale_goes_over_a_finer_one_or_by_hand() -> None:
    """60 lb of limestone goes over the minor scale, 3 lb of it by hand."""
    mill = a_mill()

    def one(pounds: float) -> Draw:
        part = Part(ingredient="LIME", parts_frac=1.0)
        work = BatchToDraw(
            batch="1-01", material="X", mixer="MX1", mass_mg=lb(pounds), parts=(part,)
        )
        drawn = draws_of_batch(mill, work, stock=full_stock())
        assert drawn.findings == ()
        return drawn.draws[0]

    assert (one(300).instrument, one(300).how) == ("SC1", "weighed")
    assert (one(60).instrument, one(60).how) == ("SC2", "weighed")
    assert (one(3).instrument, one(3).how, one(3).from_place) == ("HS", "hand", "B6")


def test_what_no_scale_can_be_trusted_with_is_a_finding() -> None:
    """A tenth of a pound lies below the smallest draw of the finest scale and is said to."""
    mill = a_mill()
    part = Part(ingredient="VITE", parts_frac=1.0)
    work = BatchToDraw(batch="1-01", material="X", mixer="MX1", mass_mg=lb(0.1), parts=(part,))
    drawn = draws_of_batch(mill, work, stock=full_stock())
    assert [item.code for item in drawn.findings] == ["batching.too_little"]
    assert drawn.findings[0].limit == pytest.approx(0.2 * 0.45359237, abs=1e-6)
    tiny = replace(work, mass_mg=lb(0.001))
    codes = [item.code for item in draws_of_batch(mill, tiny, stock=full_stock()).findings]
    assert "batching.vanishes" in codes


def test_a_draw_larger_than_the_scale_takes_several_weighings() -> None:
    """9,000 lb on a 4,000 lb scale are three weighings of 3,000 lb."""
    mill = a_mill()
    part = Part(ingredient="BARLEY-GR", parts_frac=1.0)
    work = BatchToDraw(batch="1-01", material="X", mixer="MX1", mass_mg=lb(9000), parts=(part,))
    drawn = draws_of_batch(mill, work, stock=full_stock())
    assert [pounds_of(draw) for draw in drawn.draws] == [3000, 3000, 3000]
    assert drawn.mass_mg == pytest.approx(lb(9000), abs=2)


def test_too_little_stock_is_said_and_the_target_stays_whole() -> None:
    """When the book holds too little the draw keeps its target and a finding names the rest."""
    mill = a_mill()
    stock = full_stock() | {("B5", "MIDDS"): (layer("M1", 700),)}
    drawn = draws_of_batch(mill, a_work(mill, "SHEEP-GR", 4000), stock=stock)
    assert pounds_of(of(drawn.draws, "MIDDS")[0]) == 1200
    assert [item.code for item in drawn.findings] == ["batching.short"]
    assert "500 lb" in drawn.findings[0].text
    assert drawn.stock[("B5", "MIDDS")] == ()


def test_what_cannot_reach_the_mixer_stops_the_batch() -> None:
    """An ingredient that no bin of the mixer's scales holds is a stop, with the way out."""
    mill = a_mill()
    stock = {key: value for key, value in full_stock().items() if key[1] != "SHEEP-PX"}
    drawn = draws_of_batch(mill, a_work(mill, "SHEEP-GR", 4000), stock=stock)
    stops = [item for item in drawn.findings if item.verdict is Verdict.STOP]
    assert [item.code for item in stops] == ["batching.nowhere"]
    assert "Sheep premix" in stops[0].text
    assert stops[0].do


def test_a_bin_of_another_mixer_is_not_drawn_from() -> None:
    """Only bins that feed a scale of this mixer count."""
    mill = a_mill()
    other = Bin(bin="Z1", kind="ground", capacity_kg=9e3, flow="first in, first out", feeds="ZS")
    scale = Scale(scale="ZS", machine="MX9", capacity_kg=2e3, division_kg=1, smallest_draw_kg=9)
    mill = replace(mill, bins=(*mill.bins, other), scales=(*mill.scales, scale))
    stock = full_stock() | {("Z1", "CORN-GR"): (layer("Z", 9000, 1),)}
    stock[("G1", "CORN-GR")] = stock[("G2", "CORN-GR")] = (layer("C", 9000, 9),)
    drawn = draws_of_batch(mill, a_work(mill, "SHEEP-GR", 4000), stock=stock)
    assert of(drawn.draws, "CORN-GR")[0].from_place == "G1"


def test_tolerance_and_caution_come_with_the_draw() -> None:
    """Each draw has its instrument's division, its tolerance and its ingredient's caution."""
    mill = a_mill()
    drawn = draws_of_batch(mill, a_work(mill, "BROIL-M", 4000), stock=full_stock())
    drug = of(drawn.draws, "MONEN")[0]
    assert drug.caution == "Can kill horses. Gloves and mask."
    assert pounds_of(drug) == 2.0
    assert [share.lot for share in drug.lots] == ["D1", "D2"]
    corn = of(drawn.draws, "CORN-GR")[0]  # 2,400 divisions: three of them
    assert corn.division_mg == 453_592
    assert corn.tolerance_mg == pytest.approx(lb(3), abs=1)


def test_a_day_consumes_one_stock_and_sees_what_is_made() -> None:
    """Grinding, arrivals and takings of the day count for the batches after them."""
    mill = a_mill()
    stock = full_stock() | {
        ("G1", "CORN-GR"): (layer("C1", 1600),),
        ("G2", "CORN-GR"): (),
        ("B1", "CORN"): (layer("W1", 5000),),
    }
    job = GrindJob(
        job="G-CORN-1", machine="GR1", ingredient="CORN", makes="CORN-GR", from_place="B1",
        to_place="G2", mass_in_mg=lb(2000), mass_out_mg=lb(1990), start_at=at("06:00"),
        end_at=at("07:00"),
    )  # fmt: skip
    first, second = (a_work(mill, "SHEEP-GR", 4000, f"4107-0{at}") for at in (1, 2))
    day = draws_of_day(mill, (first, job, second), stock=stock)
    assert day.findings == ()
    assert [share.lot for share in of(day.draws["4107-01"], "CORN-GR")[0].lots] == ["C1"]
    ground = of(day.draws["4107-02"], "CORN-GR")[0]
    assert (ground.from_place, [share.lot for share in ground.lots]) == ("G2", ["W1"])
    left = day.stock[("G2", "CORN-GR")]
    assert sum(one.mass_mg for one in left) == pytest.approx(lb(390), abs=2)
    short = draws_of_day(mill, (first, second), stock=stock)
    assert [item.about for item in short.findings] == ["4107-02"]


def test_feed_made_earlier_the_same_day_is_drawn_into_another() -> None:
    """Pellets that arrived in a finished bin this morning go into a textured feed with their lot."""
    mill = a_mill()
    pellets = Arrival(
        place="FB2", material="SHEEP-GR", lot="R-4099", mass_mg=lb(3000), at=at("08:00")
    )
    packed = Taking(place="FB2", material="SHEEP-GR", mass_mg=lb(1000))
    work = BatchToDraw(
        batch="4120-01", material="TEX", mixer="MX1", mass_mg=lb(2000),
        parts=(Part(ingredient="SHEEP-GR", parts_frac=0.9), Part(ingredient="MOL", parts_frac=0.1)),
    )  # fmt: skip
    day = draws_of_day(mill, (pellets, packed, work), stock=full_stock())
    assert day.findings == ()
    pellet = of(day.draws["4120-01"], "SHEEP-GR")[0]
    assert (pellet.from_place, pounds_of(pellet), pellet.lots[0].lot) == ("FB2", 1800, "R-4099")
    assert sum(one.mass_mg for one in day.stock[("FB2", "SHEEP-GR")]) == pytest.approx(
        lb(200), abs=2
    )


def test_the_same_stock_gives_the_same_draws() -> None:
    """Drawing is a plain function: the stock given is not touched."""
    mill = a_mill()
    stock = full_stock()
    before = dict(stock)
    one = draws_of_batch(mill, a_work(mill, "SHEEP-GR", 4000), stock=stock)
    two = draws_of_batch(mill, a_work(mill, "SHEEP-GR", 4000), stock=stock)
    assert one == two
    assert stock == before
