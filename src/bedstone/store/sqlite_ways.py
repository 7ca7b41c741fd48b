"""How SQLite is asked: one file in write-ahead mode, a writer locks it when it begins."""

import sqlite3
from typing import Any, Final

from sqlalchemy import URL

from bedstone.errors import BedstoneError, Conflict, RecordDamaged, SetupError

__all__ = ["PRAGMAS", "WAIT_S", "arguments", "begin", "prepare", "translated"]

WAIT_S: Final = 10.0
"""How long a writer waits for another process, in seconds."""
PRAGMAS: Final = (
    "PRAGMA journal_mode=WAL",
    "PRAGMA synchronous=FULL",
    "PRAGMA foreign_keys=ON",
    "PRAGMA wal_autocheckpoint=4000",
    "PRAGMA cache_size=-65536",
    "PRAGMA temp_store=MEMORY",
)


def arguments(url: URL) -> dict[str, Any]:
    """Return what the driver is told when it connects.

    Raises
    ------
    SetupError
        If the address is not that of a file.
    """
    if url.database in {None, "", ":memory:"}:
        raise SetupError("The record must be kept in a file.", allowed="sqlite:///FILE")
    return {"timeout": WAIT_S}


def prepare(raw: Any) -> None:
    """Set a new connection as the record needs it."""
    raw.isolation_level = None  # we send BEGIN ourselves
    for pragma in PRAGMAS:
        raw.execute(pragma).close()


def begin(raw: Any, *, writes: bool) -> None:
    """Begin a transaction; that of a writer waits for others."""
    raw.execute("BEGIN IMMEDIATE" if writes else "BEGIN").close()


def translated(error: BaseException, *, confirming: bool) -> BedstoneError:
    """Return our error for one of the driver's."""
    del confirming  # a file that fails to confirm has kept nothing
    says = str(error)
    if isinstance(error, sqlite3.IntegrityError):
        return Conflict(
            "Somebody else recorded first; nothing was written.",
            seen=says,
            do="read again and repeat",
        )
    low = says.lower()
    if "locked" in low or "busy" in low:
        return Conflict(
            "Another program is writing to the record; nothing was written.",
            seen=says,
            do="try again; close other programs that have the file open",
        )
    if "full" in low:
        return SetupError(
            "The disk is full; nothing was written.", seen=says, do="make room, then repeat"
        )
    if "readonly" in low or "read-only" in low:
        return SetupError(
            "The record may not be written; nothing was written.",
            seen=says,
            do="give this user the right to write the mill folder and its files",
        )
    if "unable to open" in low:
        return SetupError(
            "The record cannot be opened.", seen=says, do="check the folder and who may read it"
        )
    return RecordDamaged(
        "The file of the record cannot be read as a database.",
        seen=says,
        do="stop, keep the file, put back the last copy and run bedstone verify",
    )
