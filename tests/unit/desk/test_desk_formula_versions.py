"""Versions of formulas: nothing runs on a draft, approval sees the tag, one truth with the tables."""

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import replace

import pytest

from bedstone.desk.formula_checks import judge
from bedstone.desk.formula_versions import (
    approve_formula,
    draft_formula,
    formula_history,
    put_formula_in_use,
    version_of,
    withdraw_formula,
)
from bedstone.desk.formulate import asked
from bedstone.desk.revisions import (
    changed_tables,
    current_mill,
    digest_of,
    newest_revision,
    revision_mill,
)
from bedstone.desk.table_acts import keep_tables, revision_log
from bedstone.desk.tables import load_tables, recorded_folder
from bedstone.errors import BadInput, Conflict, Refused, Unknown
from bedstone.formulation.least_cost import least_cost
from bedstone.ledger.model import Fact
from bedstone.mill.formula_change import FormulaChange, next_version, with_change
from bedstone.mill.model import Mill
from bedstone.mill.plan import Verdict
from fakes.formula_desk import TODAY, a_record, later
from fakes.memory import MemoryRecord

PRODUCT = "SHEEP-GR"


def cheapest(record: MemoryRecord, product: str = PRODUCT) -> dict[str, float]:
    """Parts of the cheapest formula, to parts per million, adding up to one."""
    shares = least_cost(asked(record, product, TODAY).problem).shares
    parts = {code: round(share, 6) for code, share in shares.items()}
    largest = max(parts, key=lambda code: parts[code])
    parts[largest] = round(parts[largest] + 1 - sum(parts.values()), 6)
    return parts


def drafted(
    record: MemoryRecord, parts: Mapping[str, float] | None = None, product: str = PRODUCT
) -> int:
    """A draft of the cheapest formula, or of these parts."""
    parts = cheapest(record, product) if parts is None else parts
    return draft_formula(record, product, parts, why="cheaper", by="ines", at=later(1))


def approved(record: MemoryRecord) -> int:
    """An approved version of the cheapest formula."""
    version = drafted(record)
    approve_formula(record, PRODUCT, version, choices=TODAY, by="ines", at=later(2))
    return version


def running(record: MemoryRecord, product: str = PRODUCT) -> dict[str, float]:
    """Parts of the formula that runs."""
    mill = current_mill(record)
    formula = mill.running_formula(product)
    assert formula is not None
    return {row.ingredient: row.parts_frac for row in mill.lines_of(product, formula.version)}


def test_a_version_goes_from_draft_to_use_and_each_step_is_a_revision():
    """Drafted, approved, in use: the tables have it, and the version before is withdrawn."""
    record = a_record()
    version = approved(record)
    assert version == 3
    assert put_formula_in_use(record, PRODUCT, version, by="ines", at=later(3)) == 2
    mill = current_mill(record)
    assert (mill.revision, newest_revision(record)) == (4, 4)
    assert {row.version: row.status for row in mill.formulas if row.product == PRODUCT} == {
        1: "withdrawn",
        2: "withdrawn",
        3: "running",
    }
    row = version_of(mill, PRODUCT, 3)
    assert (row.approved_by, row.approved_on) == ("ines", dt.date(2026, 11, 25))
    statuses = [version_of(revision_mill(record, n), PRODUCT, 3).status for n in (2, 3, 4)]
    assert statuses == ["draft", "approved", "running"]
    assert [line.revision for line in revision_log(record)] == [1, 2, 3, 4]
    assert [said.became for said in formula_history(record)[PRODUCT, 3]] == [
        "draft",
        "approved",
        "running",
    ]
    fact = next(iter(record.facts(newest_first=True))).fact
    assert fact.content["digest"] == digest_of(mill)


def test_the_tables_are_the_one_truth():
    """What is exported has the versions as facts left them, and loading that changes nothing."""
    record = a_record()
    put_formula_in_use(record, PRODUCT, approved(record), by="ines", at=later(3))
    folder = recorded_folder(record)
    assert folder.mill.running_formula(PRODUCT) == version_of(folder.mill, PRODUCT, 3)
    assert changed_tables(record, folder.mill) == ()
    assert load_tables(record, folder, by="dell", at=later(4)).nothing_new


def test_a_fact_taken_back_leaves_the_tables_as_they_were():
    """A draft that is taken back is gone, whatever was said of it later."""
    record = a_record()
    before = current_mill(record)
    approved(record)
    first = next(iter(record.facts(kinds=("formulation.formula_drafted/1",))))
    record.reverse(first.position, by="dell", why="typed by mistake", recorded_at=later(4))
    after = current_mill(record)
    assert (after.formulas, after.formula_lines) == (before.formulas, before.formula_lines)


def test_approval_keeps_what_stands_on_the_tag_with_its_odds():
    """The fact of an approval has each guarantee with expected value, spread and odds."""
    record = a_record()
    approved(record)
    content = next(iter(record.facts(kinds=("formulation.formula_approved/1",)))).fact.content
    limits = {row["name"]: row for row in content["limits"]}
    protein = limits["crude protein on the tag"]
    assert protein["minimum"] == 16
    assert protein["expected"] > 16
    assert 0.949 < protein["odds_min_frac"] <= 1
    assert content["approved_by"] == "ines"
    assert content["cost_usd_t"] > 0
    assert any(row["code"] == "formula.toxin" for row in content["findings"])


def test_a_tag_that_is_missed_is_not_approved():
    """Parts whose expected protein lies below the tag are refused with the number."""
    record = a_record()
    parts = running(record) | {"SBM48": 0.10, "CORN-G": 0.3465}
    version = drafted(record, parts)
    with pytest.raises(
        Refused, match=r"crude protein on the tag is expected at 1[0-9.]+ %, at least 16"
    ):
        approve_formula(
            record, PRODUCT, version, choices=TODAY, by="ines", at=later(2), why="trust me"
        )
    assert version_of(current_mill(record), PRODUCT, version).status == "draft"


def test_a_tag_that_is_likely_missed_wants_a_reason():
    """Odds below what the mill asks must be answered for in words."""
    record = a_record()
    version = drafted(record, running(record))
    with pytest.raises(BadInput, match="odds of 79"):
        approve_formula(record, PRODUCT, version, choices=TODAY, by="ines", at=later(2))
    found = approve_formula(
        record, PRODUCT, version, choices=TODAY, by="ines", at=later(2), why="as it ran for a year"
    )
    assert any(row.verdict is Verdict.ACT for row in found)


Parts = Callable[[dict[str, float]], dict[str, float]]


@pytest.mark.parametrize(
    ("product", "change", "said", "rule"),
    [
        ("SHEEP-GR", {"VTM-R": 0.004, "CORN-G": -0.004}, "of copper; at most 15", "In Practice"),
        ("HORSE-PEL", {"MON-A": 0.0005, "BARLEY-G": -0.0005}, "none may be put in", "558.355"),
        ("SWINE-GR", {"UREA": 0.012, "CORN-G": -0.012}, "not for ruminants", "OAR 603-058-0180"),
        ("EWE-15", {"MON-A": 0.0002, "CORN-G": -0.0002}, "does not say that it is medicated", "21 CFR"),
    ],
)  # fmt: skip
def test_what_could_kill_is_refused_with_its_rule(
    product: str, change: dict[str, float], said: str, rule: str
):
    """Copper for sheep, a drug for horses, urea for pigs, a drug in plain feed: never approved."""
    record = a_record()
    parts = running(record, product)
    for code, share in change.items():
        parts[code] = round(parts.get(code, 0.0) + share, 6)
    version = draft_formula(record, product, parts, why="a try", by="ines", at=later(1))
    with pytest.raises(Refused) as caught:
        approve_formula(
            record, product, version, choices=TODAY, by="ines", at=later(2), why="a try"
        )
    findings = judge(record, product, parts, TODAY).findings
    stops = [row for row in findings if row.verdict is Verdict.STOP]
    assert said in str(caught.value)
    assert any(said in row.text and rule in row.source for row in stops)
    assert any("nutritionist" in row.do or "veterinarian" in row.do for row in stops)


def test_drugs_and_urea_where_they_may_be_are_noted(record_of_demo: MemoryRecord):
    """A medicated cattle feed with urea is noted with the rule, and asks for the veterinarian."""
    found = judge(record_of_demo, "BEEF-FIN", running(record_of_demo, "BEEF-FIN"), TODAY).findings
    by_code = {row.code: row for row in found}
    assert by_code["formula.drug"].verdict is Verdict.NOTE
    assert "558.355" in by_code["formula.drug"].source
    assert "veterinarian" in by_code["formula.drug"].do
    assert "ruminants only" in by_code["formula.npn"].text


@pytest.mark.parametrize(
    ("product", "protein", "npn", "verdict"),
    [
        ("BEEF-FIN", 26.25, 8.75, Verdict.NOTE),  # exactly a third and exactly 8.75: neither above
        ("BEEF-FIN", 26.28, 8.76, Verdict.ACT),
        ("BEEF-FIN", 20.0, 6.7, Verdict.ACT),
        ("BEEF-FIN", 20.0, 6.6, Verdict.NOTE),
        ("BEEF-FIN", 40.0, 8.8, Verdict.ACT),
        ("SWINE-ST", 16.0, 1.26, Verdict.STOP),
    ],
)
def test_the_urea_caution_begins_just_above_its_two_limits(
    record_of_demo: MemoryRecord, product: str, protein: float, npn: float, verdict: Verdict
):
    """8.75 % or a third of the protein, each only when it is passed; others at most 1.25 %.

    State feed rules after the model law (Oregon 603-058-0180, Missouri 2 CSR 70-30.070, others).
    """
    from bedstone.desk.formula_cautions import cautions_of

    mill = current_mill(record_of_demo)
    found = cautions_of(
        mill, product, {"CORN-R": 1.0}, {"crude protein": protein, "NPN protein": npn}
    )
    assert [row.verdict for row in found if row.code == "formula.npn"] == [verdict]


@pytest.fixture(scope="module")
def record_of_demo() -> MemoryRecord:
    """The demo mill, only read."""
    return a_record()


def test_nothing_is_put_in_use_that_is_not_approved():
    """A draft cannot run, nor what was withdrawn."""
    record = a_record()
    version = drafted(record)
    with pytest.raises(Refused, match="is draft; it cannot be put in use"):
        put_formula_in_use(record, PRODUCT, version, by="ines", at=later(2))
    withdraw_formula(record, PRODUCT, version, why="a slip", by="ines", at=later(2))
    with pytest.raises(Refused, match="is withdrawn"):
        approve_formula(record, PRODUCT, version, choices=TODAY, by="ines", at=later(3))
    with pytest.raises(Refused, match="is withdrawn; it cannot be withdrawn"):
        withdraw_formula(record, PRODUCT, version, why="again", by="ines", at=later(3))


def test_what_the_mill_cannot_draw_does_not_go_in_use():
    """An approved version with an ingredient that no bin feeds names the bin's columns."""
    record = a_record()

    def without_bin(mill: Mill) -> Mill:
        bins = tuple(replace(row, holds="MIDDS") if row.bin == "B05" else row for row in mill.bins)
        return replace(mill, bins=bins)

    version = approved(record)
    mill = current_mill(record)
    assert "DDGS" in {row.ingredient for row in mill.lines_of(PRODUCT, version)}
    lacking = replace(recorded_folder(record), mill=without_bin(mill))
    load_tables(record, lacking, by="dell", at=later(3))
    with pytest.raises(Refused, match="cannot run in this mill: DDGS"):
        put_formula_in_use(record, PRODUCT, version, by="ines", at=later(4))


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        ({"CORN-G": 0.5, "SBM48": 0.4}, "90 % in all"),
        ({"CORN-G": 1.2, "SBM48": -0.2}, "-20 %"),
        ({"CORN-G": 0.5, "NOSUCH": 0.5}, "no ingredient and no product"),
        ({"CORN-G": 0.5, "SHEEP-GR": 0.5}, "the product itself"),
    ],
)
def test_parts_that_make_no_formula_are_refused(
    record_of_demo: MemoryRecord, parts: dict[str, float], said: str
):
    """Parts that do not add up, are nothing, unknown or the product itself are named."""
    with pytest.raises(BadInput) as caught:
        draft_formula(record_of_demo, PRODUCT, parts, why="a try", by="ines", at=later(1))
    assert any(said in fault.found for fault in caught.value.faults)


def test_only_who_may_drafts_and_approves(record_of_demo: MemoryRecord):
    """A batch operator drafts nothing; a reason must be given; an unknown version is unknown."""
    with pytest.raises(Refused, match="may not keep a formula as a draft"):
        draft_formula(record_of_demo, PRODUCT, {"CORN-G": 1.0}, why="x", by="mara", at=later(1))
    with pytest.raises(BadInput, match="Say why"):
        draft_formula(record_of_demo, PRODUCT, {"CORN-G": 1.0}, why=" ", by="ines", at=later(1))
    with pytest.raises(Unknown, match="no version 9"):
        approve_formula(record_of_demo, PRODUCT, 9, choices=TODAY, by="ines", at=later(1))


def test_whoever_decides_on_what_was_changed_since_is_told():
    """A page that was read before another's act is refused as a conflict."""
    record = a_record()
    read = record.head().position
    version = drafted(record)
    with pytest.raises(Conflict):
        approve_formula(record, PRODUCT, version, choices=TODAY, by="ines", at=later(2), after=read)


def test_the_pages_tables_change_drafts_only():
    """Tables edited on the pages may change a draft, never a version that was approved."""
    record = a_record()
    mill = current_mill(record)
    formulas = tuple(
        replace(row, status="running", approved_by="ines", approved_on=dt.date(2026, 11, 25))
        if (row.product, row.version) == ("LAYER-16", 2)
        else replace(row, status="withdrawn")
        if (row.product, row.version) == ("LAYER-16", 1)
        else row
        for row in mill.formulas
    )
    edited = replace(mill, formulas=formulas)
    with pytest.raises(Refused, match="page of its formula"):
        keep_tables(record, edited, base_revision=1, why="quick", by="ines", at=later(1))
    lines = tuple(
        replace(row, parts_frac=row.parts_frac + 0.01)
        if row.version == 2 and row.ingredient == "MIDDS"
        else replace(row, parts_frac=row.parts_frac - 0.01)
        if row.version == 2 and row.ingredient == "CORN-G"
        else row
        for row in mill.formula_lines
        if row.product == "LAYER-16"
    )
    others = tuple(row for row in mill.formula_lines if row.product != "LAYER-16")
    draft = replace(mill, formula_lines=(*others, *lines))
    assert keep_tables(record, draft, base_revision=1, why="a draft", by="ines", at=later(1)) == 2


def test_a_change_of_what_is_not_there_changes_nothing(record_of_demo: MemoryRecord):
    """Approval of a version that the tables lack leaves them as they are."""
    mill = current_mill(record_of_demo)
    change = FormulaChange(product=PRODUCT, version=9, status="approved", approved_by="ines")
    assert with_change(mill, change) == mill


def test_many_changes_on_one_load_are_read_in_one_go():
    """A thousand drafts since the tables were loaded: the mill of the last, and of one in between."""
    record = a_record()
    parts = {"CORN-G": 0.5, "SBM48": 0.5}
    for number in range(1000):
        fact = Fact(
            kind="formulation.formula_drafted/1",
            happened_at=later(1),
            by="ines",
            content={
                "product": PRODUCT,
                "version": 3 + number,
                "lines": [{"ingredient": code, "parts_frac": part} for code, part in parts.items()],
                "revision": 2 + number,
                "digest": "",
            },
        )
        record.append(fact, recorded_at=later(1))
    mill = current_mill(record)
    assert (mill.revision, next_version(mill, PRODUCT)) == (1001, 1003)
    assert next_version(revision_mill(record, 500), PRODUCT) == 502
