"""The database brought to the form that this program knows; never back."""

from pathlib import Path
from typing import Final

from sqlalchemy import Connection, inspect, text

from bedstone.errors import RecordDamaged, SetupError
from bedstone.store.database import Database

__all__ = ["FORMS", "migrate", "no_record", "upgrade"]

FORMS: Final = ("0001",)
"""Every form of the tables that there ever was, oldest first; the last is the one used here."""


def no_record() -> SetupError:
    """What to say where there should be a record, and none is."""
    return SetupError(
        "There is no record here; nothing was made.",
        allowed="a mill folder whose tables have been loaded",
        do="if there was a record, put back the last copy of bedstone.sqlite; if there never was "
        "one, bedstone load begins it",
    )


def upgrade(database: Database, *, create: bool = True) -> None:
    """Make the tables if ``create`` allows it, or bring them up to date.

    Raises
    ------
    SetupError
        If a newer program has written the database, or there are no tables and none may be made.
    RecordDamaged
        If it is the database of something else.
    """
    with database.reading() as connection:
        form = _form(connection)
    if form == FORMS[-1]:
        return
    if form is None and not create:
        raise no_record()
    with database.writing() as connection:
        form = _form(connection)
        if form != FORMS[-1]:
            migrate(connection)


def _form(connection: Connection) -> str | None:
    """Return the form of the tables; None if there are none yet."""
    tables = inspect(connection).get_table_names()
    if "alembic_version" not in tables:
        if tables:
            raise RecordDamaged(
                "The database holds tables, but is not a record.",
                seen=", ".join(sorted(tables)[:5]),
                do="check the address of the record; keep the file as it is",
            )
        return None
    form = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    if form is not None and form not in FORMS:
        raise SetupError(
            "A newer Bedstone has written this record.",
            seen=f"form {form}",
            allowed=f"forms up to {FORMS[-1]}",
            do="use the newer program; it is not safe to go back",
        )
    return form


def migrate(connection: Connection) -> None:
    """Run the migrations that lack where unqualified names of tables lead."""
    from alembic import command  # heavy, and needed once in the life of a record
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
