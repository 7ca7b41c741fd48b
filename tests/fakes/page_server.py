"""The pages served for tests: a real server in a thread, a real record in a file, quick PINs."""

import datetime as dt
import re
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import httpx
import uvicorn
from argon2 import PasswordHasher

from bedstone.desk.tables import load_tables
from bedstone.mill.folder import LoadedFolder
from bedstone.mill.model import Person
from bedstone.store.door import Door
from bedstone.store.record import SqlRecord
from bedstone.web.app import create_app
from fakes.desk_day import MORNING, PLAN, a_folder, plan_released

__all__ = ["PIN", "FixedClock", "PageMill", "Visitor", "a_page_folder", "page_mill", "serving"]

PIN = "2468"
QUICK = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
PATIENCE_S = 10.0


@dataclass
class FixedClock:
    """A clock that stands still until it is set."""

    at: dt.datetime = field(default=MORNING + dt.timedelta(minutes=60))

    def __call__(self) -> dt.datetime:
        """The time it was set to."""
        return self.at


def a_page_folder() -> LoadedFolder:
    """The hand-written mill with somebody of every role that the pages treat differently."""
    folder = a_folder()
    people = (
        *folder.mill.people,
        Person(person="ines", name="Ines <Halloway>", role="inspector"),
        Person(person="labe", name="Labe Orr", role="laboratory"),
        Person(person="tove", name="Tove Reed", role="receiver"),
        Person(person="june", name="June Vance", role="pellet operator"),
        Person(person="abel", name="Abel Stroud", role="sacker"),
        Person(person="cleo", name="Cleo Barnes", role="shipping"),
        Person(person="nell", name="Nell Quarry", role="nutritionist"),
    )
    return replace(folder, mill=replace(folder.mill, people=people))


@dataclass
class PageMill:
    """A mill behind its pages."""

    record: SqlRecord
    door: Door
    clock: Callable[[], dt.datetime]
    base: str
    visitors: list["Visitor"] = field(default_factory=list)

    def visitor(self, person: str = "") -> "Visitor":
        """A browser without a window; signed in as somebody if a name is given."""
        found = Visitor(httpx.Client(base_url=self.base, timeout=30.0))
        self.visitors.append(found)
        if person:
            found.sign_in(person)
        return found


@dataclass
class Visitor:
    """Reads pages and sends the forms on them."""

    http: httpx.Client

    def get(self, path: str, **headers: str) -> httpx.Response:
        """A page."""
        return self.http.get(path, headers=headers)

    def fields(self, path: str) -> dict[str, str]:
        """The hidden fields that every form of a page carries."""
        text = self.get(path).text
        found = dict(re.findall(r'name="(token|after)" value="([^"]*)"', text))
        if not found:
            raise AssertionError(f"no form on {path}")
        return found

    def post(self, path: str, page: str = "", **fields: Any) -> httpx.Response:
        """Send a form as the page it stands on would."""
        hidden = fields.pop("hidden", None) or self.fields(page or path)
        headers = {"Origin": str(self.http.base_url).rstrip("/")}
        return self.http.post(path, data={**hidden, **fields}, headers=headers)

    def sign_in(self, person: str, pin: str = PIN) -> httpx.Response:
        """Sign in by PIN."""
        return self.post("/sign-in", person=person, pin=pin, then="/")


def current_is_loaded(record: SqlRecord) -> bool:
    """Whether tables of a mill are in the record."""
    return record.head().position > 0


@contextmanager
def page_mill(
    folder: Path, loaded: LoadedFolder | None = None, **wanted: Any
) -> Iterator[PageMill]:
    """A mill served on a free port of this machine, with its plan of the day released."""
    record = SqlRecord(folder / "bedstone.sqlite")
    clock = wanted.pop("clock", None) or FixedClock()
    door = Door(record.database, clock, hasher=QUICK)
    folder_read = loaded or a_page_folder()
    if not wanted.pop("empty", False):
        load_tables(record, folder_read, by=folder_read.mill.people[0].person, at=clock())
    if loaded is None and current_is_loaded(record):
        plan_released(record, PLAN)  # type: ignore[arg-type]
    for person in folder_read.mill.people:
        door.set_pin(person.person, PIN)
    try:
        with serving(record, door, clock, **wanted) as served:
            yield served
    finally:
        record.close()


@contextmanager
def serving(
    record: SqlRecord, door: Door, clock: Callable[[], dt.datetime], **wanted: Any
) -> Iterator[PageMill]:
    """The pages of any record, served on a free port of this machine."""
    server = uvicorn.Server(
        uvicorn.Config(create_app(record, door, clock=clock, **wanted), port=0, log_level="warning")
    )
    thread = threading.Thread(target=server.run)
    thread.start()
    try:
        until = time.monotonic() + PATIENCE_S
        while not server.started and time.monotonic() < until:
            time.sleep(0.01)
        port = server.servers[0].sockets[0].getsockname()[1]
        served = PageMill(record, door, clock, f"http://127.0.0.1:{port}")
        try:
            yield served
        finally:
            for visitor in served.visitors:
                visitor.http.close()
    finally:
        server.should_exit = True
        thread.join(PATIENCE_S)
