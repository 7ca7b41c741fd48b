"""A small made-up mill and a plan of one of its days, written by hand, for tests of what reads plans."""

import datetime as dt
from collections.abc import Sequence

from bedstone.mill.model import Order
from bedstone.mill.plan import (
    Bar,
    BarKind,
    Batch,
    BatchKind,
    CleanOut,
    Costs,
    Draw,
    GrindJob,
    LeftOut,
    LotShare,
    Plan,
    Run,
)
from fakes.small_mill import a_mill

__all__ = ["DAY", "HEAD", "LB_MG", "a_batch", "a_draw", "a_mill", "a_plan", "an_order", "at", "lb"]

DAY = dt.date(2026, 11, 25)
HEAD = "9f3c1d20b4e85a6677aa10c29e01d4f8" * 2
LB_MG = 453_592.37


def at(clock: str, day: dt.date = DAY) -> dt.datetime:
    """A time of the mill's day (it lies six hours behind UTC in November)."""
    hour, minute = map(int, clock.split(":"))
    local = dt.datetime.combine(day, dt.time(hour, minute))
    return (local + dt.timedelta(hours=6)).replace(tzinfo=dt.UTC)


def lb(pounds: float) -> int:
    """Pounds in whole milligrams."""
    return round(pounds * LB_MG)


def a_draw(sequence: int, ingredient: str, pounds: float, **changes: object) -> Draw:
    """A draw of a mass in pounds; from the main scale if nothing else is said."""
    values: dict[str, object] = {
        "sequence": sequence,
        "ingredient": ingredient,
        "from_place": "G1",
        "instrument": "SC1",
        "how": "weighed",
        "target_mg": lb(pounds),
        "tolerance_mg": lb(2),
        "division_mg": lb(1),
        "lots": (LotShare(lot=f"L-{sequence:02d}-{ingredient}", mass_mg=lb(pounds)),),
    }
    return Draw(**(values | changes))  # type: ignore[arg-type]


SHEEP_DRAWS = (
    a_draw(1, "CORN-GR", 1600, tolerance_mg=lb(2), lots=(
        LotShare(lot="L-1101-CORN", mass_mg=lb(1100)), LotShare(lot="L-1112-CORN", mass_mg=lb(500)),
    )),
    a_draw(2, "MIDDS", 1200, from_place="B5"),
    a_draw(3, "SHEEP-PX", 16, from_place="F1", instrument="HS", how="hand",
           tolerance_mg=lb(0.02), division_mg=lb(0.01)),
    a_draw(4, "VITE", 4, from_place="F1", instrument="HS", how="hand",
           tolerance_mg=lb(0.01), division_mg=lb(0.01)),
    a_draw(5, "SBM", 800, from_place="B4"),
    a_draw(6, "LIME", 60, from_place="B6", instrument="SC2", tolerance_mg=lb(0.2),
           division_mg=lb(0.1)),
    a_draw(7, "SALT", 20, from_place="B7", instrument="SC2", tolerance_mg=lb(0.1),
           division_mg=lb(0.1)),
    a_draw(8, "MOL", 200, from_place="T1", instrument="LM1", how="metered",
           tolerance_mg=lb(2), division_mg=lb(0.1)),
    a_draw(9, "OIL", 100, from_place="T2", instrument="LM2", how="metered",
           tolerance_mg=lb(1), division_mg=lb(0.1)),
)  # fmt: skip
BROILER_DRAWS = (
    a_draw(1, "CORN-GR", 2400),
    a_draw(2, "MONEN", 2, from_place="F1", instrument="HS", how="hand", tolerance_mg=lb(0.01),
           division_mg=lb(0.01), caution="Can kill horses. Gloves and mask."),
    a_draw(3, "SBM", 1440, from_place="B4"),
    a_draw(4, "LIME", 118, from_place="B6", instrument="SC2", tolerance_mg=lb(0.2),
           division_mg=lb(0.1)),
    a_draw(5, "SALT", 40, from_place="B7", instrument="SC2", tolerance_mg=lb(0.1),
           division_mg=lb(0.1)),
)  # fmt: skip
PIG_DRAWS = (
    a_draw(1, "CORN-GR", 3000),
    a_draw(2, "PIG-PX", 40, from_place="F1", instrument="HS", how="hand", tolerance_mg=lb(0.03),
           division_mg=lb(0.01), caution="Holds copper."),
    a_draw(3, "SBM", 880, from_place="B4"),
    a_draw(4, "LIME", 80, from_place="B6", instrument="SC2", tolerance_mg=lb(0.2),
           division_mg=lb(0.1)),
)  # fmt: skip
WHY = (
    "The first sacks would carry 9 mg/kg of copper beyond the feed's own 8; the limit of sheep feed "
    "is 15 (mill policy)."
)


def a_batch(batch: str, material: str, draws: Sequence[Draw], **changes: object) -> Batch:
    """A batch on the only mixer."""
    values: dict[str, object] = {
        "batch": batch,
        "kind": BatchKind.FEED,
        "run": f"R-{batch.split('-', maxsplit=1)[0]}",
        "material": material,
        "formula_version": {"SHEEP-GR": 3, "PIG-FIN": 7, "BROIL-M": 2}.get(material),
        "mass_mg": sum(draw.target_mg for draw in draws),
        "mixer": "MX1",
        "route": ("MX1", "SB1", "PL1", "FB1") if material == "SHEEP-GR" else ("MX1", "FB2"),
        "destination": "FB1" if material == "SHEEP-GR" else "FB2",
        "draws": tuple(draws),
        "dry_mix_s": 180.0,
        "wet_mix_s": 120.0 if any(draw.how == "metered" for draw in draws) else 0.0,
        "start_at": at("06:00"),
        "end_at": at("06:14"),
    }
    return Batch(**(values | changes))  # type: ignore[arg-type]


def _batches() -> tuple[Batch, ...]:
    flush_draw = a_draw(1, "BARLEY-GR", 400, from_place="G3")
    return (
        a_batch("4105-01", "BROIL-M", BROILER_DRAWS, start_at=at("06:05"), end_at=at("06:19")),
        a_batch("4106-01", "PIG-FIN", PIG_DRAWS, start_at=at("06:25"), end_at=at("06:39")),
        a_batch("4106-02", "PIG-FIN", PIG_DRAWS, start_at=at("06:39"), end_at=at("06:53")),
        a_batch("4107-01-flush", "BARLEY-GR", (flush_draw,), kind=BatchKind.FLUSH, run="R-4107",
                route=("MX1", "SB1", "PL1"), destination="FL1", start_at=at("07:40"),
                end_at=at("07:48"), reason=WHY,
                fate="To the flush bin FL1; goes into Pig Finisher 14 at most 2 % of a batch."),
        *(
            a_batch(f"4107-0{number}", "SHEEP-GR", SHEEP_DRAWS,
                    start_at=at(f"{7 + (48 + 15 * (number - 1)) // 60:02d}:"
                                f"{(48 + 15 * (number - 1)) % 60:02d}"),
                    end_at=at(f"{7 + (48 + 15 * number) // 60:02d}:"
                              f"{(48 + 15 * number) % 60:02d}"))
            for number in (1, 2, 3)
        ),
    )  # fmt: skip


def _runs() -> tuple[Run, ...]:
    def row(order: str, customer: str, product: str, pounds: float, start: str, ready: str,
            due: str, **more: object) -> Run:  # fmt: skip
        values: dict[str, object] = {
            "run": f"R-{order}", "order": order, "customer": customer, "product": product,
            "formula_version": 3, "mass_mg": lb(pounds), "pack": "bulk", "bags": 0,
            "batches": (f"{order}-01",), "finished_bin": "FB2", "packing_machine": "LO1",
            "start_at": at(start), "ready_at": at(ready), "due_at": at(due), "late_s": 0.0,
            "cost_cents100": 5_000_000, "price_cents100": 8_000_000,
        }  # fmt: skip
        return Run(**(values | more))  # type: ignore[arg-type]

    return (
        row("4105", "tollgate", "BROIL-M", 4000, "06:05", "07:10", "12:00"),
        row("4106", "stile", "PIG-FIN", 8000, "06:25", "08:00", "07:30", late_s=1800.0,
            batches=("4106-01", "4106-02")),
        row("4107", "harrow", "SHEEP-GR", 12000, "07:40", "11:30", "15:00", pack="bags", bags=240,
            batches=("4107-01", "4107-02", "4107-03"), finished_bin="FB1", packing_machine="SK1"),
    )  # fmt: skip


def _bars(batches: Sequence[Batch]) -> tuple[Bar, ...]:
    def bar(machine: str, kind: BarKind, about: str, label: str, start: str, end: str) -> Bar:
        return Bar(machine=machine, kind=kind, about=about, label=label, start_at=at(start),
                   end_at=at(end))  # fmt: skip

    mixing = tuple(
        Bar(
            machine=batch.mixer,
            kind=BarKind.FLUSH if batch.kind is BatchKind.FLUSH else BarKind.BATCH,
            about=batch.batch,
            label=batch.batch,
            start_at=batch.start_at,
            end_at=batch.end_at,
            reason=batch.reason,
        )
        for batch in batches
    )
    return (
        *mixing,
        bar("GR1", BarKind.GRIND, "G-CORN-1", "corn to G1", "06:00", "06:55"),
        bar("MX1", BarKind.CLEAN_OUT, "4107-01-clean", "clean out", "06:55", "07:40"),
        bar("PL1", BarKind.CHANGEOVER, "R-4107", "die 4.0 mm", "07:30", "07:50"),
        bar("PL1", BarKind.RUN, "R-4107", "4107 Sheep Grower 16", "07:55", "09:40"),
        bar("LO1", BarKind.RUN, "R-4105", "4105 Broiler Grower", "06:40", "07:10"),
        bar("LO1", BarKind.RUN, "R-4106", "4106 Pig Finisher", "07:15", "08:00"),
        bar("SK1", BarKind.RUN, "R-4107", "4107 Sheep Grower 16", "09:50", "11:30"),
    )


def _costs(flush: int, late: int, flushes: int) -> Costs:
    return Costs(ingredients_cents100=32_415_000, flush_cents100=flush, changeover_cents100=450_000,
                 clean_out_cents100=600_000, late_cents100=late, flush_mg=lb(400 * flushes),
                 flushes=flushes, clean_outs=1, changeover_s=1200.0)  # fmt: skip


def a_plan(**changes: object) -> Plan:
    """Three runs: a medicated mash, a pig feed rich in copper, then a sheep feed after a flush."""
    batches = _batches()
    values: dict[str, object] = {
        "plan": "P-2026-11-25-3f9a1c",
        "day": DAY,
        "made_at": at("05:12"),
        "revision": 12,
        "position": 1874,
        "head": HEAD,
        "seed": 0,
        "status": "proposed",
        "runs": _runs(),
        "batches": batches,
        "clean_outs": (
            CleanOut(clean_out="4107-01-clean", before_batch="4107-01-flush",
                     places=("MX1", "SB1", "MX1>SB1"), start_at=at("06:55"), end_at=at("07:40"),
                     reason="Sheep feed after pig feed with 150 mg/kg copper and after monensin."),
        ),
        "grinding": (
            GrindJob(job="G-CORN-1", machine="GR1", ingredient="CORN", makes="CORN-GR",
                     from_place="B1", to_place="G1", mass_in_mg=lb(15000), mass_out_mg=lb(14925),
                     start_at=at("06:00"), end_at=at("06:55")),
        ),
        "bars": _bars(batches),
        "left_out": (
            LeftOut(order="4110", product="BROIL-M", mass_mg=lb(8000), because="stock",
                    text="Monensin on stock is enough for one batch; the order needs two."),
        ),
        "starting": (),
        "costs": _costs(flush=900_000, late=125_000, flushes=1),
        "as_orders_came": _costs(flush=3_600_000, late=2_410_000, flushes=4),
    }  # fmt: skip
    return Plan(**(values | changes))  # type: ignore[arg-type]


def an_order(order: str = "4107", note: str = "Ring before loading.") -> Order:
    """The order of the sheep feed, with a note for the mill."""
    return Order(order=order, customer="harrow", product="SHEEP-GR", mass_kg=5443.0, pack="bags",
                 entered_at=at("05:00"), due_at=at("15:00"), note=note)  # fmt: skip
