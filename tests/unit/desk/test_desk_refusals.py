"""What the acts refuse: each wrong input by itself writes nothing and says what is allowed."""

from collections.abc import Callable

import pytest

from bedstone.desk.holds import hold_lots
from bedstone.desk.record import Record
from bedstone.desk.runs import (
    record_count,
    record_ground,
    record_load,
    record_packed,
    record_pelleted,
    record_shipped,
    record_shipped_bulk,
)
from bedstone.errors import BadInput, BedstoneError, Refused, Unknown
from fakes.desk_day import a_day, later

Act = Callable[[Record], object]
BY = {"by": "osk", "at": later(1)}


def load(**changes: object) -> Act:
    """A load of meal, changed."""
    values = {"firm": "fenwold", "ingredient": "SBM", "into": "B4", "lot": "L-1", "mass_mg": 10**9}
    return lambda record: record_load(record, **(values | changes), **BY)  # type: ignore[arg-type]


def ground(**changes: object) -> Act:
    """Corn ground, changed."""
    values = {
        "machine": "GR1", "makes": "CORN-GR", "from_place": "B1", "to_place": "G1",
        "in_mg": 10**9, "out_mg": 10**9,
    }  # fmt: skip
    return lambda record: record_ground(record, **(values | changes), **BY)  # type: ignore[arg-type]


def count(**changes: object) -> Act:
    """A count of meal, changed."""
    values = {"place": "B4", "material": "SBM", "counted_mg": 10**9} | changes
    place = values.pop("place")
    return lambda record: record_count(record, place, **values, **BY)  # type: ignore[arg-type]


def packed(**changes: object) -> Act:
    """Bags filled, changed."""
    values = {"run": "R-4107", "machine": "SK1", "from_place": "FB1", "to_place": "WH1", "bags": 1}
    return lambda record: record_packed(record, **(values | changes), **BY)  # type: ignore[arg-type]


def shipped(**changes: object) -> Act:
    """Bags shipped, changed."""
    values = {"order": "4107", "run": "R-4107", "bags": 1, "from_place": "WH1"}
    return lambda record: record_shipped(record, **(values | changes), **BY)  # type: ignore[arg-type]


def bulk(**changes: object) -> Act:
    """A truck loaded, changed."""
    values = {
        "order": "4107", "run": "R-4107", "mass_mg": 10**9, "from_place": "FB1", "machine": "LO1",
    }  # fmt: skip
    return lambda record: record_shipped_bulk(record, **(values | changes), **BY)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("act", "error", "said"),
    [
        (load(firm="harrow"), BadInput, "no known supplier"),
        (load(ingredient="GOLD"), BadInput, "no such ingredient"),
        (load(into="B44"), Unknown, "did you mean B4"),
        (load(mass_mg=0), BadInput, "above 0"),
        (load(mass_mg=10**18), BadInput, "at most 440,925 lb"),
        (load(lot=" "), BadInput, "lot number"),
        (ground(makes="SBM"), BadInput, "no ground ingredient"),
        (ground(machine="MX1"), BadInput, "wrong machine"),
        (ground(machine="GR9"), Unknown, "did you mean GR1"),
        (ground(out_mg=10**9 + 1), BadInput, "More came out"),
        (ground(from_place="B4"), BadInput, "must not go into"),
        (count(material="GOLD"), BadInput, "no such material"),
        (count(counted_mg=-1), BadInput, "never below nothing"),
        (packed(bags=0), BadInput, "1 or more"),
        (packed(), Unknown, "No batch of run"),
        (shipped(bags=-1), BadInput, "1 or more"),
        (shipped(order="9"), Unknown, "no order"),
        (shipped(), Unknown, "R-4107"),
        (shipped(from_place="FB1"), BadInput, "right kind of bin"),
        (bulk(), Refused, "No batch of run"),
        (bulk(machine="SK1"), BadInput, "wrong machine"),
        (lambda r: hold_lots(r, (), why="x", **BY), BadInput, "No lot is named"),
        (lambda r: hold_lots(r, ("L-SBM",), why=" ", **BY), BadInput, "Say why"),
        (lambda r: hold_lots(r, ("L-SBN",), why="x", **BY), Unknown, "L-SBM"),
        (
            lambda r: record_pelleted(
                r, run="R-1", machine="PL1", from_place="SB1", to_place="FB1", batches=(), **BY
            ),
            BadInput,
            "No batch is named",
        ),
    ],
)
def test_a_wrong_input_writes_nothing(act: Act, error: type[BedstoneError], said: str):
    """Each wrong input is refused by the right error, in words, and the journal stays as it was."""
    record = a_day()
    head = record.head()
    with pytest.raises(error, match=said):
        act(record)
    assert record.head() == head
