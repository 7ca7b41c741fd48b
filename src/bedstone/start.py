"""The one place where the parts are joined: store, pages, papers, demo, clock, command line."""

import datetime as dt
import socket
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from bedstone.cli.main import run
from bedstone.cli.parts import DemoMade, Door, Parts, Say
from bedstone.desk.record import Record
from bedstone.errors import SetupError
from bedstone.mill.folder import LoadedFolder

if TYPE_CHECKING:
    from bedstone.store.record import SqlRecord

__all__ = ["main", "parts"]


def main() -> None:
    """Run the command line and end with its exit code."""
    sys.exit(run(sys.argv[1:], parts()))


def parts() -> Parts:
    """Everything that the command line may not import itself; heavy parts load when called."""
    return Parts(
        clock=now,
        new_folder=_new_folder,
        demo_folder=_demo_folder,
        read_folder=_read_folder,
        write_folder=_write_folder,
        open_record=_open_record,
        open_door=_open_door,
        serve=_serve,
    )


def now() -> dt.datetime:
    """The time now, aware, UTC, to the microsecond."""
    return dt.datetime.now(dt.UTC)


def _new_folder(directory: Path) -> tuple[Path, ...]:
    from bedstone.store.starter import write_starter

    return write_starter(directory)


def _read_folder(directory: Path) -> LoadedFolder:
    from bedstone.store.folder import read_folder

    return read_folder(directory)


def _write_folder(folder: LoadedFolder, out: Path) -> tuple[Path, ...]:
    from bedstone.store.folder import write_folder

    return write_folder(folder, out)


def _record_of(directory: Path) -> "SqlRecord":
    from bedstone.store.folder_settings import SETTINGS_FILE, read_settings
    from bedstone.store.record import SqlRecord, open_record

    settings = directory / SETTINGS_FILE
    if settings.is_file():
        address = read_settings(settings.read_bytes()).record_place.address
        if address:
            return SqlRecord(address)
    return open_record(directory)


def _open_record(directory: Path) -> Record:
    return _record_of(directory)


def _open_door(directory: Path) -> Door:
    from bedstone.store.door import Door as KeptDoor

    return KeptDoor(_record_of(directory).database, now)


def _serve(
    directory: Path, host: str, port: int, names: tuple[str, ...], say: Callable[[str], None]
) -> None:
    import uvicorn

    from bedstone.store.door import Door as KeptDoor
    from bedstone.web.app import LOOPBACK, create_app

    record = _record_of(directory)
    app = create_app(
        record, KeptDoor(record.database, now), clock=now, hosts=(*LOOPBACK, host, *names)
    )
    listening = _listen(host, port)
    shown = f"[{host}]" if ":" in host else host
    say(f"http://{shown}:{listening.getsockname()[1]}/")
    try:
        uvicorn.Server(uvicorn.Config(app, log_level="warning", server_header=False)).run(
            sockets=[listening]
        )
    finally:
        listening.close()
        record.close()


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


def _demo_folder(directory: Path, day: dt.date | None, seed: int, say: Say) -> DemoMade:
    raise SetupError("join me")
