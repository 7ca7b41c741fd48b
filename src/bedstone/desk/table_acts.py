"""Tables edited on the pages, kept as a new revision; the revisions with who, when and what."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from bedstone.desk.appending import appended
from bedstone.desk.as_if import AsIf
from bedstone.desk.check_plan import check_plan
from bedstone.desk.folding import folded
from bedstone.desk.record import Record
from bedstone.desk.revisions import (
    LOADED,
    REVISES,
    changed_tables,
    current_mill,
    digest_of,
    tables_to_json,
    whole_number,
)
from bedstone.desk.roles import check, may
from bedstone.errors import BadInput, Conflict, Refused
from bedstone.ledger.model import Fact, Json, Recorded
from bedstone.mill.model import Mill
from bedstone.mill.plan import Finding, Plan, Verdict

__all__ = ["RevisionLine", "broken_by", "keep_tables", "revision_log"]

LONGEST_WHY = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionLine:
    """A revision as the journal has it: who kept it, when, why if that was said, what changed."""

    revision: int
    position: int
    by: str
    at: dt.datetime
    why: str
    changed: tuple[str, ...]


def revision_log(record: Record) -> tuple[RevisionLine, ...]:
    """Every revision of the tables, oldest first."""

    def note(
        before: tuple[RevisionLine, ...], facts: Iterable[Recorded]
    ) -> tuple[RevisionLine, ...]:
        return before + tuple(_line(item) for item in facts)

    return folded(record, "revision log", kinds=REVISES, start=(), fold=note)


def _line(item: Recorded) -> RevisionLine:
    content = item.fact.content
    changed = content.get("changed")
    return RevisionLine(
        revision=whole_number(content["revision"]),
        position=item.position,
        by=item.fact.by,
        at=item.fact.happened_at,
        why=str(content.get("why", "")),
        changed=tuple(map(str, changed)) if isinstance(changed, list) else (),
    )


def broken_by(
    record: Record, mill: Mill, plan: Plan, *, by: str, at: dt.datetime
) -> tuple[Finding, ...]:
    """What of a plan must not be made any more once these tables are kept; nothing is written.

    What must not be made already, as the tables stand, is left out.
    """
    revision = current_mill(record).revision + 1
    fact = _tables_fact(record, mill, revision=revision, why="asked", by=by, at=at)
    already = {(one.code, one.about) for one in check_plan(record, plan) if _stops(one)}
    asked = AsIf(record, fact, at=at)
    return tuple(
        one
        for one in check_plan(asked, plan)
        if _stops(one) and (one.code, one.about) not in already
    )


def _stops(finding: Finding) -> bool:
    return finding.verdict is Verdict.STOP


def _tables_fact(
    record: Record, mill: Mill, *, revision: int, why: str, by: str, at: dt.datetime
) -> Fact:
    """The fact of a new revision, with its difference from the one that stands."""
    content: dict[str, Json] = dict(tables_to_json(mill))
    content |= {
        "revision": revision,
        "digest": digest_of(mill),
        "changed": list(changed_tables(record, mill)),
    }
    if why:
        content["why"] = why
    return Fact(kind=LOADED, happened_at=at, by=by, content=content)


def keep_tables(
    record: Record, mill: Mill, *, base_revision: int, why: str, by: str, at: dt.datetime
) -> int:
    """Keep edited tables as a new revision and return its number.

    Asks: tables in which no fault is left, made from revision ``base_revision``. Refused when:
    the person's role may not change tables, or changes people and is no manager; nothing differs;
    nobody would be manager any more; somebody else has kept another revision since. Records:
    ``mill.tables_loaded/1``.
    """
    if not why.strip() or len(why) > LONGEST_WHY:
        raise BadInput(
            "Say why the tables are changed.",
            seen=f"{len(why.strip())} characters",
            allowed=f"a reason in words, at most {LONGEST_WHY} characters",
        )

    def act() -> Fact:
        now = current_mill(record)
        _refuse_other_base(record, base_revision)
        check(now, by, "tables")
        if mill.people != now.people:
            check(now, by, "people")
            _refuse_no_manager(mill)
        _refuse_formulas(now, mill)
        if digest_of(mill) == digest_of(now):
            raise Refused("Nothing differs from the tables that stand.", do="nothing")
        return _tables_fact(record, mill, revision=now.revision + 1, why=why.strip(), by=by, at=at)

    return whole_number(appended(record, act, at=at).fact.content["revision"])


def _refuse_other_base(record: Record, base_revision: int) -> None:
    newest = revision_log(record)[-1]
    if newest.revision != base_revision:
        raise Conflict(
            f"{_name(record, newest.by)} kept revision {newest.revision} of "
            f"the tables while you were editing revision {base_revision}; nothing of yours was "
            "written, and your draft is as you left it.",
            seen="; ".join(newest.changed[:4]),
            do="carry your changes over to the new revision, look at them, and keep them then",
        )


def _refuse_formulas(now: Mill, mill: Mill) -> None:
    """A formula is approved, put in use and withdrawn by its own acts; here only drafts change."""
    for one, other in ((now, mill), (mill, now)):
        for row in one.formulas:
            lines = one.lines_of(row.product, row.version)
            same = row in other.formulas and lines == other.lines_of(row.product, row.version)
            if row.status != "draft" and not same:
                raise Refused(
                    f"Version {row.version} of the formula of {now.name_of(row.product)} is not "
                    "changed in the tables.",
                    seen=f"a version that is {row.status}",
                    allowed="new drafts, and changes of drafts",
                    do="approve it, put it in use or withdraw it on the page of its formula; to "
                    "change its parts keep a new draft",
                )


def _name(record: Record, person: str) -> str:
    row = current_mill(record).person_by_code.get(person)
    return person if row is None else row.name


def _refuse_no_manager(mill: Mill) -> None:
    if not any(may(person.role, "people") for person in mill.people):
        raise Refused(
            "Nobody would be manager any more, so that nobody could release a plan or mend this.",
            allowed="at least one manager in the table of people",
            do="name the new manager first",
        )
