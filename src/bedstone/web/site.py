"""What every page shares: the record, the door, the clock, the papers, and how a page is made."""

import datetime as dt
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment

from bedstone.desk import tables
from bedstone.desk.record import Clock, Record
from bedstone.errors import Refused
from bedstone.mill.model import Mill, Person
from bedstone.mill.plan import Plan
from bedstone.web.hand_work import HandWorks
from bedstone.web.show import Show
from bedstone.web.table_drafts import TableDrafts
from bedstone.web.work import Work

__all__ = ["BROWSER_COOKIE", "LOOPBACK", "SESSION_COOKIE", "Door", "Papers", "Site", "site_of"]

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
"""Names under which the server answers when nothing else is said: this machine's own."""
SESSION_COOKIE = "bedstone_session"
BROWSER_COOKIE = "bedstone_browser"


class Door(Protocol):
    """Who may come in: PINs and sessions, kept by the store."""

    def check_pin(self, person: str, pin: str) -> bool:
        """Whether the PIN is that person's; Refused while locked out."""
        ...

    def new_session(self, person: str, at: dt.datetime) -> str:
        """A new session's token."""
        ...

    def session(self, token: str, at: dt.datetime) -> str | None:
        """Whose session it is, None if it is nobody's or over."""
        ...

    def end_session(self, token: str) -> None:
        """End a session."""
        ...


class Papers(Protocol):
    """The papers that pages offer, as PDF."""

    def day_sheet(self, record: Record, plan: Plan) -> bytes:
        """The day sheet of a plan."""
        ...

    def batch_sheets(self, record: Record, plan: Plan) -> bytes:
        """The sheets of all batches of a plan in one paper."""
        ...

    def batch_sheet(self, record: Record, plan: Plan, batch_id: str) -> bytes:
        """The sheet of one batch."""
        ...

    def run_sheet(
        self, record: Record, plan: Plan, run: str, line: str, *, at: dt.datetime
    ) -> bytes:
        """The settings of a run on a pellet line, with what its bin reads by now."""
        ...


@dataclass(frozen=True, kw_only=True)
class Site:
    """The parts the pages are joined from."""

    record: Record
    door: Door
    clock: Clock
    papers: Papers
    templates: Environment
    work: Work
    drafts: TableDrafts = field(default_factory=TableDrafts)
    hands: HandWorks = field(default_factory=HandWorks)
    hosts: tuple[str, ...] = field(default=LOOPBACK)
    papers_folder: Path | None = None  # where papers lie as files, if they do
    in_the_open: bool = False  # other machines are answered: nothing is read without sign-in

    def mill(self) -> Mill:
        """The mill's tables as they stand."""
        return tables.current_mill(self.record)

    def mill_or_none(self) -> Mill | None:
        """The mill's tables, None while nothing is loaded."""
        try:
            return tables.current_mill(self.record)
        except Refused:
            return None

    def today(self) -> dt.date:
        """The day it is at the mill."""
        return self.clock().astimezone(self.mill().settings.zone).date()

    def person(self, request: Request) -> Person | None:
        """Who is signed in at this browser, None if nobody is."""
        token = request.cookies.get(SESSION_COOKIE)
        if not token:
            return None
        code = self.door.session(token, self.clock())
        mill = self.mill_or_none()
        return mill.person_by_code.get(code) if code is not None and mill is not None else None

    def page(
        self, request: Request, template: str, *, status: int = 200, **values: Any
    ) -> HTMLResponse:
        """A page made from a template, with what every page shows."""
        mill = self.mill_or_none()
        values.setdefault("fault", None)
        text = self.templates.get_template(template).render(
            request=request,
            path=request.url.path,
            mill=mill,
            show=Show.of(mill),
            now=self.clock(),
            person=self.person(request),
            token=form_token(request),
            position=getattr(request.state, "position", 0),
            **values,
        )
        return HTMLResponse(text, status_code=status)


def form_token(request: Request) -> str:
    """The word that a form of this browser must carry."""
    return str(getattr(request.state, "form_token", ""))


def site_of(request: Request) -> Site:
    """The site that a request came to."""
    site: Site = request.app.state.site
    return site
