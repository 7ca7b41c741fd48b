"""The demo mill behind its pages with its weather, for the pages of the pellet line."""

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from bedstone.demo.quillback import quillback_folder
from bedstone.mill.folder import LoadedFolder
from fakes.page_server import FixedClock, PageMill, page_mill

__all__ = ["DAY", "EARLY", "line_folder", "line_pages"]

DAY = dt.date(2026, 11, 26)
EARLY = dt.datetime(2026, 11, 26, 11, 0, tzinfo=dt.UTC)  # 05:00 at the mill


def line_folder() -> LoadedFolder:
    """The demo's tables and weather, without orders and stock."""
    return replace(quillback_folder(DAY), orders=(), opening_stock=())


@contextmanager
def line_pages(folder: Path, **wanted: object) -> Iterator[PageMill]:
    """The demo mill's pages early on its day, no plan made."""
    with page_mill(folder, line_folder(), clock=FixedClock(EARLY), **wanted) as served:
        yield served
