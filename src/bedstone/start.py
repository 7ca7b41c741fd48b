"""The one place where the parts are joined: store, pages, papers, demo, clock, command line."""

import datetime as dt
import json
import socket
import sys
import warnings
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING

from bedstone.cli.main import run
from bedstone.cli.parts import Address, DemoMade, Door, Parts, Say
from bedstone.desk.record import Clock, Record
from bedstone.errors import SetupError
from bedstone.ledger.model import Fact, Json
from bedstone.mill.folder import LoadedFolder
from bedstone.mill.model import Weather
from bedstone.mill.order_mapping import Mapped, TheirFile

if TYPE_CHECKING:
    from bedstone.store.record import SqlRecord

__all__ = ["main", "parts"]


def main() -> None:
    """Run the command line and end with its exit code."""
    warnings.formatwarning = _one_line
    sys.exit(run(sys.argv[1:], parts()))


def _one_line(message: Warning | str, *_where: object, **_line: object) -> str:
    """A warning as a person reads it: without the place in our source where it was given."""
    return f"bedstone: {message}\n"


def now() -> dt.datetime:
    """The time now, aware, UTC, to the microsecond."""
    return dt.datetime.now(dt.UTC)


def parts(clock: Clock = now) -> Parts:
    """Everything that the command line may not import itself; heavy parts load when called."""
    return Parts(
        clock=clock,
        new_folder=partial(_new_folder, clock),
        demo_folder=partial(_demo_folder, clock),
        read_folder=_read_folder,
        write_folder=_write_folder,
        read_orders=_read_orders,
        read_list=_read_list,
        read_typical_year=_read_typical_year,
        open_record=_open_record,
        open_door=partial(_open_door, clock),
        serve=partial(_serve, clock),
    )


def _new_folder(clock: Clock, directory: Path) -> tuple[Path, ...]:
    from bedstone.store.starter import write_starter

    return write_starter(directory, today=clock().date())


def _read_typical_year(path: Path, year: int) -> tuple[Weather, ...]:
    from bedstone.store.typical_year import read_typical_year

    return read_typical_year(path, year=year)


def _read_folder(directory: Path) -> LoadedFolder:
    from bedstone.store.folder import read_folder

    return read_folder(directory)


def _write_folder(folder: LoadedFolder, out: Path, *, workbook: bool = False) -> tuple[Path, ...]:
    from bedstone.store.folder import write_folder

    return write_folder(folder, out, workbook=workbook)


def _read_orders(directory: Path, file: Path, mapping: str) -> tuple[TheirFile, Mapped]:
    from bedstone.store.order_mappings import read_mapping, read_their_orders

    by = read_mapping(directory, mapping)
    return read_their_orders(file, by.to), by


def _read_list(path: Path, kinds: Mapping[str, type]) -> TheirFile:
    from bedstone.store.lists import read_list

    return read_list(path, kinds)


def _record_of(directory: Path, *, create: bool = False) -> "SqlRecord":
    from bedstone.store.folder_settings import SETTINGS_FILE, record_address
    from bedstone.store.record import SqlRecord, open_record

    settings = directory / SETTINGS_FILE
    if settings.is_file():
        address = record_address(settings.read_bytes())
        if address:
            return SqlRecord(address, create=create)
    return open_record(directory, create=create)


def _open_record(directory: Path, *, create: bool = False) -> Record:
    return _record_of(directory, create=create)


def _open_door(clock: Clock, directory: Path) -> Door:
    from bedstone.store.door import Door as KeptDoor

    return KeptDoor(_record_of(directory).database, clock)


def _serve(clock: Clock, directory: Path, address: Address, say: Callable[[str], None]) -> None:
    import uvicorn

    from bedstone.store.door import Door as KeptDoor
    from bedstone.web.app import LOOPBACK, create_app

    record = _record_of(directory)
    app = create_app(
        record,
        KeptDoor(record.database, clock),
        clock=clock,
        papers_folder=directory / "papers",
        hosts=(*LOOPBACK, address.host, *address.names),
        in_the_open=address.host not in (*LOOPBACK, "::1"),
    )
    listening = _listen(address.host, address.port)
    Thread(target=_loaded_beforehand, daemon=True).start()
    shown = f"[{address.host}]" if ":" in address.host else address.host
    say(f"http://{shown}:{listening.getsockname()[1]}/")
    try:
        uvicorn.Server(uvicorn.Config(app, log_level="warning", server_header=False)).run(
            sockets=[listening]
        )
    finally:
        listening.close()
        record.close()


def _loaded_beforehand() -> None:
    """What the first page of the pellet line would wait seconds for: steam and a cooler's bed."""
    from bedstone.desk.line_cooler import reckon_cooler
    from bedstone.mill.cooler_asked import AskedOfCooler
    from bedstone.pelleting.steam import steam_at_gauge

    steam_at_gauge(170_000.0, 0.98, 101_325.0)
    reckon_cooler(AskedOfCooler(air_m3_s=2.0), "US")


def _listen(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listening = socket.socket(family, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
        listening.listen(128)
    except OSError as error:
        listening.close()
        raise SetupError(
            f"The pages cannot be served at {host}, port {port}.",
            seen=error.strerror or str(error),
            allowed="an address of this machine and a port that is free",
            do="name another with --port, or --port 0 for any free one",
        ) from error
    return listening


def _demo_folder(
    clock: Clock,
    directory: Path,
    day: dt.date | None,
    seed: int,
    say: Say,
    *,
    hidden_faults: bool = True,
) -> DemoMade:
    """Write the demo mill's folder and its record: tables, past, then the orders of the day."""
    from dataclasses import replace

    from bedstone.demo.quillback import (
        DEMO_PINS,
        PAST_DAYS,
        quillback_folder,
        quillback_past_and_truth,
    )
    from bedstone.demo.quillback.packaged import packaged_mill
    from bedstone.desk.tables import load_tables

    at = clock()
    today = at.astimezone(packaged_mill().settings.zone).date()
    wanted = day or _next_whole_day(at)
    folder = quillback_folder(wanted, seed=seed)
    _write_folder(folder, directory)
    _write_lists(directory, wanted, read_on=min(today, wanted) - dt.timedelta(days=1))
    record = _record_of(directory, create=True)
    manager = next(row.person for row in folder.mill.people if row.role == "manager")
    first = wanted - dt.timedelta(days=PAST_DAYS + 1)
    began_at = dt.datetime.combine(first, dt.time(20), folder.mill.settings.zone).astimezone(dt.UTC)
    load_tables(record, replace(folder, orders=(), weather=()), by=manager, at=min(began_at, at))
    facts, truth = quillback_past_and_truth(
        wanted,
        today=today,
        seed=seed,
        first_position=record.head().position + 1,
        hidden_faults=hidden_faults,
    )
    _append_by_day(record, facts, days=PAST_DAYS, say=say)
    _write_truth(truth.plain(), directory)
    load_tables(record, folder, by=manager, at=at)
    _calibrate_coolers(record, clock, say=say)
    _set_pins(record, DEMO_PINS, clock, by=manager, say=say)
    made = DemoMade(
        directory=directory, day=wanted, facts=record.head().position, pins=dict(DEMO_PINS)
    )
    record.close()
    return made


def _calibrate_coolers(record: "SqlRecord", clock: Clock, *, say: Say) -> None:
    """Fit the demo's coolers to what its pellet operator logged, where that is enough."""
    from bedstone.cooling.calibrate import LEAST_READINGS
    from bedstone.desk.line_factors import calibrate_line, logged_runs
    from bedstone.desk.tables import current_mill

    mill = current_mill(record)
    by = next(row.person for row in mill.people if row.role == "pellet operator")
    for done, cooler in enumerate(mill.coolers):
        say("Coolers", done, len(mill.coolers))
        if len(logged_runs(record, cooler.line)) >= LEAST_READINGS:
            calibrate_line(record, cooler.line, by=by, at=clock())


def _set_pins(
    record: "SqlRecord", pins: Mapping[str, str], clock: Clock, *, by: str, say: Say
) -> None:
    """Let everybody of the demo sign in."""
    from bedstone.desk.people import record_pin_set
    from bedstone.store.door import Door as KeptDoor

    at, door = clock(), KeptDoor(record.database, clock)
    for done, (person, pin) in enumerate(pins.items()):
        say("PINs", done, len(pins))
        door.set_pin(person, pin)
        record_pin_set(record, person, by=by, at=at)


def _write_truth(truth: Mapping[str, Json], directory: Path) -> None:
    """What truly happened in the invented past, beside the record; nothing reads it."""
    text = json.dumps(truth, indent=1) + "\n"
    (directory / "truth.json").write_text(text, encoding="utf-8", newline="\n")


def _write_lists(directory: Path, day: dt.date, *, read_on: dt.date) -> None:
    """Write what lies in the folder beside the mill's tables: a customer's list, a logger's file."""
    from bedstone.demo.quillback.lab_list import lab_list_files
    from bedstone.demo.quillback.load_at_gate import load_files
    from bedstone.demo.quillback.order_list import order_list_files
    from bedstone.demo.quillback.reading_list import reading_list_files

    texts = {
        **order_list_files(day),
        **reading_list_files(read_on),
        **lab_list_files(read_on),
        **load_files(),
    }
    for name, text in texts.items():
        path = directory / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")


def _next_whole_day(at: dt.datetime) -> dt.date:
    """The next day on which the demo mill runs whole: today if its shift has not begun."""
    from bedstone.demo.past.book import shift_of
    from bedstone.demo.quillback import next_working_day
    from bedstone.demo.quillback.packaged import packaged_mill

    mill = packaged_mill()
    today = at.astimezone(mill.settings.zone).date()
    day = next_working_day(today - dt.timedelta(days=1))
    shift = shift_of(mill, day)
    return day if shift is None or at < shift[0] else next_working_day(day)


def _append_by_day(record: "SqlRecord", facts: Iterator[Fact], *, days: int, say: Say) -> None:
    """Record the facts of each day in one go, as recorded when the day's last one happened."""
    from itertools import groupby

    whole_days = groupby(facts, key=lambda fact: fact.happened_at.date())
    for done, (_, of_day) in enumerate(whole_days, start=1):
        batch = tuple(of_day)
        record.append_all(batch, recorded_at=max(fact.happened_at for fact in batch))
        say("Past", done, max(days, done))
    record.refresh_stock_marks()
