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


def starter_texts(day: dt.date = EXAMPLE_DAY) -> Mapping[str, str]:
    """Return the files of the starter folder by name; ``day`` is that of the example order."""
    dates = {"day": day.isoformat(), "eve": (day - dt.timedelta(days=1)).isoformat()}
    settings = Settings(**STARTER_SETTINGS)
    texts = {SETTINGS_FILE: settings_text(settings)}
    for name, row_type in TABLES.items():
        texts[f"{name}.csv"] = table_comment(name, row_type) + STARTER_ROWS[name].format(**dates)
    return texts


def write_starter(folder: Path, *, day: dt.date = EXAMPLE_DAY) -> tuple[Path, ...]:
    """Write the starter folder, with an example order for ``day``.

    Raises
    ------
    Refused
        If something already lies in the folder; nothing is written then.
    """
    refuse_if_filled(folder)
    return write_texts(starter_texts(day), folder)
