"""Tumbling tests and stacks of sieves out of a list into the record, all of them or none."""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from bedstone.desk.line_tests import (
    durability_fact,
    durability_tests,
    run_products,
    sieve_tests,
    sieving_fact,
)
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput, BedstoneError, Fault
from bedstone.ledger.model import Fact
from bedstone.mill.cells import near_words, read_cell
from bedstone.mill.columns import Column, columns_of
from bedstone.mill.equipment import Settings
from bedstone.mill.lab_lists import PAN, SievedLine, TumbledLine, openings_of
from bedstone.mill.list_moments import moment_cell
from bedstone.mill.order_mapping import TheirFile

__all__ = ["ListTaken", "import_tests"]

MOST_FAULTS = 50
TUMBLED, SIEVED = "tumbling test", "stack of sieves"
OPENING = "600"  # a sieve's column, in words of what is allowed

Key = tuple[object, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ListTaken:
    """What a list brought: its kind, tests new, and tests that were on record before."""

    kind: str
    new: int
    old: int


@dataclass(slots=True, kw_only=True)
class _Lists:
    """What is read of a list, with what is wrong in it."""

    record: Record
    their: TheirFile
    by: str
    at: dt.datetime
    settings: Settings
    faults: list[Fault]

    def fault(self, line: int, bad: BedstoneError, column: str = "") -> None:
        """Keep what is wrong with a row."""
        seen = f" ({bad.seen})" if bad.seen else ""
        allowed, do = (bad.allowed, bad.do) if bad.allowed else (bad.do, "")
        whole = Fault(found=bad.what.rstrip(".") + seen, allowed=allowed, do=do)
        said = bad.faults or (whole,)
        self.faults += [
            replace(one, file=self.their.name, row=line, column=column or one.column)
            for one in said
        ]

    def values(self, line: int, cells: Mapping[str, str], columns: Mapping[str, Column]) -> Any:
        """The cells of a row as values, by column; None if one of them cannot be."""
        found: dict[str, Any] = {}
        for name, column in columns.items():
            try:
                cell = cells.get(name, "")
                if column.kind is dt.datetime:
                    cell = moment_cell(cell, self.settings.units)
                found[name] = read_cell(cell, column=column, unit=None, zone=self.settings.zone)
            except BadInput as bad:
                self.fault(line, bad, name)
        return found if len(found) == len(columns) else None


def import_tests(record: Record, their: TheirFile, *, by: str, at: dt.datetime) -> ListTaken:
    """Record the tests of a list, a fact for each.

    A list with a column ``retained_g`` is of tumblings, a row each: rows of one run, line and time
    are one test. One with a column ``pan`` is of stacks of sieves, a row each: columns named by a
    number are sieves of that opening in micrometres. Asks: who may, all that a test typed on the
    page asks. A test that is on record already is left out, so that a list that has grown can be
    given again. Records: ``quality.durability_tested/1``, ``quality.sieved/1``.
    """
    mill = current_mill(record)
    check(mill, by, "readings")
    lists = _Lists(
        record=record, their=their, by=by, at=at, settings=mill.settings, faults=[]
    )  # fmt: skip
    is_sieved = PAN in their.columns
    columns = _columns(lists, SievedLine if is_sieved else TumbledLine)
    facts: dict[Key, Fact] = {}
    if not lists.faults:
        facts = dict(_sieved(lists, columns) if is_sieved else _tumbled(lists, columns))
    if lists.faults:
        count = len(lists.faults)
        more = f"; the first {MOST_FAULTS} are named" if count > MOST_FAULTS else ""
        raise BadInput(
            f"{their.name} has {count} faults; nothing was recorded{more}.",
            faults=tuple(lists.faults[:MOST_FAULTS]),
        )
    known = _known(record, is_sieved=is_sieved)
    new = [fact for key, fact in facts.items() if key not in known]
    if new:
        record.append_all(new, recorded_at=at)
    return ListTaken(kind=SIEVED if is_sieved else TUMBLED, new=len(new), old=len(facts) - len(new))


def _columns(lists: _Lists, row_type: type) -> dict[str, Column]:
    """The columns of a kind of list, with what is wrong with those that are there."""
    columns = {item.field: item for item in columns_of(row_type)}
    names = lists.their.columns
    openings = openings_of(names) if row_type is SievedLine else ()
    allowed = ", ".join(columns) + (
        f", and sieves by their opening in µm, such as {OPENING}" if row_type is SievedLine else ""
    )
    wrong = [name for name in names if name not in columns and name not in openings]
    missing = [name for name, item in columns.items() if item.needed and name not in names]
    lists.faults += [
        Fault(file=lists.their.name, column=name, found="a column that is not known",
              allowed=allowed, do=near_words(name, columns))
        for name in wrong
    ]  # fmt: skip
    lists.faults += [
        Fault(file=lists.their.name, column=name, found="no such column", allowed=allowed,
              do="add it")
        for name in missing
    ]  # fmt: skip
    return columns


def _known(record: Record, *, is_sieved: bool) -> set[Key]:
    if is_sieved:
        return {
            (row.of, row.tested_at, row.openings_um, row.retained_g) for row in sieve_tests(record)
        }
    return {(row.run, row.line, row.tested_at, row.retained_g) for row in durability_tests(record)}


def _tumbled(lists: _Lists, columns: Mapping[str, Column]) -> Iterator[tuple[Key, Fact]]:
    """Tests of the rows: those of one run, line and time together."""
    tests: dict[tuple[str, str, dt.datetime], list[tuple[int, TumbledLine]]] = {}
    for row in lists.their.rows:
        values = lists.values(row.line, row.cells, columns)
        if values is not None:
            read = TumbledLine(**values)
            when = read.tested_at.astimezone(dt.UTC)
            tests.setdefault((read.run, read.line, when), []).append((row.line, read))
    products = run_products(lists.record)
    for (run, line, when), rows in tests.items():
        number, first = rows[0]
        retained_g = tuple(read.retained_g for _, read in rows)
        other = next((at for at, read in rows if read.test_g != first.test_g), None)
        if other is not None:
            lists.faults.append(
                Fault(file=lists.their.name, row=other, column="test_g",
                      found="another mass than in the same test before",
                      allowed=f"{first.test_g:g} g in all tumblings of a test")
            )  # fmt: skip
            continue
        try:
            fact = durability_fact(
                lists.record,
                products=products,
                run=run,
                line=line,
                retained_g=retained_g,
                test_g=first.test_g,
                note=first.note,
                by=lists.by,
                tested_at=when,
                at=lists.at,
            )
        except BedstoneError as bad:
            lists.fault(number, bad)
            continue
        yield (run, line, when, retained_g), fact


def _sieved(lists: _Lists, columns: Mapping[str, Column]) -> Iterator[tuple[Key, Fact]]:
    """A stack of sieves for each row; an empty cell of a sieve is nothing on it."""
    names = sorted(openings_of(lists.their.columns), key=float, reverse=True)
    on_sieve = {name: replace(columns[PAN], field=name, default=0.0) for name in names}
    for row in lists.their.rows:
        values = lists.values(row.line, row.cells, columns)
        on = lists.values(row.line, row.cells, on_sieve)
        if values is None or on is None:
            continue
        read = SievedLine(**values)
        retained_g = (*(on[name] for name in names), read.pan)
        try:
            fact = sieving_fact(
                lists.record,
                of=read.of,
                machine=read.machine,
                openings_um=[float(name) for name in names],
                retained_g=retained_g,
                sample_g=read.sample_g,
                note=read.note,
                by=lists.by,
                tested_at=read.tested_at.astimezone(dt.UTC),
                at=lists.at,
            )
        except BedstoneError as bad:
            lists.fault(row.line, bad)
            continue
        openings = tuple(float(name) for name in names)
        yield (read.of, read.tested_at.astimezone(dt.UTC), openings, retained_g), fact
