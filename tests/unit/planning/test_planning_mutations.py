"""A good plan of the small mill, changed by hand in one place at a time: each change is refused."""

import dataclasses
import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest

from bedstone.mill.plan import Bar, BarKind, CleanOut, Draw, LotShare, Plan, Verdict
from bedstone.planning.verifier import verify_plan
from fakes.plan_changes import (
    ASKED,
    CAUTION,
    DAY,
    KNOWN,
    MINUTE,
    Change,
    batch,
    edit,
    run,
    whole,
)
from fakes.planned import plan_of


@pytest.fixture(scope="module")
def plan() -> Plan:
    """The plan before anybody laid hands on it."""
    return plan_of(ASKED)


def batches(run: str, **changed: object) -> Change:
    """Change every batch of a run."""
    return lambda plan: dataclasses.replace(
        plan,
        batches=tuple(
            dataclasses.replace(row, **changed) if row.run == run else row for row in plan.batches
        ),
    )


def draw(name: str, ingredient: str, **changed: object) -> Change:
    """Change one draw of a batch; a number of times its target with ``times``."""

    def apply(plan: Plan) -> Plan:
        row = next(row for row in plan.batches if row.batch == name)
        (own,) = (item for item in row.draws if item.ingredient == ingredient)
        fields = {key: value for key, value in changed.items() if key != "times"}
        if "times" in changed:
            fields["target_mg"] = round(own.target_mg * float(str(changed["times"])))
        return batch(name, draws=edit(row.draws, "ingredient", ingredient, **fields))(plan)

    return apply


def grind(name: str, **changed: object) -> Change:
    """Change one grinding job."""
    return lambda plan: dataclasses.replace(
        plan, grinding=edit(plan.grinding, "job", name, **changed)
    )


def without_bars(wanted: Callable[[Bar], bool]) -> Change:
    """Take bars away."""
    return lambda plan: dataclasses.replace(
        plan, bars=tuple(bar for bar in plan.bars if not wanted(bar))
    )


def clean_out(
    *, minutes: float | None = None, places: tuple[str, ...] = (), **changed: object
) -> Change:
    """Change the clean-out, and its bars with it if it gets another length."""

    def apply(plan: Plan) -> Plan:
        (row,) = plan.clean_outs
        fields: dict[str, object] = dict(changed)
        bars = plan.bars
        if minutes is not None:
            fields["end_at"] = row.start_at + minutes * MINUTE
            bars = edit(bars, "about", row.clean_out, end_at=fields["end_at"])
        if places:
            fields["places"] = places
        return dataclasses.replace(
            plan, clean_outs=(dataclasses.replace(row, **fields),), bars=bars
        )

    return apply


def more_clean_outs(**fields: Any) -> Change:
    """A further clean-out, of no time."""

    def apply(plan: Plan) -> Plan:
        row = plan.clean_outs[0]
        new = CleanOut(
            clean_out="zz",
            before_batch=fields.get("before_batch", "5-01"),
            places=fields.get("places", ("MX1",)),
            start_at=row.start_at,
            end_at=row.start_at,
            reason="",
        )
        return dataclasses.replace(plan, clean_outs=(row, new))

    return apply


def instead_of_flush(minutes: float) -> Change:
    """The flush before the sheep feed replaced by a clean-out of so many minutes, without bars."""

    def apply(plan: Plan) -> Plan:
        flush = next(row for row in plan.batches if row.batch == "2-01-flush")
        ways = tuple(f"{a}>{b}" for a, b in zip(flush.route, flush.route[1:], strict=False))
        new = CleanOut(
            clean_out="2-01-clean",
            before_batch="2-01",
            places=(*flush.route, *ways),
            start_at=flush.start_at,
            end_at=flush.start_at + minutes * MINUTE,
            reason="",
        )
        left = without_bars(lambda bar: bar.about == flush.batch)(plan)
        return dataclasses.replace(
            left,
            batches=tuple(row for row in left.batches if row is not flush),
            clean_outs=(*left.clean_outs, new),
        )

    return apply


def both(*changes: Change) -> Change:
    """One change after another."""

    def apply(plan: Plan) -> Plan:
        for change in changes:
            plan = change(plan)
        return plan

    return apply


def moved(value: Any, by: dt.timedelta) -> Any:
    """Everything in a plan moved in time, but when orders are due."""
    if isinstance(value, dt.datetime):
        return value + by
    if isinstance(value, tuple):
        return tuple(moved(item, by) for item in value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        changed = {
            field.name: moved(getattr(value, field.name), by)
            for field in dataclasses.fields(value)
            if field.init and field.name != "due_at"
        }
        return dataclasses.replace(value, **changed)
    return value


def hurried(name: str) -> Change:
    """The bar of a batch no longer than its filling and emptying, unmixed."""
    return batch(name, dry_mix_s=0.0, wet_mix_s=0.0)


def renumbered(change: Callable[[Draw], int]) -> Change:
    """Draws of a batch with other numbers."""

    def apply(plan: Plan) -> Plan:
        row = next(row for row in plan.batches if row.batch == "5-01")
        draws = tuple(dataclasses.replace(item, sequence=change(item)) for item in row.draws)
        return batch("5-01", draws=draws)(plan)

    return apply


MUTATIONS: dict[str, tuple[Change, str, str]] = {
    # clean-outs
    "flush replaced by a clean-out of no time": (instead_of_flush(0), "clean_out.time", "2-01-clean"),
    "flush replaced by one of 2 min": (instead_of_flush(2), "clean_out.time", "2-01-clean"),
    "flush replaced by one that ends before it starts": (
        instead_of_flush(-500), "clean_out.time", "2-01-clean"),
    "flush replaced by one without bars": (instead_of_flush(7), "clean_out.bars", "2-01-clean"),
    "clean-out cut to 2 min": (clean_out(minutes=2), "clean_out.time", "4-01-clean"),
    "clean-out of more places in the same time": (
        clean_out(places=("MX1", "MX1>FB2", "FB2", "FB2>LO1", "LO1", "PL1")),
        "clean_out.time", "4-01-clean"),
    "clean-out without its bars": (
        without_bars(lambda bar: bar.kind is BarKind.CLEAN_OUT), "clean_out.bars", "4-01-clean"),
    "clean-out of a place that is none": (more_clean_outs(places=("NOPE",)), "clean_out.place", "zz"),
    "clean-out of a way that is none": (more_clean_outs(places=("MX1>LO1",)), "clean_out.place", "zz"),
    "clean-out of nothing": (more_clean_outs(places=()), "clean_out.place", "zz"),
    "clean-out before no batch": (more_clean_outs(before_batch="nope"), "clean_out.batch", "zz"),
    "clean-out after its batch": (clean_out(before_batch="1-01"), "clean_out.batch", "4-01-clean"),
    "bin cleaned with feed in it": (more_clean_outs(places=("FB1",)), "clean_out.busy", "zz"),
    # mixing
    "no mixing": (hurried("5-01"), "mixer.mixing", "5-01"),
    "a little less mixing": (batch("5-02", dry_mix_s=179.0), "mixer.mixing", "5-02"),
    "flush not mixed": (hurried("2-01-flush"), "mixer.mixing", "2-01-flush"),
    # draws
    "huge division": (draw("5-01", "PX-MON", division_mg=10**12), "draws.division", "5-01"),
    "huge division and drug tripled": (
        draw("5-01", "PX-MON", division_mg=10**12, times=3), "draws.formula", "5-01"),
    "huge division and no drug": (
        draw("5-01", "PX-MON", division_mg=10**12, target_mg=0), "draws.formula", "5-01"),
    "a division more of a drug": (draw("5-01", "PX-MON", times=1.05), "draws.formula", "5-01"),
    "drug doubled and corn less": (
        both(draw("5-01", "PX-MON", times=2), draw("5-01", "CORN-G", times=98 / 99)),
        "draws.formula", "5-01"),
    "huge tolerance": (draw("5-01", "PX-MON", tolerance_mg=10**12), "draws.tolerance", "5-01"),
    "tolerance a division wider": (
        draw("4-01", "LIME", tolerance_mg=2_000_000), "draws.tolerance", "4-01"),
    "draws all first": (renumbered(lambda _: 1), "draws.sequence", "5-01"),
    "draws from nought": (renumbered(lambda item: item.sequence - 1), "draws.sequence", "5-01"),
    "drawn as nobody draws": (draw("5-01", "PX-MON", how="nonsense"), "draws.how", "5-01"),
    "scale said to be a meter": (draw("5-01", "PX-MON", how="metered"), "draws.how", "5-01"),
    "lot of nowhere": (
        draw("5-01", "CORN-G", lots=(LotShare(lot="L-NOWHERE", mass_mg=1),)), "draws.lots", "5-01"),
    "drug without its caution": (draw("5-01", "PX-MON", caution=""), "draws.caution", "5-01"),
    "more at once than the scale takes": (draw("1-01", "CORN-G", times=1.5), "draws.capacity", "1-01"),
    # ways
    "route cut to the mixer": (batches("R-1", route=("MX1",)), "route.product", "1-01"),
    "pellets past the pellet line": (
        batches("R-1", route=("MX1", "FB1", "SK1")), "route.product", "1-01"),
    "one batch on another way": (
        batch("1-02", route=("MX1", "SB1", "PL1", "FB2", "SK1"), destination="FB2"),
        "route.run", "1-02"),
    "bags sent to load-out": (
        batches("R-1", route=("MX1", "SB1", "PL1", "FB1", "LO1")), "run.packing", "R-1"),
    "flush along another way": (
        batch("2-01-flush", route=("MX1", "FB1", "SK1")), "flush.route", "2-01-flush"),
    "flush cut short": (batch("2-01-flush", route=("MX1",)), "residue.level", "2-01"),
    # runs
    "run taken out": (
        lambda plan: whole(runs=tuple(row for row in plan.runs if row.run != "R-1"))(plan),
        "run.missing", "1-01"),
    "no runs": (whole(runs=()), "run.missing", "5-01"),
    "a batch too many in a run": (run("R-1", batches=("1-01", "1-02", "1-99")), "run.batches", "R-1"),
    "a batch too few in a run": (run("R-1", batches=("1-01",)), "run.batches", "1-02"),
    "a batch in two runs": (run("R-2", batches=("2-01", "1-01")), "run.batches", "1-01"),
    "run without batches": (run("R-1", batches=()), "run.batches", "R-1"),
    "two runs of one id": (run("R-2", run="R-1"), "plan.twice", "R-1"),
    "two batches of one id": (batch("1-02", batch="1-01"), "plan.twice", "1-01"),
    "another product": (run("R-1", product="BEEF-M"), "run.product", "1-01"),
    "product that is none": (run("R-1", product="NOPE"), "run.product", "R-1"),
    "another version": (run("R-1", formula_version=2), "run.product", "1-01"),
    "three times the mass": (run("R-1", mass_mg=9_000_000_000), "run.mass", "R-1"),
    "ten thousand bags": (run("R-1", bags=10_000), "run.bags", "R-1"),
    "one bag": (run("R-1", bags=1), "run.bags", "R-1"),
    "bags of bulk": (run("R-4", bags=10), "run.bags", "R-4"),
    "another finished bin": (run("R-1", finished_bin="FB2"), "run.bin", "R-1"),
    "another destination": (batch("1-01", destination="FB2"), "run.bin", "1-01"),
    "another packing machine": (run("R-1", packing_machine="LO1"), "run.packing", "R-1"),
    "pack that is none": (run("R-1", pack="sack"), "run.packing", "R-1"),
    "another customer": (run("R-1", customer="depot"), "run.order", "R-1"),
    "order that is none": (run("R-1", order="9999"), "run.order", "R-1"),
    "no order": (run("R-1", order=""), "run.order", "R-1"),
    "due when it suits": (run("R-1", due_at=None), "run.order", "R-1"),
    "late said to be in time": (
        lambda plan: run("R-1", due_at=plan.runs[0].start_at, late_s=0.0)(plan), "run.order", "R-1"),
    # days and times
    "another day": (lambda plan: whole(day=plan.day + 30 * DAY)(plan), "time.day", "1-01"),
    "a week early": (lambda plan: dataclasses.replace(moved(plan, -7 * DAY)), "time.day", "1-01"),
    "a year late": (lambda plan: dataclasses.replace(moved(plan, 364 * DAY)), "time.day", "1-01"),
    "changeovers dropped": (
        without_bars(lambda bar: bar.kind is BarKind.CHANGEOVER), "changeover.time", "3-01"),
    "die not changed": (
        without_bars(lambda bar: bar.kind is BarKind.CHANGEOVER and bar.machine == "PL1"),
        "changeover.time", "2-01-flush"),
    "grinding without bars": (
        without_bars(lambda bar: bar.kind is BarKind.GRIND), "grind.bars", "G-CORN-G-1"),
    "twice the grist": (grind("G-CORN-G-1", mass_out_mg=8_000_000_000), "grind.mass", "G-CORN-G-1"),
    "grinding in no time": (
        lambda plan: grind("G-CORN-G-1", end_at=plan.grinding[1].start_at)(plan),
        "grind.time", "G-CORN-G-1"),
    "another grain": (grind("G-CORN-G-1", ingredient="BARLEY"), "grind.machine", "G-CORN-G-1"),
    "ground in a mixer": (grind("G-CORN-G-1", machine="MX1"), "grind.machine", "G-CORN-G-1"),
    "bar of no machine": (
        lambda plan: whole(bars=edit(plan.bars, "machine", "LO1", machine="LO9"))(plan),
        "time.bars", "R-4"),
    "status released": (whole(status="released"), "plan.status", ""),
}  # fmt: skip


@pytest.mark.parametrize("name", MUTATIONS)
def test_a_plan_changed_by_hand_is_refused(plan: Plan, name: str):
    """The change is refused under its code, naming what it is about, with a text and a source."""
    change, code, about = MUTATIONS[name]
    changed = change(plan)
    assert changed != plan
    found = verify_plan(ASKED.mill, changed, stock_mg=ASKED.stock_mg, known=KNOWN)
    stops = {(row.code, row.about): row for row in found if row.verdict is Verdict.STOP}
    row = stops.get((code, about or plan.plan))
    assert row is not None, sorted(stops)
    assert row.text.endswith(tuple(".!?")) or CAUTION in row.text
    assert row.source
    assert row.do


def test_the_plan_itself_has_nothing_to_stop_it(plan: Plan):
    """Before any change the plan has a clean-out, a flush and grinding, and nothing is refused."""
    found = verify_plan(ASKED.mill, plan, stock_mg=ASKED.stock_mg, known=KNOWN)
    assert [row.text for row in found if row.verdict is Verdict.STOP] == []
    assert plan.clean_outs
    assert plan.grinding
    assert any(row.batch == "2-01-flush" for row in plan.batches)
    assert not {"plan.costs", "run.cost", "time.past"} & {row.code for row in found}


def test_the_clock_is_noted_only(plan: Plan):
    """Batches that should have begun are noted and stop nothing."""
    known = dataclasses.replace(KNOWN, now=plan.batches[2].start_at)
    found = verify_plan(ASKED.mill, plan, stock_mg=ASKED.stock_mg, known=known)
    assert [row.code for row in found if row.verdict is Verdict.STOP] == []
    assert [row.verdict for row in found if row.code == "time.past"] == [Verdict.NOTE]


def test_the_first_feed_of_the_day_needs_its_changeover_too(plan: Plan):
    """A mixer that ran another feed last is a matter for the people, not a refusal."""
    found = verify_plan(ASKED.mill, plan, stock_mg=ASKED.stock_mg, known=KNOWN)
    said = {(row.code, row.about, row.verdict) for row in found if row.code == "changeover.first"}
    assert said == {("changeover.first", "HORSE-PL-1125-01", Verdict.ACT)}


def test_batches_on_record_may_be_missing_only_for_their_own_run(plan: Plan):
    """A batch on record of another run does not stand for one that a run names."""
    gone = {"1-01": "R-1"}
    rest = dataclasses.replace(plan, batches=tuple(b for b in plan.batches if b.batch != "1-01"))
    for on_record, expected in ((gone, False), ({"1-01": "R-2"}, True), ({}, True)):
        known = dataclasses.replace(KNOWN, batches=on_record)
        found = verify_plan(ASKED.mill, rest, stock_mg=ASKED.stock_mg, known=known)
        stops = {(row.code, row.about) for row in found if row.verdict is Verdict.STOP}
        assert (("run.batches", "R-1") in stops) is expected
