"""Assays of additives in bagged feed: beside what was reckoned, as trials, as findings."""

import datetime as dt

import pytest

from bedstone.desk.assays import assay_fact
from bedstone.desk.heat_assays import bag_assays
from bedstone.desk.heat_trial import own_heat
from bedstone.desk.line_findings import read_findings
from bedstone.desk.line_readings import read_of_run
from bedstone.desk.line_settings import settings_for
from bedstone.desk.made import BATCH_MADE, MadeBatch, MadeDraw
from bedstone.desk.plain_values import row_plain
from bedstone.desk.revisions import current_mill
from bedstone.desk.runs import RUN_PELLETED
from bedstone.desk.watch_samples import laboratory
from bedstone.ledger.model import Fact
from bedstone.mill.model import Assay
from bedstone.mill.plan import BatchKind, Verdict
from bedstone.pelleting.heat_fit import HeatTrial
from fakes.line_runs import AT as RUN_AT
from fakes.line_runs import RUN, line_record, made, pelleted, read
from fakes.memory import MemoryRecord

CULTURE = "live culture"


def ran(
    values: dict[str, float], *, product: str = "HORSE-SUP", sd: float | None = None
) -> MemoryRecord:
    """The demo mill with a run over PL2 whose conditioner read 66 C, and assays of its feed."""
    record = MemoryRecord()
    line_record(record)
    made(record, product=product)
    read(record, conditioner_temperature=66.0, cooler_outlet_moisture=0.12)
    pelleted(record, product=product)
    for number, (unit, value) in enumerate(values.items()):
        row = Assay(
            assay=f"A-{number}", nutrient=CULTURE, of=product, lot=RUN, value=value, unit=unit, sd=sd,
            sampled_at=RUN_AT + dt.timedelta(minutes=40),
        )  # fmt: skip
        at = RUN_AT + dt.timedelta(hours=2 + number)
        record.append(assay_fact(row, by="dell", at=at), recorded_at=at)
    return record


def test_an_assay_of_bagged_feed_stands_beside_what_was_reckoned() -> None:
    """Reckoned at what the conditioner read, not at the setting of now; the tag holds by it or not."""
    record = ran({"million CFU/g": 0.9})
    settings = settings_for(record, "HORSE-SUP", "PL2", at=RUN_AT)
    (one,) = bag_assays(record, settings, settings.additives[0])
    assert (one.run, one.found, one.conditioner_c) == (RUN, 0.9, 66.0)
    assert not one.keeps
    (there,) = settings_for(record, "HORSE-SUP", "PL2", at=RUN_AT, conditioning_c=66.0).additives
    assert there.tag is not None
    assert one.left == pytest.approx(there.tag.put_in * there.left.left)
    assert one.as_reckoned == (one.left_lo <= 0.9 <= one.left_hi)


@pytest.mark.parametrize(("found", "sd", "said"), [(0.4, 0.1, 1), (0.9, 0.1, 0), (0.9, None, 1)])
def test_a_result_below_the_tag_is_a_finding_of_its_run(
    found: float, sd: float | None, said: int
) -> None:
    """Clearly below the guarantee of 1 it is to be acted on; within the method's error it is not."""
    record = ran({"million CFU/g": found}, sd=sd)
    run = read_of_run(record, RUN, "PL2")
    assert run is not None
    rows = [row for row in read_findings(record, run) if row.code == "line.additive_found"]
    assert len(rows) == said
    for row in rows:
        assert row.verdict is Verdict.ACT
        assert f"found {found:.3f} million CFU/g of live culture" in row.text
        assert "guarantees 1.00" in row.text


def test_assays_of_bagged_feed_are_trials_of_the_mills_own() -> None:
    """If the assay is just what was reckoned to be left, the D fitted to it is the D that was used."""
    record = ran({"million CFU/g": 1.0})
    settings = settings_for(record, "HORSE-SUP", "PL2", at=RUN_AT)
    (row,) = settings.additives
    (one,) = bag_assays(record, settings, row)
    trial = HeatTrial(
        before=one.put_in, after=one.left, temperature_c=one.conditioner_c, time_s=one.same_loss_s
    )
    own = own_heat(
        current_mill(record),
        ingredient="VTM-H",
        trials=[trial],
        assay_cv_frac=0.05,
        on=RUN_AT.date(),
    )
    used = own.before
    at_66 = used.d_s * 10 ** ((used.at_c - 66.0) / used.z_dk)
    assert own.found.d_s == pytest.approx(at_66, rel=1e-6)


def test_assays_that_cannot_be_compared_are_left_out() -> None:
    """Another unit, or a run whose conditioner nobody read."""
    record = ran({"IU/kg": 900.0})
    settings = settings_for(record, "HORSE-SUP", "PL2", at=RUN_AT)
    assert bag_assays(record, settings, settings.additives[0]) == ()
    settings = settings_for(record, "RABBIT-16", "PL2", at=RUN_AT)
    assert settings.additives[0].tag is None
    assert bag_assays(record, settings, settings.additives[0]) == ()


def booked(record: MemoryRecord, run: str, at: dt.datetime, *, is_pelleted: bool) -> None:
    """A run of a ton, soybean meal and premix, with a low result of its live culture."""
    draws = tuple(
        MadeDraw(
            sequence=number, ingredient=code, from_place="FLOOR", instrument="SC1", target_mg=mass_mg,
            actual_mg=mass_mg, tolerance_mg=1_000_000,
        )
        for number, (code, mass_mg) in enumerate((("SBM48", 986_000_000), ("VTM-H", 14_000_000)), 1)
    )  # fmt: skip
    batch = MadeBatch(
        batch=f"{run}-01", run=run, plan="", kind=BatchKind.FEED, material="HORSE-SUP",
        formula_version=1, mixer="MX2", route=("MX2",), destination="FB8", draws=draws,
    )  # fmt: skip
    low = Assay(
        assay=f"A-{run}", nutrient=CULTURE, of="HORSE-SUP", lot=run, value=0.4, unit="million CFU/g",
        sampled_at=at,
    )  # fmt: skip
    facts = [Fact(kind=BATCH_MADE, happened_at=at, by="dell", content=row_plain(batch))]
    if is_pelleted:
        content = {"run": run}
        facts.append(Fact(kind=RUN_PELLETED, happened_at=at, by="dell", content=content))
    for fact in (*facts, assay_fact(low, by="dell", at=at)):
        record.append(fact, recorded_at=at)


@pytest.mark.parametrize(("is_pelleted", "witnesses"), [(True, 0), (False, 1)])
def test_what_heat_takes_is_no_witness_of_scales(*, is_pelleted: bool, witnesses: int) -> None:
    """Low results of a live culture say nothing of what was weighed into pelleted feed; of mash they
    do.
    """
    record = MemoryRecord()
    line_record(record)
    for number in range(8):
        at = RUN_AT + dt.timedelta(hours=number)
        booked(record, f"W-{number}", at, is_pelleted=is_pelleted)
    assert len(laboratory(record)) == witnesses
