"""Values to plain JSON and back, strictly."""

import datetime as dt
from dataclasses import dataclass

import pytest

from bedstone.desk.plain_values import iso, moment, plain, row_from_plain, row_plain
from bedstone.errors import BadInput
from bedstone.ledger.model import How

NOON = dt.datetime(2026, 11, 25, 12, tzinfo=dt.timezone(dt.timedelta(hours=-6)))


@dataclass(frozen=True, kw_only=True)
class Inner:
    """A value inside another."""

    how: How
    day: dt.date


@dataclass(frozen=True, kw_only=True)
class Outer:
    """A value of every kind that the tables have."""

    name: str
    number: int
    part: float
    yes: bool
    at: dt.datetime
    clock: dt.time
    rows: tuple[Inner, ...] = ()
    note: str | None = None


WHOLE = Outer(
    name="a",
    number=3,
    part=0.5,
    yes=True,
    at=NOON,
    clock=dt.time(6, 30),
    rows=(Inner(how=How.WEIGHED, day=dt.date(2026, 11, 25)),),
)


def test_there_and_back():
    """A value with dates, words, lists and empty fields is the same after plain JSON."""
    content = row_plain(WHOLE)
    assert content["at"] == "2026-11-25T18:00:00Z"
    assert row_from_plain(Outer, content) == WHOLE
    del content["note"]
    assert row_from_plain(Outer, content) == WHOLE


@pytest.mark.parametrize(
    ("field", "value", "allowed"),
    [
        ("name", 3, "text"),
        ("number", 3.0, "a whole number"),
        ("number", True, "a whole number"),
        ("part", "x", "a number"),
        ("yes", 1, "true or false"),
        ("at", "2026-11-25T18:00:00", "an ISO moment with its zone"),
        ("clock", "25:00", "a time, HH:MM"),
        ("rows", "none", "a list"),
        ("rows", [3], "an object"),
        ("rows", [{"how": "guessed", "day": "2026-11-25"}], "one of weighed"),
        ("rows", [{"how": "weighed", "day": "25.11.2026"}], "a date"),
    ],
)
def test_a_wrong_value_is_named(field: str, value: object, allowed: str):
    """A value of another kind is refused with where it stands and what is allowed."""
    with pytest.raises(BadInput) as caught:
        row_from_plain(Outer, row_plain(WHOLE) | {field: value})
    (fault,) = caught.value.faults
    assert fault.file.startswith(field)
    assert allowed in fault.allowed


def test_a_moment_needs_its_zone():
    """A moment is read as UTC; one without a zone or no moment at all is refused."""
    assert moment(iso(NOON)) == NOON
    for text in ("2026-11-25T12:00:00", "noon"):
        with pytest.raises(BadInput, match="cannot be read"):
            moment(text)


def test_what_has_no_plain_form_is_refused():
    """Something that JSON cannot hold is refused by its type."""
    with pytest.raises(BadInput, match="bytes"):
        plain({"a": b"x"})
