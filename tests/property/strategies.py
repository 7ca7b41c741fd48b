"""Strategies shared by the property tests. A new kind of fact that carries movements joins
FACT_KINDS here.
"""

import datetime as dt

from hypothesis import strategies as st

from bedstone.ledger.model import Fact, How, Lot, LotKind, Movement, Reading

__all__ = ["EPOCH", "FACT_KINDS", "codes", "contents", "facts", "moments", "movements", "places"]

EPOCH = dt.datetime(2026, 3, 1, 6, tzinfo=dt.UTC)

FACT_KINDS = (
    "mill.tables_loaded/1",
    "orders.order_set/1",
    "orders.order_cancelled/1",
    "weather.hours_set/1",
    "storage.opening_stock/1",
    "receiving.load_accepted/1",
    "grinding.ground/1",
    "batching.batch_started/1",
    "batching.hand_weighed/1",
    "batching.drug_confirmed/1",
    "batching.batch_rebalanced/1",
    "batching.batch_made/1",
    "pelleting.run_pelleted/1",
    "finishing.run_packed/1",
    "finishing.shipped/1",
    "cleaning.cleaned_out/1",
    "storage.bin_seen_empty/1",
    "storage.counted/1",
    "quality.held/1",
    "quality.released/1",
    "quality.assayed/1",
    "live.readings_taken/1",
    "quality.instrument_proved/1",
    "quality.power_event/1",
    "storage.level_read/1",
    "quality.complaint_received/1",
    "quality.mixer_tested/1",
    "quality.durability_tested/1",
    "quality.sieved/1",
    "pelleting.part_fitted/1",
    "cooling.calibrated/1",
    "formulation.formula_drafted/1",
    "formulation.formula_approved/1",
    "formulation.formula_put_in_use/1",
    "formulation.formula_withdrawn/1",
    "planning.plan_proposed/1",
    "planning.plan_released/1",
    "people.pin_set/1",
)

places = st.sampled_from(
    (
        "B01",
        "B02",
        "MX1",
        "PL1>F03",
        "supplier/NORTHFIELD",
        "customer/HOLLOW-FARM",
        "opening",
        "steam",
        "air",
        "scrap",
        "unaccounted",
    )
)
codes = st.from_regex(r"[A-Z][A-Z0-9_.-]{0,7}", fullmatch=True)
moments = st.integers(0, 10**12).map(lambda us: EPOCH + dt.timedelta(microseconds=us))
_texts = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=20)
contents = st.dictionaries(
    _texts,
    st.recursive(
        st.none()
        | st.booleans()
        | st.integers(-(2**80), 2**80)
        | st.floats(allow_nan=False, allow_infinity=False)
        | _texts,
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_texts, inner, max_size=3),
        max_leaves=6,
    ),
    max_size=3,
)
_readings = st.builds(Reading, number=_texts, unit=_texts, division=_texts)


@st.composite
def movements(draw: st.DrawFn) -> Movement:
    """A movement between two places, of any mass that may be kept."""
    start, end = draw(st.lists(places, min_size=2, max_size=2, unique=True))
    return Movement(
        from_place=start,
        to_place=end,
        mass_mg=draw(st.integers(1, 10**14)),
        material=draw(st.sampled_from(("CORN", "SBM", "MINERAL"))),
        how=draw(st.sampled_from(How)),
        instrument=draw(_texts),
        seen=draw(st.none() | _readings),
        target_mg=draw(st.none() | st.integers(0, 10**14)),
        mass_sd_mg=draw(st.integers(0, 10**9)),
        lot=draw(st.none() | codes),
    )


@st.composite
def facts(draw: st.DrawFn, lots: bool = True) -> Fact:  # noqa: FBT001, FBT002 - one flag of a strategy
    """A fact of any kind with any content, movements and lots."""
    made = draw(st.lists(codes, max_size=2, unique=True)) if lots else []
    return Fact(
        kind=draw(st.sampled_from(FACT_KINDS)),
        happened_at=draw(moments),
        by=draw(codes),
        content=draw(contents),
        movements=tuple(draw(st.lists(movements(), max_size=4))),
        lots=tuple(
            Lot(lot=code, kind=draw(st.sampled_from(LotKind)), material="CORN") for code in made
        ),
    )
