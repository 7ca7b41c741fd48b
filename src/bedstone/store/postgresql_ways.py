"""How PostgreSQL is asked: readers see one moment, writers come one after another.

A writer takes a lock of the record's own before it reads the end of the chain and gives it back
with its commit. Whoever writes without that lock runs into the primary key of the position.
"""

from typing import Any, Final

from sqlalchemy import URL

from bedstone.errors import BadInput, BedstoneError, Conflict, RecordDamaged, SetupError

__all__ = ["WAIT_MS", "arguments", "begin", "prepare", "translated"]

WAIT_MS: Final = 10_000
"""How long a writer waits for another, in milliseconds."""
_CONNECT_S: Final = 10  # how long to wait for the server to answer, in seconds
_WRITERS: Final = 0x62656473746F6E65  # "bedstone": the lock that one writer holds at a time
_AS_NEEDED: Final = (
    "SET synchronous_commit = on; SET timezone = 'UTC'; SET client_min_messages = warning; "
    "SET lock_timeout = {wait_ms}; SET default_transaction_read_only = off"
)
_READER: Final = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"
_WRITER: Final = f"BEGIN ISOLATION LEVEL READ COMMITTED; SELECT pg_advisory_xact_lock({_WRITERS})"
_CHECK: Final = "try again; if it stays so, have whoever looks after the database look"


def arguments(url: URL) -> dict[str, Any]:
    """Return what the driver is told when it connects.

    Raises
    ------
    SetupError
        If the address holds a password: mill.toml is mailed and kept under version control.
    """
    if url.password is not None or "password" in url.query:
        raise SetupError(
            "The address of the record holds a password; nothing was opened.",
            allowed="an address such as postgresql://bedstone@server/mill",
            do="take the password out and give it in the variable PGPASSWORD or in the file "
            ".pgpass of this user",
        )
    return {
        "connect_timeout": _CONNECT_S,
        "application_name": "bedstone",
        "client_encoding": "utf8",
    }


def prepare(raw: Any) -> None:
    """Set a new connection as the record needs it.

    Raises
    ------
    SetupError
        If the database is not in UTF-8, so that it could not keep every text.
    """
    raw.autocommit = True  # we send BEGIN ourselves
    raw.execute(_AS_NEEDED.format(wait_ms=WAIT_MS)).close()
    encoding = raw.info.parameter_status("server_encoding")
    if encoding != "UTF8":
        raise SetupError(
            "The database of the record cannot keep every text.",
            seen=f"its encoding is {encoding}",
            allowed="a database made with ENCODING 'UTF8'",
            do="make another database and name it in mill.toml",
        )


def begin(raw: Any, *, writes: bool) -> None:
    """Begin a transaction; that of a writer waits for others."""
    raw.execute(_WRITER if writes else _READER).close()


def translated(error: BaseException, *, confirming: bool) -> BedstoneError:
    """Return our error for one of the driver's, by its SQLSTATE.

    Parameters
    ----------
    confirming : bool
        Whether it came while the server was asked to confirm: then nobody knows what it kept.
    """
    state: str = getattr(error, "sqlstate", None) or ""
    says = str(error).strip().split("\n", maxsplit=1)[0]
    for beginning, made in _BY_STATE.items():
        if state.startswith(beginning):
            return made(says)
    if confirming:
        return Conflict(
            "The connection to the record was lost before it confirmed; whether this was written "
            "is not known.",
            seen=says,
            do="look at the last facts of the record before you repeat anything",
        )
    if not state or state.startswith(_LOST):
        return SetupError(
            "The database of the record cannot be reached; nothing was written.",
            seen=says,
            allowed="the address in mill.toml; the password in PGPASSWORD or .pgpass",
            do="see that the server runs and that this user may come in, then repeat",
        )
    return RecordDamaged(
        "The database of the record did not do what it was asked; nothing was written.",
        seen=f"{says} (SQLSTATE {state})",
        do="stop, run bedstone verify, and have whoever looks after the database look",
    )


_LOST: Final = ("08", "57", "28", "3D", "53300", "58")
"""No connection, shut down, not let in, no such database, too many connections, system fault."""


def _taken(says: str) -> Conflict:
    return Conflict(
        "Somebody else recorded first; nothing was written.", seen=says, do="read again and repeat"
    )


def _busy(says: str) -> Conflict:
    return Conflict(
        "Another program is writing to the record; nothing was written.", seen=says, do=_CHECK
    )


def _full(says: str) -> SetupError:
    return SetupError(
        "The disk of the database is full; nothing was written.",
        seen=says,
        do="make room, then repeat",
    )


def _not_allowed(says: str) -> SetupError:
    return SetupError(
        "The record may not be written; nothing was written.",
        seen=says,
        do="give this user the rights on the database, or name the server that may be written",
    )


def _not_kept(says: str) -> BadInput:
    return BadInput(
        "The database cannot keep one of these values; nothing was written.",
        seen=says,
        allowed="whole numbers of 64 bits, text without the sign U+0000",
    )


_BY_STATE: Final = {
    "23": _taken,  # a key that is there already
    "40": _taken,  # serialization, deadlock
    "55P03": _busy,  # lock not available in time
    "57014": _busy,  # cancelled by somebody
    "53100": _full,
    "25006": _not_allowed,  # a server that only reads
    "42501": _not_allowed,
    "22": _not_kept,
}
