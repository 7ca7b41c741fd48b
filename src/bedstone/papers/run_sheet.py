"""The run sheet of a pellet line: settings, what to watch, cautions, and room for readings."""

from bedstone.desk.record import Head
from bedstone.errors import Refused
from bedstone.mill.model import Mill
from bedstone.mill.plan import Plan
from bedstone.papers.printing import Printing
from bedstone.papers.render import barcode, pdf
from bedstone.papers.run_sheet_lines import (
    RunOnSheet,
    columns,
    facts,
    figures,
    start_and_stop_lines,
    state,
    times,
    watch,
)
from bedstone.papers.words import day_words

__all__ = ["RunOnSheet", "run_sheet"]

DEFERRAL = (
    "This sheet advises; its numbers are reckoned, not measured. Local codes, the makers of boiler and "
    "machines, the label, the nutritionist and the veterinarian come first: where they differ, stop and ask."
)
# 29 CFR 1910.147 (lock-out, tag-out) is cited from memory; 1910.272 on bins was seen.
CAUTIONS: tuple[tuple[str, str], ...] = (
    (
        "Steam, heat",
        (
            "Burns through gloves and clothes. Open valves slowly, drained first; stand aside. Sample with "
            "gloves into an insulated jug. Boiler, steam pipes, safety valves: licensed people only, under "
            "the local code."
        ),
    ),
    (
        "Moving",
        (
            "Die, rolls, knives, feeder and gate crush and cut. Never clear a choked die or reach past a "
            "guard while it can turn."
        ),
    ),
    (
        "Lock out",
        (
            "Before a cover is opened: shut down, close and lock steam and power, tag out, let it cool, and "
            "test that it will not start (29 CFR 1910.147). Bins are entered by permit only "
            "(29 CFR 1910.272)."
        ),
    ),
    (
        "Fire, mould",
        (
            "Hot or damp pellets sweat, mould and can heat up by themselves: do not send them to the bin. "
            "Burning smell: stop, call the fire service, open nothing."
        ),
    ),
)


def run_sheet(plan: Plan, mill: Mill, on: RunOnSheet, *, head: Head | str) -> bytes:
    """The run sheet as PDF.

    Parameters
    ----------
    plan : Plan
        The plan that the run belongs to.
    mill : Mill
        The mill, with the tables that the settings were reckoned from.
    on : RunOnSheet
        The run with its settings.
    head : Head or str
        End of the journal when it is printed.

    Returns
    -------
    pdf : bytes
        PDF/A-2b, the same bytes for the same input.

    Raises
    ------
    Refused
        If the plan was refused by the verifier.
    """
    if plan.status == "refused":
        raise Refused(
            f"Plan {plan.plan} is rejected by the verifier, so nothing is printed of it.",
            do="plan the day again",
        )
    at = head if isinstance(head, Head) else None
    printing = Printing(
        plan=plan,
        mill=mill,
        head=at.head if at is not None else str(head),
        position=at.position if at is not None else None,
    )
    bars = barcode(on.run.run)
    return pdf(
        "run_sheet",
        printing.document(f"run sheet {on.run.run}")
        | {
            "id": on.run.run,
            "mill": mill.settings.name,
            "place": mill.settings.place,
            "day": day_words(plan.day),
            "barcode": bars.svg,
            "barcode_mm": bars.width_mm,
            "is_square": bars.is_square,
            "product": mill.name_of(on.run.product),
            "line": printing.named(on.line),
            "facts": facts(printing, on),
            "figures": figures(printing, on),
            "watch": watch(printing, on),
            "cautions": [list(row) for row in CAUTIONS],
            "state": state(on),
            "columns": columns(printing),
            "times": times(printing, on),
            "start": start_and_stop_lines(printing, on),
            "foot": printing.foot(),
            "deferral": DEFERRAL,
        },
    )
