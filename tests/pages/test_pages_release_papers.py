"""A release on the page prints the plan's papers in the mill's folder again."""

import datetime as dt
from pathlib import Path

import pytest

from bedstone.desk.plan_day import find_plan, make_plan, propose
from bedstone.papers.plan_folder import write_papers
from bedstone.store.folder import read_folder
from bedstone.store.starter import write_starter
from fakes.page_server import FixedClock, page_mill

EARLY = FixedClock(dt.datetime(2026, 1, 20, 11, 30, tzinfo=dt.UTC))
DAY = dt.date(2026, 1, 20)


@pytest.mark.parametrize("is_writable", [True, False])
def test_papers_in_the_folder_are_printed_again(tmp_path: Path, *, is_writable: bool):
    """What lies there as proposed is replaced at the release; where that fails the page says so,
    and the plan is released all the same.
    """
    folder = tmp_path / "papers"
    write_starter(tmp_path / "new")
    loaded = read_folder(tmp_path / "new")
    with page_mill(tmp_path, loaded, clock=EARLY, papers_folder=folder) as mill:
        plan = make_plan(mill.record, day=DAY, at=EARLY())
        propose(mill.record, plan, by="ana", at=EARLY())
        write_papers(folder, mill.record, plan)
        sheets = folder / plan.plan / "batch-sheets.pdf"
        before = sheets.read_bytes()
        if not is_writable:
            sheets.unlink()
            sheets.mkdir()
        manager = mill.visitor("ana")
        answer = manager.post(f"/plans/{plan.plan}/release", page=f"/plans/{plan.plan}")
        done = answer.headers["location"].rpartition("done=")[2]
        assert done == ("released" if is_writable else "not-printed")
        assert find_plan(mill.record, plan.plan).status == "released"
        said = manager.get(answer.headers["location"]).text
        assert ("could not be printed" in said) is not is_writable
        if is_writable:
            assert sheets.read_bytes() != before
