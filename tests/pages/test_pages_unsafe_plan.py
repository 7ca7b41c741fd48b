"""Today, when a limit was tightened under the plan that stands."""

import datetime as dt
from dataclasses import replace
from pathlib import Path

from bedstone.desk.plan_day import make_plan, propose, release
from bedstone.desk.tables import load_tables
from fakes.joint_mill import joint_folder
from fakes.page_server import page_mill
from fakes.plans import DAY


def test_today_shows_what_is_no_longer_safe_and_prints_nothing(tmp_path: Path):
    """After a tighter limit is loaded Today says so on top, hides the papers, and they refuse."""
    folder = joint_folder()
    with page_mill(tmp_path, loaded=folder) as mill:
        at = mill.clock()
        plan = make_plan(mill.record, day=DAY, at=at)
        propose(mill.record, plan, by="osk", at=at)
        release(mill.record, plan.plan, by="osk", at=at)
        visitor = mill.visitor("osk")
        before = visitor.get(f"/?day={DAY}").text
        assert "day.pdf" in before
        assert "must not be made as it stands" not in before
        limits = tuple(
            replace(row, flush_kg=20_000.0) if row.kind == "procedure" else row
            for row in folder.mill.limits
        )
        later = at + dt.timedelta(minutes=1)
        changed = replace(folder, mill=replace(folder.mill, limits=limits))
        load_tables(mill.record, changed, by="osk", at=later)
        after = visitor.get(f"/?day={DAY}").text
        assert "must not be made as it stands" in after
        assert "must pass" in after
        assert "day.pdf" not in after
        refused = visitor.get(f"/papers/{plan.plan}/day.pdf")
        assert refused.status_code == 409
        assert "no longer safe" in refused.text
