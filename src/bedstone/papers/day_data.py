"""What the day sheet says, in words and the mill's units."""

from collections.abc import Sequence

from bedstone.mill.model import Order
from bedstone.mill.plan import BECAUSE, Batch, BatchKind, Costs, Run, Verdict
from bedstone.papers.pictures import bars_svg
from bedstone.papers.printing import Printing
from bedstone.papers.render import Printed
from bedstone.papers.words import clock_words, day_words, money_words
from bedstone.quantities.times import shown_minutes, shown_span

__all__ = ["day_data"]

PICTURE_PX = 1000.0


def day_data(printing: Printing, orders: Sequence[Order]) -> dict[str, Printed]:
    """What the day sheet says.

    Parameters
    ----------
    printing : Printing
        Plan, mill and journal.
    orders : sequence of Order
        The orders, for their notes.

    Returns
    -------
    data : dict of str to plain values
        For the template ``day_sheet``.
    """
    plan, mill = printing.plan, printing.mill
    notes = {order.order: order.note for order in orders if order.note}
    return printing.document(f"day sheet {plan.day.isoformat()}") | {
        "mill": mill.settings.name,
        "place": mill.settings.place,
        "day": day_words(plan.day),
        "plan": plan.plan,
        "made": f"{clock_words(plan.made_at, mill, day=plan.day)}",
        "foot": printing.foot(),
        "journal": printing.journal,
        "head": " ".join(printing.head[at : at + 8] for at in range(0, len(printing.head), 8)),
        "figures": _figures(printing),
        "bars": bars_svg(plan, mill, width_px=PICTURE_PX) if plan.bars else "",
        "runs": [
            _run(printing, run, notes) for run in sorted(plan.runs, key=lambda run: run.start_at)
        ],
        "stops": _between(printing),
        "grinding": _grinding(printing),
        "left_out": [
            [
                row.order,
                mill.name_of(row.product),
                printing.mass(row.mass_mg),
                BECAUSE[row.because],
                row.text,
            ]
            for row in plan.left_out
        ],
        "findings": [
            [item.about, item.text, item.do]
            for item in (*plan.findings, *(row for run in plan.runs for row in run.findings))
            if item.verdict is Verdict.ACT
        ],
        "costs": _costs(printing),
    }


def _figures(printing: Printing) -> list[Printed]:
    """The day in a few figures."""
    plan = printing.plan
    feed = [batch for batch in plan.batches if batch.kind is BatchKind.FEED]
    late = sum(1 for run in plan.runs if run.late_s > 0)
    costs = plan.costs
    figures = [
        (str(len(plan.runs)), _word(len(plan.runs), "run")),
        (
            printing.mass(sum(batch.mass_mg for batch in feed)),
            f"feed in {len(feed)} {_word(len(feed), 'batch', 'batches')}",
        ),
        (
            str(costs.flushes),
            f"{_word(costs.flushes, 'flush', 'flushes')}, {printing.mass(costs.flush_mg)}",
        ),
        (str(costs.clean_outs), f"{_word(costs.clean_outs, 'clean-out')} by hand"),
        (str(late), f"{_word(late, 'run')} late"),
        (str(len(plan.left_out)), f"{_word(len(plan.left_out), 'order')} left out"),
    ]
    return [list(figure) for figure in figures]


def _word(count: int, one: str, many: str = "") -> str:
    """The word for one or for many."""
    return one if count == 1 else many or f"{one}s"


def _run(printing: Printing, run: Run, notes: dict[str, str]) -> dict[str, Printed]:
    """A row of the table of runs."""
    plan, mill = printing.plan, printing.mill
    batches = [row for row in plan.batches if row.run == run.run and row.kind is BatchKind.FEED]
    packed = f"{run.bags} bags" if run.pack == "bags" else run.pack
    machines = {bar.machine for bar in plan.bars if bar.about == run.run}
    lines = [row.machine for row in mill.machines if row.machine in machines]
    on = list(dict.fromkeys([*(row.mixer for row in batches), *lines]))
    if run.packing_machine and run.packing_machine not in on:
        on.append(run.packing_machine)
    due = "" if run.due_at is None else clock_words(run.due_at, mill, day=plan.day)
    return {
        "run": run.run,
        "product": mill.name_of(run.product),
        "order": f"{run.order}, {mill.name_of(run.customer)}" if run.order else "for stock",
        "note": notes.get(run.order, ""),
        "mass": printing.mass(run.mass_mg),
        "batches": f"{len(batches)}",
        "pack": packed,
        "start": clock_words(run.start_at, mill, day=plan.day),
        "ready": clock_words(run.ready_at, mill, day=plan.day),
        "due": due,
        "late": f"late by {shown_minutes(run.late_s)}" if run.late_s > 0 else "",
        "bin": run.finished_bin,
        "on": " → ".join(on),
    }


def _between(printing: Printing) -> list[Printed]:
    """Flushes and clean-outs in order of time, with their reasons."""
    plan, mill = printing.plan, printing.mill
    rows: list[tuple[object, list[Printed]]] = []
    for batch in plan.batches:
        if batch.kind is BatchKind.FLUSH:
            what = f"{printing.mass(batch.mass_mg)} {mill.name_of(batch.material)}"
            rows.append((batch.start_at, _stop(printing, batch, what)))
    for job in plan.clean_outs:
        when = clock_words(job.start_at, mill, day=plan.day)
        cells: list[Printed] = [
            when,
            "Clean-out",
            job.clean_out,
            f"{', '.join(job.places)}, before {job.before_batch}",
            job.reason,
            "",
        ]
        rows.append((job.start_at, cells))
    return [cells for _at, cells in sorted(rows, key=lambda row: str(row[0]))]


def _stop(printing: Printing, flush: Batch, what: str) -> list[Printed]:
    """A row for a flush."""
    fate = flush.fate or f"to {printing.mill.name_of(flush.destination)}"
    when = clock_words(flush.start_at, printing.mill, day=printing.plan.day)
    return [when, "Flush", flush.batch, what, flush.reason, fate]


def _grinding(printing: Printing) -> list[Printed]:
    """Grinding jobs in order of time."""
    plan, mill = printing.plan, printing.mill
    return [
        [
            clock_words(job.start_at, mill, day=plan.day),
            clock_words(job.end_at, mill, day=plan.day),
            job.job,
            f"{printing.mass(job.mass_in_mg)} {mill.name_of(job.ingredient)}",
            f"{job.from_place} → {job.machine} → {job.to_place}",
        ]
        for job in sorted(plan.grinding, key=lambda job: (job.start_at, job.job))
    ]


def _costs(printing: Printing) -> list[Printed]:
    """What the plan costs, beside the same orders in the order in which they came."""
    mine, theirs = printing.plan.costs, printing.plan.as_orders_came

    def cells(costs: Costs) -> list[str]:
        return [
            money_words(costs.ingredients_cents100),
            f"{money_words(costs.flush_cents100)} ({printing.mass(costs.flush_mg)})",
            f"{money_words(costs.changeover_cents100)} ({shown_span(costs.changeover_s)})",
            f"{money_words(costs.clean_out_cents100)} ({costs.clean_outs})",
            money_words(costs.late_cents100),
            money_words(costs.running_cents100),
        ]

    words = (
        "Ingredients",
        "Flushes",
        "Changeovers",
        "Clean-outs",
        "Lateness, weighed, paid to nobody",
        "What the order of running decides",
    )
    other = cells(theirs) if theirs is not None else [""] * len(words)
    rows: list[Printed] = [list(row) for row in zip(words, cells(mine), other, strict=True)]
    if theirs is not None:
        saved = theirs.running_cents100 - mine.running_cents100
        rows.append(["Saved by this order of running", money_words(saved), ""])
    return rows
