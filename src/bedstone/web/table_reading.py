"""What the pages of tables read: the draft of whoever is signed in, or the tables that stand."""

from fastapi import Request

from bedstone.desk.orders import all_orders
from bedstone.desk.revisions import revision_mill
from bedstone.errors import BadInput, Unknown
from bedstone.mill.cells import near_words
from bedstone.mill.model import Mill
from bedstone.mill.table_draft import DraftRead, TableDraft, begun, read_draft
from bedstone.web.guard import is_whole
from bedstone.web.roles import may
from bedstone.web.site import Site
from bedstone.web.table_drafts import HeldDraft
from bedstone.web.table_words import table_names

__all__ = ["draft_of", "draft_read", "held_draft", "known_table", "mill_of"]


def held_draft(site: Site, request: Request) -> HeldDraft | None:
    """The draft of whoever is signed in, if there is one and the role may edit tables."""
    person = site.person(request)
    if person is None or not may(person, "tables"):
        return None
    return site.drafts.of(person.person)


def draft_read(site: Site, draft: TableDraft) -> DraftRead:
    """What a draft says, held against the orders that are open."""
    rows = all_orders(site.record)
    return read_draft(draft, orders=tuple(row.order for row in rows if row.status == "open"))


def known_table(table: str) -> str:
    """The name of a table, if there is one.

    Raises
    ------
    Unknown
        If there is no such table.
    """
    if table not in table_names():
        raise Unknown(
            f"There is no table {table!r}.",
            do=near_words(table, table_names()) or "see the list of tables",
        )
    return table


def mill_of(site: Site, revision: str) -> Mill:
    """The mill of a revision that an address names; as it stands if it names none."""
    if not revision:
        return site.mill()
    if not is_whole(revision):
        raise BadInput("This is no revision.", seen=repr(revision[:40]), allowed="1, 2, 3 ...")
    return revision_mill(site.record, int(revision))


def draft_of(site: Site, request: Request) -> TableDraft:
    """The draft of whoever is signed in, or the tables that stand as the beginning of one."""
    held = held_draft(site, request)
    return held.draft if held else begun(site.mill())
