"""The summary of a plan on the terminal."""

import click

from bedstone.cli.answer import print_table, table
from bedstone.cli.words import MG_IN_KG, clock_text, counted, mass_text, money_text
from bedstone.mill.equipment import Settings
from bedstone.mill.model import Mill
from bedstone.mill.plan import (
    BECAUSE,
    Batch,
    BatchKind,
    CleanOut,
    Costs,
    Finding,
    Plan,
    Run,
    Verdict,
)
from bedstone.quantities.times import shown_minutes

__all__ = ["print_findings", "print_plan"]


def print_plan(plan: Plan, mill: Mill) -> None:
    """Print order of running, flushes and clean-outs with their reason, what is left out, costs."""
    settings = mill.settings
    click.echo(_headline(plan, settings))
    _print_running(plan, mill)
    _print_reasons(plan, settings)
    _print_left_out(plan, mill)
    _print_costs(plan)
    print_findings(
        [
            item
            for item in (*plan.findings, *(row for run in plan.runs for row in run.findings))
            if item.verdict in (Verdict.ACT, Verdict.STOP)
        ],
        title="To act on",
        settings=settings,
    )


def _headline(plan: Plan, settings: Settings) -> str:
    flushes = sum(batch.kind is BatchKind.FLUSH for batch in plan.batches)
    feed = len(plan.batches) - flushes
    orders = sum(bool(run.order) for run in plan.runs)
    parts = [
        counted(orders, "order") + (f" ({len(plan.left_out)} left out)" if plan.left_out else ""),
        counted(feed, "batch", "batches"),
        counted(flushes, "flush", "flushes"),
        counted(len(plan.clean_outs), "clean-out"),
    ]
    if plan.runs:
        ready = max(run.ready_at for run in plan.runs)
        parts.append(f"all ready {clock_text(ready, settings, day=plan.day)}")
    return (
        f"{settings.name}, {plan.day:%A} {plan.day.isoformat()}: plan {plan.plan}, {plan.status}\n"
        + ", ".join(parts)
        + f"; tables of revision {plan.revision}"
    )


def _print_running(plan: Plan, mill: Mill) -> None:
    settings = mill.settings
    made = table(
        "Order of running",
        *("Start", "What", "Product", "For", "Mass", "Batches", "Mixer", "Ready", "Due"),
        right=("Start", "Mass", "Batches", "Ready"),
    )
    batches = {batch.batch: batch for batch in plan.batches}
    rows = [(run.start_at, 2, _run_row(run, batches, mill, plan)) for run in plan.runs]
    rows += [
        (batch.start_at, 1, _flush_row(batch, mill, plan))
        for batch in plan.batches
        if batch.kind is BatchKind.FLUSH
    ]
    rows += [(clean.start_at, 0, _clean_row(clean, settings, plan)) for clean in plan.clean_outs]
    for _, _, row in sorted(rows, key=lambda item: (item[0], item[1])):
        made.add_row(*row)
    print_table(made)


def _run_row(run: Run, batches: dict[str, Batch], mill: Mill, plan: Plan) -> tuple[str, ...]:
    settings = mill.settings
    mixers = sorted({batches[code].mixer for code in run.batches if code in batches})
    due = clock_text(run.due_at, settings, day=plan.day) if run.due_at else "-"
    if run.late_s > 0:
        due += f", {shown_minutes(run.late_s)} late"
    return (
        clock_text(run.start_at, settings, day=plan.day),
        run.run,
        mill.name_of(run.product),
        mill.name_of(run.customer) if run.customer else "stock",
        mass_text(run.mass_mg, settings),
        str(len(run.batches)),
        " ".join(mixers),
        clock_text(run.ready_at, settings, day=plan.day),
        due,
    )


def _flush_row(batch: Batch, mill: Mill, plan: Plan) -> tuple[str, ...]:
    settings = mill.settings
    return (
        clock_text(batch.start_at, settings, day=plan.day),
        "flush",
        mill.name_of(batch.material),
        f"to {batch.destination}",
        mass_text(batch.mass_mg, settings),
        "",
        batch.mixer,
        clock_text(batch.end_at, settings, day=plan.day),
        "",
    )


def _clean_row(clean: CleanOut, settings: Settings, plan: Plan) -> tuple[str, ...]:
    return (
        clock_text(clean.start_at, settings, day=plan.day),
        "clean-out",
        f"{len(clean.places)} places by hand",
        "",
        "",
        "",
        "",
        clock_text(clean.end_at, settings, day=plan.day),
        "",
    )


def _print_reasons(plan: Plan, settings: Settings) -> None:
    reasons = [
        (batch.start_at, f"flush {batch.batch}", _told(batch))
        for batch in plan.batches
        if batch.kind is BatchKind.FLUSH
    ]
    reasons += [
        (clean.start_at, f"clean-out {clean.clean_out} ({', '.join(clean.places)})", clean.reason)
        for clean in plan.clean_outs
    ]
    if not reasons:
        return
    click.echo("Why")
    for start_at, what, reason in sorted(reasons):
        words = f"{clock_text(start_at, settings, day=plan.day)} {what}: {reason}"
        click.echo(click.wrap_text(words, width=106, initial_indent="  ", subsequent_indent="    "))
    click.echo()


def _told(batch: Batch) -> str:
    """Why a flush is there, and what becomes of it."""
    return f"{batch.reason.rstrip('.')}. Fate: {batch.fate}" if batch.fate else batch.reason


def _print_left_out(plan: Plan, mill: Mill) -> None:
    if not plan.left_out:
        return
    made = table("Left out", "Order", "Product", "Mass", "Reason", "In words", right=("Mass",))
    for left in plan.left_out:
        made.add_row(
            left.order,
            mill.name_of(left.product),
            mass_text(left.mass_mg, mill.settings),
            BECAUSE[left.because],
            left.text,
        )
    print_table(made)


def _cost_cells(costs: Costs) -> tuple[str, ...]:
    return (
        str(costs.flushes),
        money_text(costs.flush_cents100),
        money_text(costs.changeover_cents100),
        money_text(costs.clean_out_cents100),
        money_text(costs.late_cents100),
        money_text(costs.running_cents100),
    )


def _print_costs(plan: Plan) -> None:
    names = ("Flushes", "Flushing", "Changeovers", "Cleaning", "Lateness", "Together")
    made = table("What the order of running costs", "", *names, right=names)
    made.add_row("this plan", *_cost_cells(plan.costs))
    if plan.as_orders_came is not None:
        made.add_row("as the orders came", *_cost_cells(plan.as_orders_came))
    print_table(made)
    if plan.as_orders_came is not None:
        saved = plan.as_orders_came.running_cents100 - plan.costs.running_cents100
        click.echo(
            f"Ingredients {money_text(plan.costs.ingredients_cents100)}. Against running in the "
            f"order in which the orders came, this plan saves {money_text(saved)}."
        )
    if plan.costs.least_possible_cents100:
        click.echo(
            "No order of running of these runs can cost less than "
            f"{money_text(plan.costs.least_possible_cents100)}."
        )


def print_findings(
    findings: list[Finding], *, title: str, settings: Settings | None = None
) -> None:
    """Print findings with number, limit, where the limit comes from and what to do."""
    if not findings:
        return
    click.echo(title)
    for item in findings:
        words = f"{item.verdict.value.upper()} {item.about}: {item.text}"
        if item.value is not None and item.limit is not None:
            words += f" ({_against(item, settings)})"
        if item.source:
            words += f" Rule: {item.source}."
        if item.do:
            words += f" Do: {item.do}."
        click.echo(click.wrap_text(words, width=106, initial_indent="  ", subsequent_indent="    "))


def _against(item: Finding, settings: Settings | None) -> str:
    """A finding's number against its limit, masses in the mill's unit."""
    if item.value is None or item.limit is None:
        return ""
    if item.unit == "kg" and settings is not None:
        is_, limit = (
            mass_text(round(number * MG_IN_KG), settings) for number in (item.value, item.limit)
        )
        return f"{is_} against {limit}"
    if item.unit == "h":
        return f"{shown_minutes(item.value * 3600)} against {shown_minutes(item.limit * 3600)}"
    return f"{item.value:.4g} against {item.limit:.4g} {item.unit}"
