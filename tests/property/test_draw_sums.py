import datetime as dt

from hypothesis import given, settings
from hypothesis import strategies as st

from bedstone.batching.draws import draws_of_batch
from bedstone.batching.model import BatchToDraw, Layer, Part, Stock
from bedstone.batching.stock import share_out
from bedstone.mill.plan import Draw
from fakes.small_mill import a_mill

SINCE = dt.datetime(2026, 11, 1, tzinfo=dt.UTC)
PLACES = (
    ("G1", "CORN-GR"), ("G2", "CORN-GR"), ("B4", "SBM"), ("B5", "MIDDS"), ("B6", "LIME"),
    ("B7", "SALT"), ("F1", "SHEEP-PX"), ("F1", "MONEN"), ("T1", "MOL"), ("T2", "OIL"),
)  # fmt: skip
MILLS = {units: a_mill(units) for units in ("US", "SI")}


@st.composite
def stocks(draw: st.DrawFn) -> dict[tuple[str, str], tuple[Layer, ...]]:
    """Layers in every bin, none to four, from a milligram up to eight tonnes."""
    stock = {}
    for number, key in enumerate(PLACES):
        masses = draw(st.lists(st.integers(1, 8 * 10**9), max_size=4))
        stock[key] = tuple(
            Layer(lot=f"L{number}{at}", mass_mg=mass, since_at=SINCE + dt.timedelta(days=at))
            for at, mass in enumerate(masses)
        )
    return stock


@st.composite
def works(draw: st.DrawFn) -> BatchToDraw:
    """A batch of 200 kg to 1.9 t whose biggest part is corn, other parts as they come."""
    rest = draw(
        st.dictionaries(
            st.sampled_from([code for _place, code in PLACES if code != "CORN-GR"]),
            st.floats(0.0005, 0.08),
            max_size=8,
        )
    )
    parts = [Part(ingredient=code, parts_frac=part) for code, part in rest.items()]
    corn = Part(ingredient="CORN-GR", parts_frac=1.0 - sum(rest.values()))
    mass_mg = draw(st.integers(200 * 10**6, 1900 * 10**6))
    return BatchToDraw(
        batch="1-01", material="X", mixer="MX1", mass_mg=mass_mg, parts=(corn, *parts)
    )


@settings(max_examples=150, deadline=None)
@given(work=works(), stock=stocks(), units=st.sampled_from(("US", "SI")))
def test_targets_stand_on_divisions_and_add_up_to_the_batch(
    work: BatchToDraw, stock: Stock, units: str
) -> None:
    """For any batch and stock the targets are whole divisions and the sum is right to half one."""
    mill = MILLS[units]
    drawn = draws_of_batch(mill, work, stock=stock)
    division_of = {row.scale: row.division_kg for row in mill.scales}
    division_of |= {row.meter: row.division_kg for row in mill.meters}
    for draw in drawn.draws:
        steps = draw.target_mg / 1e6 / division_of[draw.instrument]
        assert draw.target_mg > 0
        assert abs(steps - round(steps)) < 1e-3, draw
    left_out = {item.code for item in drawn.findings} & {"batching.nowhere", "batching.vanishes"}
    if not left_out:
        assert abs(drawn.mass_mg - work.mass_mg) <= _half_division(drawn.draws) + len(drawn.draws)


def _half_division(draws: tuple[Draw, ...]) -> int:
    """Half the division of the scale that the corn goes over, the coarsest if it goes over two."""
    return max(draw.division_mg for draw in draws if draw.ingredient == "CORN-GR") // 2


@settings(max_examples=150, deadline=None)
@given(work=works(), stock=stocks())
def test_what_is_drawn_leaves_the_stock(work: BatchToDraw, stock: Stock) -> None:
    """Stock before is stock after and the lots drawn, lot by lot; never a layer below nothing."""
    drawn = draws_of_batch(MILLS["SI"], work, stock=stock)
    before: dict[str, int] = {}
    for layers in stock.values():
        for layer in layers:
            before[layer.lot] = before.get(layer.lot, 0) + layer.mass_mg
    after: dict[str, int] = {}
    for layers in drawn.stock.values():
        for layer in layers:
            assert layer.mass_mg > 0
            after[layer.lot] = after.get(layer.lot, 0) + layer.mass_mg
    for draw in drawn.draws:
        for share in draw.lots:
            after[share.lot] = after.get(share.lot, 0) + share.mass_mg
    assert after == before


@settings(max_examples=300, deadline=None)
@given(
    whole=st.integers(0, 10**10),
    weights=st.lists(st.floats(1e-6, 1e6), min_size=1, max_size=30),
)
def test_shares_add_up_and_lie_within_one_of_exact(whole: int, weights: list[float]) -> None:
    """Sharing out by largest remainder adds up, each share less than one from its exact value."""
    shares = share_out(whole, weights)
    assert sum(shares) == whole
    for share, weight in zip(shares, weights, strict=True):
        assert abs(share - whole * weight / sum(weights)) < 1 + 1e-3
