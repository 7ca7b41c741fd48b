"""Edited tables kept as a revision: who may, who was first, what that breaks; nothing else is written."""

from dataclasses import replace

import pytest

from bedstone.desk.as_if import AsIf
from bedstone.desk.revisions import current_mill
from bedstone.desk.table_acts import broken_by, keep_tables, revision_log
from bedstone.errors import BadInput, Conflict, Refused
from bedstone.ledger.model import Fact
from bedstone.mill.model import Limit, Mill, Person
from fakes.desk_day import MORNING, PLAN, a_day, later
from fakes.memory import MemoryRecord


@pytest.fixture
def day() -> MemoryRecord:
    """A record with tables and a released plan."""
    return a_day()


def named(mill: Mill, name: str) -> Mill:
    """The mill under another name."""
    return replace(mill, settings=replace(mill.settings, place=name))


def keep(record: MemoryRecord, mill: Mill, base: int, by: str = "osk", why: str = "moved") -> int:
    """Keep tables."""
    return keep_tables(record, mill, base_revision=base, why=why, by=by, at=later(60))


def test_kept_tables_are_the_next_revision_with_who_when_and_why(day: MemoryRecord):
    """The log has the new revision with its reason; the old one is still there."""
    before = current_mill(day)
    revision = keep(day, named(before, "2 Mill Road"), before.revision)
    line = revision_log(day)[-1]
    assert (line.revision, line.by, line.at, line.why) == (revision, "osk", later(60), "moved")
    assert line.changed == ("mill.toml: place was Ferris County, is 2 Mill Road",)
    assert revision == before.revision + 1
    assert current_mill(day).settings.place == "2 Mill Road"


def test_the_second_of_two_is_told_who_was_first_and_writes_nothing(day: MemoryRecord):
    """Both began with the same revision."""
    base = current_mill(day)
    keep(day, named(base, "first"), base.revision)
    head = day.head()
    with pytest.raises(Conflict, match="Oskar Venn kept revision"):
        keep(day, named(base, "second"), base.revision)
    assert day.head() == head


def test_only_roles_that_may_change_tables_keep_them_and_only_a_manager_changes_people(
    day: MemoryRecord,
):
    """A batch operator is refused; a nutritionist may change a bin's name but not who is manager."""
    base = current_mill(day)
    nell = Person(person="nell", name="Nell Quarry", role="nutritionist")
    keep(day, replace(base, people=(*base.people, nell)), base.revision)
    base = current_mill(day)
    with pytest.raises(Refused, match="may not change the mill's tables"):
        keep(day, named(base, "x"), base.revision, by="mara")
    raised = tuple(replace(row, role="manager") if row == nell else row for row in base.people)
    with pytest.raises(Refused, match="may not change who works here"):
        keep(day, replace(base, people=raised), base.revision, by="nell")
    keep(day, named(base, "x"), base.revision, by="nell")


def test_somebody_must_stay_manager(day: MemoryRecord):
    """The last manager cannot be taken out of the people."""
    base = current_mill(day)
    others = tuple(row for row in base.people if row.role != "manager")
    with pytest.raises(Refused, match="Nobody would be manager"):
        keep(day, replace(base, people=others), base.revision)


@pytest.mark.parametrize("why", ["", "   ", "x" * 501])
def test_a_reason_must_be_given(day: MemoryRecord, why: str):
    """No reason, or a whole letter, keeps nothing."""
    base = current_mill(day)
    with pytest.raises(BadInput):
        keep(day, named(base, "x"), base.revision, why=why)


def test_tables_that_differ_in_nothing_make_no_revision(day: MemoryRecord):
    """Keeping what stands is refused."""
    base = current_mill(day)
    with pytest.raises(Refused, match="Nothing differs"):
        keep(day, base, base.revision)


def test_what_new_tables_break_of_a_plan_is_said_before_they_are_kept(day: MemoryRecord):
    """A level far below what a feed of the plan contains by itself is named by its batches;
    nothing is written, and tables that change nothing of it break nothing.
    """
    base, head = current_mill(day), day.head()
    own = {(row.ingredient, row.substance) for row in base.contents}
    victim, substance = next(
        (batch.material, substance)
        for batch in PLAN.batches
        if batch.formula_version is not None
        for line in base.lines_of(batch.material, batch.formula_version)
        for ingredient, substance in own
        if ingredient == line.ingredient
    )
    level = Limit(
        product=victim, substance=substance, kind="level", level_mg_kg=1e-6, source="mill policy"
    )
    with_level = replace(base, limits=(*base.limits, level))
    found = broken_by(day, with_level, PLAN, by="osk", at=MORNING)
    assert found
    assert all(one.code.startswith("residue.") for one in found)
    assert broken_by(day, named(base, "x"), PLAN, by="osk", at=MORNING) == ()
    assert day.head() == head


def test_a_record_as_if_shows_one_more_fact_and_takes_none(day: MemoryRecord):
    """Its end has the fact that is asked about, in either direction; appending is refused."""
    fact = Fact(kind="mill.tables_loaded/1", happened_at=MORNING, by="osk", content={})
    asked = AsIf(day, fact, at=MORNING)
    assert asked.head().position == day.head().position + 1
    kinds = ("mill.tables_loaded/1",)
    assert [item.fact for item in asked.facts(kinds=kinds)][-1] == fact
    assert next(asked.facts(newest_first=True)).fact == fact
    assert asked.fact(asked.head().position).fact == fact
    assert fact not in [item.fact for item in asked.facts(kinds=("other/1",))]
    assert fact not in [item.fact for item in day.facts()]
    with pytest.raises(Refused):
        asked.append(fact, recorded_at=MORNING)


def test_only_drafts_of_formulas_are_changed_with_the_tables(day: MemoryRecord):
    """A line of what runs, its status, or a new version that runs at once: refused; a draft is kept."""
    base = current_mill(day)
    running, *rest = base.formulas
    lines = base.formula_lines[1:]
    fresh = replace(running, version=90)
    for wrong in (
        replace(base, formula_lines=lines),
        replace(base, formulas=(replace(running, status="withdrawn"), *rest)),
        replace(base, formulas=(*base.formulas, fresh)),
        replace(base, formulas=tuple(rest)),
    ):
        with pytest.raises(Refused, match="is not changed in the tables"):
            keep(day, wrong, base.revision)
    keep(
        day, replace(base, formulas=(*base.formulas, replace(fresh, status="draft"))), base.revision
    )
