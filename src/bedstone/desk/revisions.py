"""The mill's tables in the record: whole, numbered revisions, and what changed between two."""

import datetime as dt
import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from bedstone.desk.folding import folded
from bedstone.desk.plain_values import plain, row_from_plain, row_plain
from bedstone.desk.record import Record
from bedstone.errors import BadInput, RecordDamaged, Refused, Unknown
from bedstone.ledger.model import Fact, Json, Recorded
from bedstone.mill.formula_change import FormulaChange, with_change
from bedstone.mill.model import TABLES, FormulaLine, Mill, Settings
from bedstone.mill.table_differences import (
    SETTINGS,
    WHOLE,
    RowChange,
    TableChange,
    differences,
)

__all__ = [
    "APPROVED",
    "DRAFTED",
    "IN_USE",
    "REVISES",
    "WITHDRAWN",
    "FormulaPart",
    "changed_tables",
    "counted",
    "current_mill",
    "digest_of",
    "formula_change",
    "is_as_loaded",
    "mill_from_json",
    "newest_revision",
    "revision_mill",
    "revisions_loaded",
    "tables_to_json",
    "taken_back",
    "whole_number",
]

LOADED = "mill.tables_loaded/1"
DRAFTED = "formulation.formula_drafted/1"
APPROVED = "formulation.formula_approved/1"
IN_USE = "formulation.formula_put_in_use/1"
WITHDRAWN = "formulation.formula_withdrawn/1"
BECOMES: Mapping[str, str] = MappingProxyType(
    {DRAFTED: "draft", APPROVED: "approved", IN_USE: "running", WITHDRAWN: "withdrawn"}
)
"""What a version of a formula is after a fact; each such fact makes the next revision."""
REVISES = (LOADED, *BECOMES)
KEPT_MILLS = 64
_MILLS: dict[str, Mill] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class FormulaPart:
    """A line of a formula as a fact has it."""

    ingredient: str
    parts_frac: float


def tables_to_json(mill: Mill) -> dict[str, Json]:
    """Settings and whole tables as plain values, rows keyed by the names of the fields."""
    tables: dict[str, Json] = {
        name: [row_plain(row) for row in getattr(mill, name)] for name in WHOLE
    }
    return {"settings": row_plain(mill.settings), "tables": tables}


def mill_from_json(content: Mapping[str, Json], *, revision: int = 0) -> Mill:
    """The mill that plain values stand for."""
    settings, tables = content.get("settings"), content.get("tables")
    if not isinstance(tables, Mapping):
        raise BadInput("These are no tables of a mill.", seen=repr(tables)[:60], allowed="tables")
    rows: dict[str, tuple[object, ...]] = {}
    for name in WHOLE:
        listed = tables.get(name, [])
        if not isinstance(listed, list):
            raise BadInput("A table is a list of rows.", seen=repr(listed)[:60], allowed="a list")
        rows[name] = tuple(
            row_from_plain(TABLES[name], row, where=f"{name}[{n}]") for n, row in enumerate(listed)
        )
    return Mill(
        settings=row_from_plain(Settings, settings, where="settings"),
        revision=revision,
        **rows,  # type: ignore[arg-type] # each tuple was read as its table's row class above
    )


def digest_of(mill: Mill) -> str:
    """SHA-256 of settings and whole tables in canonical text; the revision's number is no part."""
    text = json.dumps(
        tables_to_json(mill), sort_keys=True, separators=(",", ":"), ensure_ascii=False
    )
    return hashlib.sha256(text.encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class _Revised:
    """A revision: its fact, and what it stands on.

    ``is_of_folder`` tells what was loaded from a folder from what was kept with a reason on the
    pages or is a change of a formula. ``stands_on`` is a digest of the places of all facts from the last whole tables on, so that one
    of them taken back makes another of it.
    """

    position: int
    revision: int
    is_whole: bool
    is_of_folder: bool
    stands_on: str


def _revisions(record: Record) -> tuple[_Revised, ...]:
    def note(before: tuple[_Revised, ...], facts: Iterable[Recorded]) -> tuple[_Revised, ...]:
        found = list(before)
        for item in facts:
            whole = item.fact.kind == LOADED
            if not whole and not found:
                continue  # the tables that it changed were taken back
            below = "" if whole else found[-1].stands_on
            found.append(
                _Revised(
                    position=item.position,
                    revision=whole_number(item.fact.content["revision"]),
                    is_whole=whole,
                    is_of_folder=whole and "why" not in item.fact.content,
                    stands_on=hashlib.sha256(f"{below} {item.head}".encode()).hexdigest(),
                )
            )
        return tuple(found)

    return folded(record, "revisions", kinds=REVISES, start=(), fold=note)


def whole_number(value: Json) -> int:
    """The whole number that content of a fact must hold here.

    Raises
    ------
    RecordDamaged
        If it is something else.
    """
    if isinstance(value, int):
        return value
    raise RecordDamaged("A fact holds no whole number where one must be.", seen=repr(value)[:60])


def current_mill(record: Record) -> Mill:
    """The mill as its newest revision says.

    Raises
    ------
    Refused
        If no tables were ever loaded.
    """
    revisions = _revisions(record)
    if not revisions:
        raise Refused(
            "The record holds no tables of a mill yet.",
            do="run: bedstone load DIR",
        )
    return _mill_at(record, revisions[-1])


def revision_mill(record: Record, revision: int) -> Mill:
    """The mill as a numbered revision said.

    Raises
    ------
    Unknown
        If there is no such revision.
    """
    revisions = _revisions(record)
    for loaded in reversed(revisions):
        if loaded.revision == revision:
            return _mill_at(record, loaded)
    raise Unknown(
        f"There is no revision {revision} of the tables.",
        allowed=", ".join(str(item.revision) for item in revisions) or "none yet",
    )


def taken_back(record: Record, mill: Mill) -> tuple[str, ...]:
    """What a folder's tables would undo that was changed in the record since a folder was loaded.

    A row that is as the folder had it when it was loaded last, while the record has moved on, was
    not meant: the folder is older than the record. Nothing where the newest tables came from one.
    """
    revisions = _revisions(record)
    loaded = [row for row in revisions if row.is_of_folder]
    if not loaded or loaded[-1] is revisions[-1]:
        return ()
    was, now = _mill_at(record, loaded[-1]), _mill_at(record, revisions[-1])
    back = {
        (change.table, row.key): row for change in differences(now, mill) for row in change.rows
    }
    return tuple(
        words
        for change in differences(was, now)
        for row in change.rows
        if (undone := back.get((change.table, row.key))) and undone.after == row.before
        for words in _words(change, row)
    )


def is_as_loaded(record: Record, mill: Mill) -> bool:
    """Whether a folder's tables are just as a folder's were when one was loaded last."""
    loaded = [row for row in _revisions(record) if row.is_of_folder]
    return bool(loaded) and digest_of(_mill_at(record, loaded[-1])) == digest_of(mill)


def revisions_loaded(record: Record) -> tuple[tuple[int, int], ...]:
    """The place of the journal and the number of each revision, oldest first."""
    return tuple((row.position, row.revision) for row in _revisions(record))


def _mill_at(record: Record, revised: _Revised) -> Mill:
    """The mill of a revision, read once and kept.

    Whole tables are read; a formula that was drafted, approved, put in use or withdrawn since is a
    change of those before it.
    """
    kept = _MILLS.get(revised.stands_on)
    if kept is not None:
        return kept
    rows = _revisions(record)
    end = rows.index(revised) + 1
    begin = max(place for place, row in enumerate(rows[:end]) if row.is_whole)
    for row in rows[begin:end]:
        found = _MILLS.get(row.stands_on)
        if found is None:
            fact = record.fact(row.position).fact
            if row.is_whole or kept is None:
                found = mill_from_json(fact.content, revision=row.revision)
            else:
                found = replace(with_change(kept, formula_change(fact)), revision=row.revision)
            if len(_MILLS) >= KEPT_MILLS:
                _MILLS.clear()
            _MILLS[row.stands_on] = found
        kept = found
    if kept is None:  # the fold begins every chain with whole tables
        raise RecordDamaged("A revision of the tables stands on nothing.", seen=str(revised))
    return kept


def formula_change(fact: Fact) -> FormulaChange:
    """The change of a product's formulas that a fact says."""
    content = fact.content
    product, version = str(content["product"]), whole_number(content["version"])
    listed = content.get("lines")
    on = content.get("approved_on")
    return FormulaChange(
        product=product,
        version=version,
        status=BECOMES[fact.kind],
        lines=tuple(
            FormulaLine(
                product=product,
                version=version,
                ingredient=part.ingredient,
                parts_frac=part.parts_frac,
            )
            for n, row in enumerate(listed if isinstance(listed, list) else ())
            for part in (row_from_plain(FormulaPart, row, where=f"lines[{n}]"),)
        ),
        approved_by=str(content.get("approved_by", "")),
        approved_on=dt.date.fromisoformat(str(on)) if on else None,
    )


def changed_tables(record: Record, mill: Mill) -> tuple[str, ...]:
    """Differences of settings and whole tables in words; a first load names every table."""
    revisions = _revisions(record)
    if not revisions:
        counts = [f"{name}: {counted(len(getattr(mill, name)), 'row')}" for name in WHOLE]
        return ("first tables", *(said for said in counts if not said.endswith(": 0 rows")))
    before = _mill_at(record, revisions[-1])
    if digest_of(before) == digest_of(mill):  # the one kept may know fewer tables and columns
        return ()
    changes = differences(before, mill)
    said = [words for change in changes for row in change.rows for words in _words(change, row)]
    return tuple(said) or ("the rows are in another order",)


def _words(change: TableChange, row: RowChange) -> list[str]:
    """A sentence for a row that is new or gone, one for each cell of a row that is changed."""
    key = " ".join(row.key)
    if row.after is None or row.before is None:
        return [f"{change.table}: {key} is {'new' if row.before is None else 'gone'}"]
    where = "mill.toml" if change.table == SETTINGS else f"{change.table}: {key}"
    return [
        f"{where}: {name} was {_shown(plain(getattr(row.before, name)))}, "
        f"is {_shown(plain(getattr(row.after, name)))}"
        for name in row.changed
    ]


def _shown(value: Json) -> str:
    return "empty" if value in (None, "") else str(value)


def counted(number: int, word: str) -> str:
    """The number with its word, in the plural where it must be."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def newest_revision(record: Record) -> int:
    """The number of the newest revision, nought when none was ever loaded."""
    revisions = _revisions(record)
    return revisions[-1].revision if revisions else 0
