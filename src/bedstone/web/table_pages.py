"""The mill's tables: seen, and edited in a draft that is checked as a mill folder is."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from bedstone.desk.table_acts import revision_log
from bedstone.errors import BadInput, BedstoneError, Conflict, Fault, Unknown
from bedstone.mill.cells import read_cell
from bedstone.mill.columns import key_fields
from bedstone.mill.model import TABLES, Mill
from bedstone.mill.table_differences import SETTINGS
from bedstone.mill.table_draft import (
    DraftRead,
    DraftRow,
    TableDraft,
    begun,
    row_type_of,
)
from bedstone.web.guard import Posted, SignedIn, is_whole
from bedstone.web.roles import may, needs
from bedstone.web.site import Site, site_of
from bedstone.web.table_changes import draft_changes, draft_key
from bedstone.web.table_drafts import seen_mark
from bedstone.web.table_reading import draft_of, draft_read, held_draft, known_table, mill_of
from bedstone.web.table_words import (
    FIXED,
    ColumnWords,
    column_words,
    table_meaning,
    table_name,
    table_names,
)
from bedstone.web.typed_cell import cell_exact, cell_glance, cell_typed

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
DONE = {
    "kept": "It is in your draft. It is no part of the mill's tables until you keep the draft.",
    "removed": "The row is taken out of your draft.",
}
MOST_OPTIONS = 400
LONGEST_CELL = 2000
CELL_PREFIX = "cell-"


@dataclass(frozen=True, kw_only=True)
class Listed:
    """A table in the list: its rows, and what the draft changes and gets wrong in it."""

    table: str
    name: str
    meaning: str
    rows: int
    changed: str
    faults: int


@router.get("/tables")
def tables(request: Request) -> Response:
    """Every table of the mill, with what the draft of whoever is signed in changes."""
    site = site_of(request)
    mill = site.mill()
    held = held_draft(site, request)
    read = draft_read(site, held.draft) if held else None
    changed = {one.table: one.counted for one in draft_changes(held.draft)} if held else {}
    draft = held.draft if held else begun(mill)
    rows = [
        Listed(
            table=table,
            name=table_name(table),
            meaning=table_meaning(table),
            rows=len(draft.rows(table)),
            changed=changed.get(table, ""),
            faults=len(read.at(table)) if read else 0,
        )
        for table in table_names()
    ]
    return site.page(
        request,
        "tables.html",
        rows=rows,
        held=held,
        read=read,
        newest=revision_log(site.record)[-1],
    )


@router.get("/tables/{table}")
def one_table(request: Request, table: str, revision: str = "", done: str = "") -> Response:
    """The rows of a table: of the draft, of the tables that stand, or of an old revision."""
    site = site_of(request)
    known_table(table)
    held = None if revision else held_draft(site, request)
    draft = held.draft if held else begun(mill_of(site, revision))
    read = draft_read(site, draft) if held else DraftRead(mill=draft.base)
    words = column_words(table, draft.base.settings.units)
    return site.page(
        request,
        "table.html",
        table=table,
        name=table_name(table),
        meaning=table_meaning(table),
        words=words,
        shown=[one for one in words if is_filled(draft, table, one)],
        rows=[shown_row(draft, table, row, words) for row in draft.rows(table)],
        gone=[
            row
            for one in draft_changes(draft)
            if one.table == table
            for row in one.rows
            if row.what == "gone"
        ],
        held=held,
        read=read,
        old=draft.base.revision if revision else None,
        is_settings=table == SETTINGS,
        said=DONE.get(done, ""),
    )


def is_filled(draft: TableDraft, table: str, words: ColumnWords) -> bool:
    """Whether a column says something in some row; a key always does."""
    if words.field in key_fields(row_type_of(table)) or words.column.needed:
        return True
    plain = plain_texts(words)
    return any(row.cells.get(words.field, "") not in plain for row in draft.rows(table))


def plain_texts(words: ColumnWords) -> tuple[str, ...]:
    """Cells of a column that say nothing: empty, or nought where an empty cell means nought."""
    return ("",) if words.column.needed else ("", "0", "no")


def shown_row(
    draft: TableDraft, table: str, row: DraftRow, words: tuple[ColumnWords, ...]
) -> dict[str, Any]:
    """A row with its cells as people read them, and whether the draft changed it."""
    settings = draft.base.settings
    state = ""
    if table in draft.tables:
        if row.origin is None:
            state = "new"
        elif row.cells != begun(draft.base).rows(table)[row.origin].cells:
            state = "changed"
    return {
        "number": row.number,
        "key": draft_key(table, row.cells) or "without a name",
        "state": state,
        "cells": {
            one.field: cell_glance(row.cells.get(one.field, ""), one.column, settings)
            for one in words
        },
        "plain": {one.field for one in words if row.cells.get(one.field, "") in plain_texts(one)},
    }


@router.get("/tables/{table}/new")
def new_row(request: Request, table: str, like: str = "") -> Response:
    """An empty form for a row, or one filled as another row is."""
    site = site_of(request)
    known_table(table)
    draft = draft_of(site, request)
    pattern = draft.row(table, int(like)) if is_whole(like) else None
    return row_page(request, table, None, cells=pattern.cells if pattern else {})


@router.get("/tables/{table}/rows/{number}")
def one_row(request: Request, table: str, number: int) -> Response:
    """The form of a row."""
    known_table(table)
    return row_page(request, table, number)


def row_page(
    request: Request,
    table: str,
    number: int | None,
    *,
    cells: Mapping[str, str] | None = None,
    fault: BedstoneError | None = None,
) -> HTMLResponse:
    """The page of a row, with what was typed so far still in it."""
    site = site_of(request)
    held = held_draft(site, request)
    draft = held.draft if held else begun(site.mill())
    row = None if number is None else draft.row(table, number)
    if number is not None and row is None:
        raise Unknown(
            f"There is no row {number} in the table {table_name(table).lower()} any more.",
            do="see its rows",
        )
    read = draft_read(site, draft) if held else DraftRead(mill=draft.base)
    given = dict(cells if cells is not None else row.cells if row else {})
    words = column_words(table, draft.base.settings.units)
    faults: dict[str, list[Any]] = {}
    for one in read.at(table, number) if number is not None and cells is None else ():
        faults.setdefault(one.field, []).append(one.fault)
    return site.page(
        request,
        "table_row.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        table=table,
        name=table_name(table),
        number=number,
        key=draft_key(table, row.cells if row else given),
        words=words,
        given=given,
        faults=faults,
        seen=seen_mark(row.cells) if row else "",
        base=draft.base.revision,
        options={one.field: options(draft, one) for one in words if one.column.attribute.refers},
        is_settings=table == SETTINGS,
        fixed=FIXED if table == SETTINGS else (),
        editing=may(site.person(request), "tables"),
        both=row.cells if isinstance(fault, Conflict) and row else None,
        show_cell={
            one.field: cell_exact(given.get(one.field, ""), one.column, draft.base.settings)
            for one in words
        },
    )


def options(draft: TableDraft, words: ColumnWords) -> list[tuple[str, str]]:
    """Codes that a column may name, each with what people call it."""
    found = []
    for table in words.column.attribute.refers:
        key = key_fields(TABLES[table])[0]
        found += [(row.cells.get(key, ""), row.cells.get("name", "")) for row in draft.rows(table)]
    return found[:MOST_OPTIONS]


@router.post("/tables/{table}/rows")
def add_row(request: Request, table: str, posted: SignedIn) -> Response:
    """Put a new row into the draft."""
    return edited(request, known_table(table), None, posted)


@router.post("/tables/{table}/rows/{number}")
def change_row(request: Request, table: str, number: int, posted: SignedIn) -> Response:
    """Change a row of the draft."""
    return edited(request, known_table(table), number, posted)


def edited(request: Request, table: str, number: int | None, posted: Posted) -> Response:
    """The row put into the draft; its page again if something in it is wrong."""
    site = site_of(request)
    cells = typed_cells(table, posted, site.mill())
    written = number or 0

    def act(draft: TableDraft) -> TableDraft:
        nonlocal written
        refuse_unseen(draft, table, number, posted)
        changed, written = draft.with_row(table, merged(draft, table, number, cells), number)
        return changed

    try:
        needs(posted.person, "tables")
        for name in posted.fields:
            posted.text(name)  # refuses what is longer than anything a person means
        if table == SETTINGS and number is None:
            raise Unknown("The settings are one row.", do="change it")
        site.drafts.edit(posted.person.person, lambda: base_of(site, posted), act)
    except BedstoneError as error:
        return row_page(request, table, number, cells=cells, fault=error)
    held = site.drafts.of(posted.person.person)
    wrong = held is not None and draft_read(site, held.draft).at(table, written)
    where = f"/tables/{quote(table)}"
    if wrong:
        return RedirectResponse(f"{where}/rows/{written}#wrong", status_code=303)
    return RedirectResponse(f"{where}?done=kept#row-{written}", status_code=303)


def merged(
    draft: TableDraft, table: str, number: int | None, cells: Mapping[str, str]
) -> dict[str, str]:
    """Typed cells over those that the form did not have."""
    row = None if number is None else draft.row(table, number)
    return {**(row.cells if row else {}), **cells}


def typed_cells(table: str, posted: Posted, mill: Mill) -> dict[str, str]:
    """The cells of a form, numbers as they were understood."""
    return {
        one.field: cell_typed(
            posted.fields[CELL_PREFIX + one.field], one.column, mill.settings
        ).text
        for one in column_words(table, mill.settings.units)
        if CELL_PREFIX + one.field in posted.fields
        and not (table == SETTINGS and one.field in FIXED)
    }


def base_of(site: Site, posted: Posted) -> Mill:
    """The tables that the form was read from, so that its row is still the same row."""
    given = posted.text("base")
    return mill_of(site, given) if given else site.mill()


def refuse_unseen(draft: TableDraft, table: str, number: int | None, posted: Posted) -> None:
    """Let a form change only the row as it showed it.

    Raises
    ------
    Conflict
        If the row was changed or removed meanwhile, in another window.
    """
    if number is None:
        return
    row = draft.row(table, number)
    if row is None or seen_mark(row.cells) != posted.text("seen"):
        raise Conflict(
            "This row of your draft was changed in another window; nothing was written.",
            do="compare it with what you typed, which is still below, and send it again if yours "
            "is right",
        )


@router.post("/tables/{table}/rows/{number}/remove")
def remove_row(request: Request, table: str, number: int, posted: SignedIn) -> Response:
    """Take a row out of the draft."""
    site = site_of(request)
    known_table(table)

    def act(draft: TableDraft) -> TableDraft:
        refuse_unseen(draft, table, number, posted)
        return draft.without_row(table, number)

    try:
        needs(posted.person, "tables")
        if table == SETTINGS:
            raise Unknown("The settings are one row and stay.", do="change it")
        site.drafts.edit(posted.person.person, lambda: base_of(site, posted), act)
    except BedstoneError as error:
        return row_page(request, table, number, fault=error)
    return RedirectResponse(f"/tables/{quote(table)}?done=removed", status_code=303)


@router.get("/tables/{table}/understood")
def understood(request: Request, table: str) -> Response:
    """What was understood of one cell while it is typed, or why it was not."""
    site = site_of(request)
    known_table(table)
    mill = site.mill()
    for one in column_words(table, mill.settings.units):
        text = request.query_params.get(CELL_PREFIX + one.field)
        if text is not None:
            return HTMLResponse(understood_words(site, mill, one, text))
    return HTMLResponse("")


def understood_words(site: Site, mill: Mill, words: ColumnWords, text: str) -> str:
    """A line beside a field."""
    typed = cell_typed(text[:LONGEST_CELL], words.column, mill.settings)
    unit = words.column.written(mill.settings.units)[1]
    faults: tuple[Fault, ...] = ()
    try:
        read_cell(typed.text, column=words.column, unit=unit, zone=mill.settings.zone)
    except BadInput as bad:
        faults = bad.faults
    template = site.templates.get_template("cell_understood.html")
    return template.render(faults=faults, words=typed.words)
