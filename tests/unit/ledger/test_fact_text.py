import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from bedstone.errors import BadInput
from bedstone.ledger.model import Fact, How, Lot, LotKind, Movement, Reading
from bedstone.ledger.text import check_fact, fact_from_text, fact_text

AT = dt.datetime(2026, 3, 2, 7, 15, 0, 250, tzinfo=dt.UTC)
LOAD = Movement(
    from_place="supplier/NORTHFIELD",
    to_place="B01",
    mass_mg=24_000_000_000,
    material="CORN",
    how=How.WEIGHED,
    instrument="TRUCK",
    seen=Reading(number="52,910", unit="lb", division="20"),
    mass_sd_mg=9_000_000,
    lot="L-0007",
)
FACT = Fact(
    kind="receiving.load_accepted/1",
    happened_at=AT,
    by="mara",
    content={"ticket": "T-1", "note": "über dry", "moisture_wb": 0.138},
    movements=(LOAD,),
    lots=(Lot(lot="L-0007", kind=LotKind.LOAD, material="CORN"),),
)


def test_the_text_of_a_fact_is_fixed_to_the_letter():
    """The canonical text stays as it is, else no chain ever written could be checked again."""
    assert fact_text(FACT, position=3, recorded_at=AT) == (
        '{"by":"mara","content":{"moisture_wb":0.138,"note":"über dry","ticket":"T-1"},'
        '"happened_at":"2026-03-02T07:15:00.000250Z","kind":"receiving.load_accepted/1",'
        '"lots":[{"kind":"load","lot":"L-0007","material":"CORN"}],'
        '"movements":[{"from":"supplier/NORTHFIELD","how":"weighed","instrument":"TRUCK",'
        '"lot":"L-0007","mass_mg":24000000000,"mass_sd_mg":9000000,"material":"CORN",'
        '"seen":{"division":"20","number":"52,910","unit":"lb"},"to":"B01"}],'
        '"position":3,"recorded_at":"2026-03-02T07:15:00.000250Z"}'
    )


def test_a_fact_comes_back_from_its_text_whole():
    """Text and back gives the same position, time and fact."""
    text = fact_text(FACT, position=3, recorded_at=AT)
    assert fact_from_text(text) == (3, AT, FACT)


def test_times_of_other_zones_are_written_in_utc():
    """A time of another zone is the same moment in the text."""
    zone = dt.timezone(dt.timedelta(hours=-6))
    moved = replace(FACT, happened_at=AT.astimezone(zone))
    assert fact_text(moved, position=3, recorded_at=AT.astimezone(zone)) == fact_text(
        FACT, position=3, recorded_at=AT
    )


def _with(**changes: Any) -> Fact:
    return replace(FACT, movements=(replace(LOAD, **changes),))


@pytest.mark.parametrize(
    "wrong",
    [
        replace(FACT, kind="receiving.load_accepted"),
        replace(FACT, kind="Receiving.load/1"),
        replace(FACT, kind="receiving.load/0"),
        replace(FACT, happened_at=AT.replace(tzinfo=None)),
        replace(FACT, by="  "),
        replace(FACT, by="a\0b"),
        replace(FACT, content={"x": float("nan")}),
        replace(FACT, content={"x": [1, {"y": float("inf")}]}),
        replace(FACT, content={"x": {1, 2}}),
        replace(FACT, content={"x": AT}),
        replace(FACT, content={1: "x"}),
        replace(FACT, content={"x": "\ud800"}),
        replace(FACT, content=[1]),
        replace(FACT, lots=(replace(FACT.lots[0], lot="L 7"),)),
        replace(FACT, lots=(replace(FACT.lots[0], lot=""),)),
        replace(FACT, lots=FACT.lots * 2),
        _with(mass_mg=0),
        _with(mass_mg=-1),
        _with(mass_mg=1.0),
        _with(mass_mg=True),
        _with(mass_mg=2**63),
        _with(mass_sd_mg=-1),
        _with(target_mg=1.5),
        _with(how="guessed"),
        _with(to_place="supplier/NORTHFIELD"),
        _with(to_place=""),
        _with(from_place="B\n01"),
        _with(lot="L/7"),
        _with(material="CORN "),
        _with(seen=Reading(number="\ud800", unit="lb")),
    ],
)
def test_what_may_not_be_kept_is_refused_in_words(wrong: Fact):
    """A fact that cannot be said exactly in text is refused before anything is written."""
    with pytest.raises(BadInput) as caught:
        fact_text(wrong, position=1, recorded_at=AT)
    assert str(caught.value)


def test_content_nested_without_end_is_refused():
    """Content that goes too deep is refused and does not run the program out of stack."""
    content: dict = {}
    inner = content
    for _ in range(5000):
        inner["x"] = {}
        inner = inner["x"]
    with pytest.raises(BadInput, match="too deeply"):
        check_fact(replace(FACT, content=content))


@pytest.mark.parametrize(
    "text", ["", "{}", "[]", "null", "{", '{"position":1}', "[" * 100_000, '"x"', "7"]
)
def test_a_text_that_is_no_fact_is_named(text: str):
    """Anything else than the text of a fact gives BadInput, never another error."""
    with pytest.raises(BadInput, match="not that of a fact"):
        fact_from_text(text)


@pytest.mark.parametrize("changed", ['"mass_mg":24', '"how":"guessed"', '"position":true'])
def test_a_text_with_values_of_another_kind_is_named_or_read_as_it_stands(changed: str):
    """A changed value is read as it stands, or named if it cannot be."""
    text = fact_text(FACT, position=3, recorded_at=AT)
    text = (
        text.replace('"mass_mg":24000000000', changed)
        if "mass" in changed
        else text.replace('"how":"weighed"', changed).replace('"position":3', changed)
    )
    if "mass" in changed:
        assert fact_from_text(text)[2].movements[0].mass_mg == 24
    else:
        with pytest.raises(BadInput):
            fact_from_text(text)
