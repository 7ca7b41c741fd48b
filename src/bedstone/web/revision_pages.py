"""The draft of the tables held against what stands, kept as a revision; revisions compared."""

import datetime as dt
from collections.abc import Iterator

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from bedstone.desk.plans import PlanStanding, released_plan
from bedstone.desk.revisions import newest_revision, revision_mill
from bedstone.desk.table_acts import RevisionLine, broken_by, keep_tables, revision_log
from bedstone.errors import BedstoneError, Refused
from bedstone.mill.plan import Finding
from bedstone.web.guard import Posted, SignedIn
from bedstone.web.roles import needs
from bedstone.web.site import Site, site_of
from bedstone.web.table_changes import draft_changes, revision_changes
from bedstone.web.table_drafts import HeldDraft
from bedstone.web.table_reading import draft_read, held_draft, mill_of
from bedstone.web.table_words import column_words, table_name

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
DAYS_AHEAD = 4
DONE = {
    "kept": "The tables are kept as this revision. Plans made before it are checked again on Today.",
    "carried": "Your changes were carried over to the tables that stand now.",
    "dropped": "The draft is thrown away; the mill's tables are as they were.",
}


@router.get("/table-draft")
def draft(request: Request, done: str = "") -> Response:
    """What the draft changes, its faults, and what somebody else kept meanwhile."""
    return draft_page(request, said=DONE.get(done, ""))


def draft_page(
    request: Request, *, said: str = "", why: str = "", fault: BedstoneError | None = None
) -> HTMLResponse:
    """The page of the draft, with the error that keeping it met."""
    site = site_of(request)
    held = held_draft(site, request)
    newest = revision_log(site.record)[-1] if newest_revision(site.record) else None
    behind = held is not None and newest is not None and newest.revision != held.revision
    return site.page(
        request,
        "table_draft.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        held=held,
        read=draft_read(site, held.draft) if held else None,
        changes=draft_changes(held.draft) if held else (),
        labels=labels_of(held) if held else {},
        table_name=table_name,
        newest=newest,
        behind=behind,
        why=why,
        said=said,
    )


def labels_of(held: HeldDraft) -> dict[tuple[str, str], str]:
    """The label of each column of the tables that the draft touches."""
    units = held.draft.base.settings.units
    return {
        (table, one.field): one.label
        for table in held.draft.tables
        for one in column_words(table, units)
    }


@router.get("/table-draft/breaks")
def breaks(request: Request) -> Response:
    """What the draft would break in the plans in force; a piece of its page, or a page."""
    site = site_of(request)
    held = held_draft(site, request)
    read = draft_read(site, held.draft) if held else None
    person = site.person(request)
    plans = list(plans_in_force(site))
    broken: list[tuple[PlanStanding, tuple[Finding, ...]]] = []
    if read is not None and read.mill is not None and person is not None:
        broken = [
            (
                one,
                broken_by(site.record, read.mill, one.plan, by=person.person, at=site.clock()),
            )
            for one in plans
        ]
    name = "table_breaks.html"
    if request.headers.get("hx-request") != "true":
        name = "table_breaks_page.html"
    return site.page(
        request, name, held=held, plans=plans, broken=broken, may_ask=bool(read and read.mill)
    )


def plans_in_force(site: Site) -> Iterator[PlanStanding]:
    """The released plans of today and the next days."""
    for number in range(DAYS_AHEAD):
        found = released_plan(site.record, site.today() + dt.timedelta(days=number))
        if found is not None:
            yield found


@router.post("/table-draft/keep")
def keep(request: Request, posted: SignedIn) -> Response:
    """Keep the draft as a new revision, in the name of whoever is signed in."""
    site = site_of(request)
    try:
        needs(posted.person, "tables")
        revision = kept(site, posted)
    except BedstoneError as error:
        return draft_page(request, why=posted.fields.get("why", ""), fault=error)
    site.drafts.drop(posted.person.person)
    return RedirectResponse(f"/revisions/{revision}?done=kept", status_code=303)


def kept(site: Site, posted: Posted) -> int:
    """The number of the revision that a draft became.

    Raises
    ------
    Refused
        If there is no draft, or a fault is left in it.
    """
    held = site.drafts.of(posted.person.person)
    if held is None:
        raise Refused("There is no draft to keep; nothing was written.", do="change a table first")
    read = draft_read(site, held.draft)
    if read.mill is None:
        raise Refused(
            f"{len(read.faults)} faults are left in the draft; nothing was written.",
            do="mend them; each stands at its cell below",
        )
    return keep_tables(
        site.record,
        read.mill,
        base_revision=held.revision,
        why=posted.text("why"),
        by=posted.person.person,
        at=posted.at,
    )


@router.post("/table-draft/carry")
def carry(request: Request, posted: SignedIn) -> Response:
    """Carry the draft over to the tables that somebody else kept meanwhile."""
    site = site_of(request)
    try:
        needs(posted.person, "tables")
        site.drafts.carry(posted.person.person, site.mill())
    except BedstoneError as error:
        return draft_page(request, fault=error)
    return RedirectResponse("/table-draft?done=carried", status_code=303)


@router.post("/table-draft/drop")
def drop(request: Request, posted: SignedIn) -> Response:
    """Throw the draft away."""
    needs(posted.person, "tables")
    site_of(request).drafts.drop(posted.person.person)
    return RedirectResponse("/table-draft?done=dropped", status_code=303)


@router.get("/revisions")
def revisions(request: Request) -> Response:
    """Every revision of the tables, the newest first."""
    site = site_of(request)
    site.mill()  # nothing is shown before a mill is loaded
    log = revision_log(site.record)
    return site.page(request, "revisions.html", log=log[::-1])


@router.get("/revisions/compare")
def compare(request: Request, old: str = "", new: str = "") -> Response:
    """Any two revisions held against each other."""
    site = site_of(request)
    before, after = mill_of(site, old), mill_of(site, new)
    return site.page(
        request,
        "revision.html",
        line=None,
        old=before.revision,
        new=after.revision,
        log=revision_log(site.record),
        changes=revision_changes(before, after, site.mill()),
    )


@router.get("/revisions/{number}")
def revision(request: Request, number: int, done: str = "") -> Response:
    """One revision: who, when, why, and what it changed against the one before."""
    site = site_of(request)
    after = revision_mill(site.record, number)
    log = revision_log(site.record)
    line = next(one for one in log if one.revision == number)
    before = before_of(log, line)
    return site.page(
        request,
        "revision.html",
        line=line,
        old=before.revision if before else None,
        new=number,
        log=log,
        changes=(
            revision_changes(revision_mill(site.record, before.revision), after, site.mill())
            if before
            else ()
        ),
        said=DONE.get(done, ""),
    )


def before_of(log: tuple[RevisionLine, ...], line: RevisionLine) -> RevisionLine | None:
    """The revision before one; None for the first."""
    at = log.index(line)
    return log[at - 1] if at else None
