"""The form of an SQLite file held against what the migrations make: nothing added, gone or changed."""

import tempfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from sqlalchemy import URL, Connection

from bedstone.store.database import Database
from bedstone.store.upgrade import upgrade

__all__ = ["Objects", "differences", "form_faults"]

_OBJECTS = (
    "SELECT type, name, tbl_name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite\\_%' "
    "ESCAPE '\\' ORDER BY type, name"
)
Objects = dict[tuple[str, str], tuple[str, str]]
"""Kind and name of each table, index, view and trigger, with its table and the words that made it."""


def form_faults(connection: Connection) -> Iterator[str]:
    """Return what tables, indexes, views and triggers of an SQLite file are not as they were made."""
    return differences(_objects(connection), _made_by_migrations())


def differences(found: Objects, should: Objects) -> Iterator[str]:
    """Yield in words how what is there differs from what the migrations make."""
    for kind, name in sorted(found.keys() | should.keys()):
        is_there, was_made = found.get((kind, name)), should.get((kind, name))
        if was_made is None and is_there is not None:
            yield f"there is a {kind} {name} at table {is_there[0]} that Bedstone did not make"
        elif is_there is None:
            yield f"the {kind} {name} is gone"
        elif is_there != was_made:
            yield f"the {kind} {name} has been changed"


def _objects(connection: Connection) -> Objects:
    rows = connection.exec_driver_sql(_OBJECTS)
    return {
        (str(kind), str(name)): (str(table), "".join(str(words).replace('"', "").split()))
        for kind, name, table, words in rows
    }


@cache
def _made_by_migrations() -> Objects:
    """Return what the migrations make in an empty file, whatever form it passes through."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        fresh = Database(URL.create("sqlite", database=str(Path(folder) / "fresh.sqlite")))
        try:
            upgrade(fresh)
            with fresh.reading() as connection:
                return _objects(connection)
        finally:
            fresh.close()
