"""The papers of a plan as files in the mill's folder, printed again when the plan is released."""

from pathlib import Path

from bedstone.desk.orders import all_orders
from bedstone.desk.plans import find_plan
from bedstone.desk.pre_acts import gate_words
from bedstone.desk.record import Record
from bedstone.desk.revisions import revision_mill
from bedstone.mill.plan import Plan
from bedstone.papers.sheets import batch_sheets, day_sheet

__all__ = ["papers_anew", "write_papers"]


def write_papers(folder: Path, record: Record, plan: Plan) -> list[Path]:
    """Write day sheet and batch sheets of a plan into ``folder``/PLAN, as the plan stands now."""
    mill, head = revision_mill(record, plan.revision), record.head()
    orders = tuple(standing.order for standing in all_orders(record))
    papers = {"day-sheet.pdf": day_sheet(plan, mill, head=head, orders=orders)}
    if plan.batches:
        standing = find_plan(record, plan.plan)
        gates = gate_words(record, mill, plan.batches)
        papers["batch-sheets.pdf"] = batch_sheets(
            plan, mill, head=head, standing=standing, gates=gates
        )
    own = folder / plan.plan
    own.mkdir(parents=True, exist_ok=True)
    for name, pdf in papers.items():
        (own / name).write_bytes(pdf)
    return [own / name for name in papers]


def papers_anew(folder: Path, record: Record, plan: Plan) -> list[Path]:
    """Print a plan's papers again if some lie in the folder: what lies there says, proposed."""
    return write_papers(folder, record, plan) if (folder / plan.plan).is_dir() else []
