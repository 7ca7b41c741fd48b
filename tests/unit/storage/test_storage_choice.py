"""Which bin a load goes into."""

import datetime as dt

from bedstone.storage.choice import BinState, fits_frac, rank

AT = dt.datetime(2026, 11, 25, 12, tzinfo=dt.UTC)


def a_bin(code: str, **other: object) -> BinState:
    """A bin with room for twenty tonnes, known to a tenth of one."""
    given: dict[str, object] = {
        "name": "",
        "room_mg": 20_000,
        "room_then_mg": 20_000,
        "room_sd_mg": 100,
        **other,
    }
    return BinState(bin=code, **given)  # type: ignore[arg-type]


def ranked(*states: BinState, mass_mg: int = 10_000) -> list[str]:
    """Codes in order."""
    return [row.bin for row in rank(states, mass_mg=mass_mg, at=AT, shown=str)]


def test_odds_of_room():
    """Room equal to the load is even odds; without an error it is sure."""
    assert fits_frac(10, 1, 10) == 0.5
    assert fits_frac(10, 0, 10) == 1.0
    assert fits_frac(9, 0, 10) == 0.0


def test_what_is_out_of_the_question_comes_last_with_its_reason():
    """A reason against a bin beats any room, and no room is said of it."""
    rows = rank(
        (a_bin("A", against=("Kept for salt.",)), a_bin("B", room_then_mg=10_001)),
        mass_mg=10_000,
        at=AT,
        shown=str,
    )
    assert [row.bin for row in rows] == ["B", "A"]
    assert rows[1].why == ("Kept for salt.",)
    assert rows[1].room_mg is None


def test_room_by_plan_counts_not_room_now():
    """A full bin that is drawn down in time may take the load; one that is not may not."""
    rows = {
        row.bin: row
        for row in rank(
            (a_bin("A", room_mg=0, room_then_mg=12_000), a_bin("B", room_mg=0, room_then_mg=0)),
            mass_mg=10_000,
            at=AT,
            shown=str,
        )
    }
    assert rows["A"].possible
    assert not rows["B"].possible
    assert rows["B"].why[0].startswith("No room: 0 free")


def test_order_of_possible_bins():
    """Sure room, then kept for it, then cautions, then the youngest buried, then the tightest."""
    old = AT - dt.timedelta(days=9)
    new = AT - dt.timedelta(days=2)
    assert ranked(a_bin("A"), a_bin("B", is_kept_for_it=True)) == ["B", "A"]
    assert ranked(a_bin("A", room_then_mg=10_000, is_kept_for_it=True), a_bin("B")) == ["B", "A"]
    assert ranked(a_bin("A", cautions=("mind",)), a_bin("B")) == ["B", "A"]
    assert ranked(a_bin("A", buried_at=old), a_bin("B", buried_at=new), a_bin("C")) == [
        "C",
        "B",
        "A",
    ]
    assert ranked(a_bin("A", room_then_mg=30_000), a_bin("B")) == ["B", "A"]


def test_even_odds_are_said():
    """Where it may not fit the odds are said in words."""
    (row,) = rank((a_bin("A", room_then_mg=10_000),), mass_mg=10_000, at=AT, shown=str)
    assert row.possible
    assert any("about 50 in 100" in text for text in row.why)
