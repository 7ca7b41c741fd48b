"""The papers of the house, made when a page asks for them."""

from bedstone.desk.orders import all_orders
from bedstone.desk.plan_now import refuse_unsafe
from bedstone.desk.record import Record
from bedstone.desk.revisions import revision_mill
from bedstone.mill.plan import Plan

__all__ = ["PapersOfTheHouse"]


class PapersOfTheHouse:
    """Sheets as PDF, as of the plan's own revision of the tables; refused where a batch would break
    a limit as it stands now.
    """

    def day_sheet(self, record: Record, plan: Plan) -> bytes:
        """The day sheet of a plan."""
        from bedstone.papers.sheets import day_sheet

        refuse_unsafe(record, plan)
        orders = tuple(row.order for row in all_orders(record))
        mill = revision_mill(record, plan.revision)
        return day_sheet(plan, mill, head=record.head(), orders=orders)

    def batch_sheets(self, record: Record, plan: Plan) -> bytes:
        """The sheets of all batches of a plan in one paper."""
        from bedstone.papers.sheets import batch_sheets

        refuse_unsafe(record, plan)
        return batch_sheets(plan, revision_mill(record, plan.revision), head=record.head())

    def batch_sheet(self, record: Record, plan: Plan, batch_id: str) -> bytes:
        """The sheet of one batch."""
        from bedstone.papers.sheets import batch_sheet

        refuse_unsafe(record, plan)
        mill = revision_mill(record, plan.revision)
        return batch_sheet(plan, batch_id, mill, head=record.head())
