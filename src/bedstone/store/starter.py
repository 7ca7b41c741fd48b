"""A commented starter folder: each table with what its columns mean, and a tiny mill in it."""

import datetime as dt
from collections.abc import Mapping
from pathlib import Path

from bedstone.mill.attribute_docs import table_comment
from bedstone.mill.equipment import Settings
from bedstone.mill.model import TABLES
from bedstone.store.folder import refuse_if_filled, write_texts
from bedstone.store.folder_settings import SETTINGS_FILE, settings_text
from bedstone.store.starter_rows import STARTER_ROWS, STARTER_SETTINGS

__all__ = ["starter_texts", "write_starter"]


EXAMPLE_DAY = dt.date(2026, 1, 20)
FRIDAY = 4


def starter_texts(
    day: dt.date = EXAMPLE_DAY, *, entered: dt.date = EXAMPLE_DAY - dt.timedelta(days=1)
) -> Mapping[str, str]:
    """Return the files of the starter folder by name; the example order came in on the day
    ``entered`` and is due on ``day``.
    """
    dates = {"day": day.isoformat(), "eve": entered.isoformat()}
    settings = Settings(**STARTER_SETTINGS)
    texts = {SETTINGS_FILE: settings_text(settings)}
    for name, row_type in TABLES.items():
        texts[f"{name}.csv"] = table_comment(name, row_type) + STARTER_ROWS[name].format(**dates)
    return texts


def working_day_after(day: dt.date) -> dt.date:
    """The next day on which the starter's mill has a shift, Monday to Friday."""
    return day + dt.timedelta(days=max(1, 7 - day.weekday()) if day.weekday() >= FRIDAY else 1)


def write_starter(folder: Path, *, today: dt.date = EXAMPLE_DAY) -> tuple[Path, ...]:
    """Write the starter folder, with an example order that came in yesterday and is due at noon of
    the second working day from today, so that it can be made in time whenever one begins.

    Raises
    ------
    Refused
        If something already lies in the folder; nothing is written then.
    """
    refuse_if_filled(folder)
    due = working_day_after(working_day_after(today))
    return write_texts(starter_texts(due, entered=today - dt.timedelta(days=1)), folder)
