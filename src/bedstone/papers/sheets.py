"""The papers of a day: batch sheets, flush and clean-out sheets, the day sheet."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from difflib import get_close_matches

from bedstone.desk.plans import PlanStanding
from bedstone.desk.record import Head
from bedstone.errors import Refused, Unknown
from bedstone.mill.model import Mill, Order
from bedstone.mill.plan import Plan, Verdict
from bedstone.papers.day_data import day_data
from bedstone.papers.printing import Printing
from bedstone.papers.render import Printed, pdf
from bedstone.papers.sheet_data import clean_out_sheet_data, sheet_data

__all__ = ["batch_sheet", "batch_sheets", "day_sheet"]


def batch_sheet(
    plan: Plan,
    batch_id: str,
    mill: Mill,
    *,
    head: Head | str,
    standing: PlanStanding | None = None,
    gates: Mapping[tuple[str, int], str] | None = None,
) -> bytes:
    """The sheet of one batch, flush or clean-out as PDF.

    Parameters
    ----------
    plan : Plan
        The plan that it belongs to.
    batch_id : str
        Its id.
    mill : Mill
        The mill, as of the plan's revision.
    head : Head or str
        End of the journal when it is printed; a hash alone is printed without its position.
    standing : PlanStanding, optional
        Where the plan stands: without it the sheets say that it is proposed, not released.
    gates : mapping, optional
        How gates land, in words, by batch and number of the draw.

    Returns
    -------
    pdf : bytes
        PDF/A-2b, the same bytes for the same input.

    Raises
    ------
    Refused
        If the verifier rejects the plan.
    Unknown
        If the plan has no such batch.
    """
    printing = replace(_printing(plan, mill, head, standing), gates=gates or {})
    for batch in plan.batches:
        if batch.batch == batch_id:
            return _sheets_pdf(printing, [sheet_data(printing, batch)], batch_id)
    for job in plan.clean_outs:
        if job.clean_out == batch_id:
            return _sheets_pdf(printing, [clean_out_sheet_data(printing, job)], batch_id)
    ids = [batch.batch for batch in plan.batches] + [job.clean_out for job in plan.clean_outs]
    near = get_close_matches(batch_id, ids, n=3)
    raise Unknown(
        f"Plan {plan.plan} has no batch {batch_id!r}.",
        do=f"did you mean {', '.join(near)}?" if near else "see the day sheet",
    )


def batch_sheets(
    plan: Plan,
    mill: Mill,
    *,
    head: Head | str,
    standing: PlanStanding | None = None,
    gates: Mapping[tuple[str, int], str] | None = None,
) -> bytes:
    """The sheets of all batches, flushes and clean-outs of a plan in order of running, one PDF.

    Parameters
    ----------
    plan : Plan
        The plan.
    mill : Mill
        The mill, as of the plan's revision.
    head : Head or str
        End of the journal when it is printed; a hash alone is printed without its position.
    standing : PlanStanding, optional
        Where the plan stands: without it the sheets say that it is proposed, not released.
    gates : mapping, optional
        How gates land, in words, by batch and number of the draw.

    Returns
    -------
    pdf : bytes
        PDF/A-2b, the same bytes for the same input.

    Raises
    ------
    Refused
        If the verifier rejects the plan, or it has no batch.
    """
    printing = replace(_printing(plan, mill, head, standing), gates=gates or {})
    if not plan.batches:
        raise Refused(
            f"Plan {plan.plan} has no batch, so there is no sheet to print.",
            do="see the orders left out and why",
        )
    dated = [(job.start_at, 0, clean_out_sheet_data(printing, job)) for job in plan.clean_outs]
    dated += [(batch.start_at, 1, sheet_data(printing, batch)) for batch in plan.batches]
    in_order = [data for _at, _kind, data in sorted(dated, key=lambda row: row[:2])]
    return _sheets_pdf(printing, in_order, f"{plan.day.isoformat()}")


def day_sheet(plan: Plan, mill: Mill, *, head: Head | str, orders: Sequence[Order] = ()) -> bytes:
    """The day on paper: what runs when and where, what it costs, what is left out and why.

    Parameters
    ----------
    plan : Plan
        The plan.
    mill : Mill
        The mill, as of the plan's revision.
    head : Head or str
        End of the journal when it is printed; a hash alone is printed without its position.
    orders : sequence of Order
        The orders, for their notes.

    Returns
    -------
    pdf : bytes
        PDF/A-2b, the same bytes for the same input.

    Raises
    ------
    Refused
        If the verifier rejects the plan.
    """
    printing = _printing(plan, mill, head)
    return pdf("day_sheet", day_data(printing, tuple(orders)))


def _printing(
    plan: Plan, mill: Mill, head: Head | str, standing: PlanStanding | None = None
) -> Printing:
    """What all sheets share, once it is sure that the plan may be printed."""
    stops = [
        item
        for item in (*plan.findings, *(item for batch in plan.batches for item in batch.findings))
        if item.verdict is Verdict.STOP
    ]
    if plan.status == "refused" or stops:
        raise Refused(
            f"Plan {plan.plan} is rejected by the verifier, so nothing is printed of it.",
            seen=stops[0].text.rstrip(".") if stops else f"status {plan.status!r}",
            source=stops[0].source if stops else "",
            do="plan the day again, or take out what breaks the limit",
        )
    if isinstance(head, Head):
        position = head.position
        return Printing(plan=plan, mill=mill, head=head.head, position=position, standing=standing)
    return Printing(plan=plan, mill=mill, head=head, standing=standing)


def _sheets_pdf(printing: Printing, sheets: list[dict[str, Printed]], name: str) -> bytes:
    """Sheets as one PDF, on the paper that the mill's printers hold."""
    return pdf("batch_sheets", printing.document(f"sheets {name}") | {"sheets": sheets})
