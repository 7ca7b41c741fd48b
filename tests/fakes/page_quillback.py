"""The demo mill behind its pages with a few orders, for tests that edit tables or move runs."""

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from bedstone.demo.quillback import quillback_folder
from bedstone.desk import plan_day
from bedstone.mill.folder import LoadedFolder
from bedstone.mill.plan import Plan
from fakes.page_server import FixedClock, PageMill, page_mill

__all__ = ["DAY", "EARLY", "quillback_few", "quillback_pages", "with_plan"]

DAY = dt.date(2026, 11, 26)
EARLY = dt.datetime(2026, 11, 26, 11, 0, tzinfo=dt.UTC)  # 05:00 at the mill
ORDERS = ("4101", "4102", "4104", "4109", "4118", "4120")


def quillback_few() -> LoadedFolder:
    """The demo's folder with a few of its orders."""
    folder = quillback_folder(DAY)
    few = tuple(row for row in folder.orders if row.order in ORDERS)
    return replace(folder, orders=few, weather=())


@contextmanager
def quillback_pages(folder: Path) -> Iterator[PageMill]:
    """The demo mill's pages, no plan made yet."""
    with page_mill(folder, quillback_few(), clock=FixedClock(EARLY)) as served:
        yield served


def with_plan(mill: PageMill) -> Plan:
    """The day planned and released."""
    plan = plan_day.make_plan(mill.record, day=DAY, at=EARLY)
    plan_day.propose(mill.record, plan, by="dell", at=EARLY)
    plan_day.release(mill.record, plan.plan, by="dell", at=EARLY)
    return plan
