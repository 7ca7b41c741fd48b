"""Answers about formulas as tables on the terminal."""

import math
from typing import TYPE_CHECKING

import click

from bedstone.cli.answer import print_table, table
from bedstone.cli.words import mass_text
from bedstone.formulation.answers import DemandKind, Side
from bedstone.formulation.joint_words import why_so_much
from bedstone.quantities.units import DIMENSIONS, from_si

if TYPE_CHECKING:
    from collections.abc import Sequence

    from bedstone.desk.formula_answer import Formulated
    from bedstone.desk.formula_week import FormulatedWeek
    from bedstone.formulation.answers import Clash, FormulaAnswer, LimitAnswer
    from bedstone.formulation.joint_model import JointAnswer
    from bedstone.formulation.rounding import RoundedDraw, RoundedFormula
    from bedstone.mill.model import Mill

__all__ = ["price_text", "print_formula", "print_formulas", "print_week"]

MG_T = 1e9
SHARES = {DemandKind.GROUP, DemandKind.SHARE, DemandKind.CHANGE, DemandKind.MOISTURE}


def price_text(usd_t: float | None, mill: "Mill", *, signed: bool = False) -> str:
    """A price of a ton in the mill's own unit; a dash where there is none."""
    if usd_t is None:
        return "-"
    unit = DIMENSIONS["usd_t"].written(mill.settings.units)
    value = float(from_si(usd_t, unit))
    return f"{value:+,.2f}" if signed else f"{value:,.2f}"


def _ton(mill: "Mill") -> str:
    return "ton" if mill.settings.units == "US" else "t"


def print_formulas(mill: "Mill", found: "Sequence[Formulated]") -> None:
    """Print a line for each product."""
    a_ton = f"USD/{_ton(mill)}"
    figures = (f"Cost, {a_ton}", f"Runs now, {a_ton}", f"Saves, {a_ton}")
    made = table(
        f"Cheapest formulas of {mill.settings.name}, USD a {_ton(mill)}",
        *("Product", "Name", *figures, "What it says"),
        right=figures,
    )
    for one in found:
        running = None if one.running is None else one.running.cost_usd_t
        cost = None if one.answer is None else one.answer.cost_usd_t
        made.add_row(
            one.asked.product,
            mill.name_of(one.asked.product),
            price_text(cost, mill),
            price_text(running, mill),
            price_text(one.saves_usd_t, mill),
            "nothing fits: ask for it alone" if one.answer is None else _binding(one.answer),
        )
    print_table(made)


def _binding(answer: "FormulaAnswer") -> str:
    names = [row.name for row in answer.limits if row.binding is not Side.NONE]
    return f"{len(names)} limits bind" if len(names) != 1 else f"{names[0]} binds"


def print_formula(mill: "Mill", found: "Formulated") -> None:
    """Print the answer of one product: parts, limits, what is not used, tag, notes."""
    name = mill.name_of(found.asked.product)
    if found.answer is None:
        if found.clash is not None:
            _print_clash(mill, name, found.clash)
        return
    answer = found.answer
    _print_parts(mill, name, found, answer)
    _print_limits(mill, answer)
    _print_outside(mill, found, answer)
    _print_tag(found)
    for line in (*answer.notes, *answer.assumed):
        click.echo(f"  {line}")
    if found.not_weighed:
        click.echo(f"  Not rounded to the scales: {found.not_weighed}.")
    if found.weighed is not None:
        _print_premix(mill, found.weighed)
    if found.weighed is not None and found.weighed.broken:
        names = {row.code or row.kind.value: row.name for row in found.weighed.limits}
        broken = ", ".join(names.get(code, code) for code in found.weighed.broken)
        click.echo(f"  Rounding to the scales breaks: {broken}.")


def _print_parts(mill: "Mill", name: str, found: "Formulated", answer: "FormulaAnswer") -> None:
    a_ton = f"USD/{_ton(mill)}"
    figures = ("Part", "Runs now", "One batch", f"Price, {a_ton}", f"Costs, {a_ton}")
    saves = found.saves_usd_t
    beside = (
        ""
        if saves is None or found.running is None
        else f"; version {found.running_version} runs at "
        f"{price_text(found.running.cost_usd_t, mill)}"
    )
    made = table(
        f"{name}: {price_text(answer.cost_usd_t, mill)} USD a {_ton(mill)}{beside}",
        *("Ingredient", *figures, f"Stays between, {a_ton}"),
        right=figures,
    )
    draws = {row.ingredient: row for row in found.weighed.draws} if found.weighed else {}
    rows = {row.code: row for row in found.asked.problem.ingredients}
    for row in sorted(answer.ingredients, key=lambda one: -one.share_frac):
        now = rows[row.code].current_frac or 0.0
        if row.share_frac <= 0 and now <= 0:
            continue
        draw, stays = draws.get(row.code), row.stays_usd_t
        made.add_row(
            rows[row.code].name,
            f"{row.share_frac * 100:.2f} %",
            f"{now * 100:.2f} %",
            "" if draw is None else _draw_text(draw, mill),
            price_text(row.price_usd_t, mill),
            price_text(row.cost_usd_t, mill),
            ""
            if stays is None or row.share_frac <= 0
            else "any"
            if stays.low is None and stays.high is None
            else f"{price_text(stays.low, mill)} .. {price_text(stays.high, mill)}",
        )
    print_table(made)


def _draw_text(draw: "RoundedDraw", mill: "Mill") -> str:
    """What is weighed of an ingredient for a batch, and whether by hand or in a premix."""
    how = " in premix" if draw.premix else " by hand" if draw.by_hand else ""
    return f"{mass_text(draw.mass_mg, mill.settings)}{how}"


def _print_premix(mill: "Mill", weighed: "RoundedFormula") -> None:
    """Print what is weighed together for several batches, since one batch takes too little of it."""
    if weighed.premix is None:
        return
    parts = ", ".join(
        f"{mass_text(mass_mg, mill.settings)} of {mill.name_of(code)}"
        for code, mass_mg in weighed.premix.parts_mg.items()
    )
    dose = mass_text(weighed.premix.dose_mg, mill.settings)
    click.echo(f"  Premix for {weighed.premix.batches} batches: {parts}; {dose} for each batch.")


def _number(row: "LimitAnswer", value: float | None) -> str:
    if value is None:
        return ""
    return f"{value * 100:.4g}" if row.kind in SHARES else f"{value:.4g}"


def _print_limits(mill: "Mill", answer: "FormulaAnswer") -> None:
    one_more = f"One more, USD/{_ton(mill)}"
    made = table(
        "Limits",
        *(
            "Limit",
            "Least",
            "Expected",
            "Most",
            "Unit",
            "Odds",
            "Binds",
            one_more,
            "True from .. to",
        ),
        right=("Least", "Expected", "Most", "Odds", one_more),
    )
    for row in answer.limits:
        odds = [value for value in (row.odds_min_frac, row.odds_max_frac) if value is not None]
        made.add_row(
            row.name + (" (dry matter)" if row.basis.value == "dry matter" else ""),
            _number(row, row.minimum),
            _number(row, row.expected),
            _number(row, row.maximum),
            "%" if row.kind in SHARES else row.unit,
            f"{min(odds) * 100:.1f} %" if odds and row.odds_asked_frac else "",
            {Side.MIN: "least", Side.MAX: "most"}.get(row.binding, ""),
            "" if row.binding is Side.NONE else price_text(_one_more(row), mill, signed=True),
            _true_range(row),
        )
    print_table(made)


def _true_range(row: "LimitAnswer") -> str:
    """Between which values of its limit a price holds; nothing where it holds at the point alone."""
    if row.binding is Side.NONE or (row.true_from is None and row.true_to is None):
        return ""
    return f"{_number(row, row.true_from) or '-'} .. {_number(row, row.true_to) or '-'}"


def _one_more(row: "LimitAnswer") -> float | None:
    """What one more of the shown unit costs: of a share, one per cent."""
    if row.marginal_usd_t is None:
        return None
    return row.marginal_usd_t / 100 if row.kind in SHARES else row.marginal_usd_t


def _print_outside(mill: "Mill", found: "Formulated", answer: "FormulaAnswer") -> None:
    """Print at which price what is not used would come in."""
    names = {row.code: row.name for row in found.asked.problem.ingredients}
    rows = [
        row for row in answer.ingredients if row.share_frac <= 0 and row.enters_usd_t is not None
    ]
    if not rows:
        return
    made = table(
        f"Not used, USD a {_ton(mill)}",
        *("Ingredient", "Price", "Comes in below"),
        right=("Price", "Comes in below"),
    )
    for row in rows:
        made.add_row(
            names[row.code], price_text(row.price_usd_t, mill), price_text(row.enters_usd_t, mill)
        )
    print_table(made)


def _print_tag(found: "Formulated") -> None:
    if not found.tag:
        return
    made = table(
        "The tag before an inspector's single sample, in the unit of the guarantee",
        *(
            "Guarantee",
            "Guaranteed",
            "Expected",
            "Spread",
            "Of a sample",
            "May miss by",
            "Lot keeps",
            "Passes",
        ),
        right=(
            "Guaranteed",
            "Expected",
            "Spread",
            "Of a sample",
            "May miss by",
            "Lot keeps",
            "Passes",
        ),
    )
    for row in found.tag:
        word = "at least" if row.side is Side.MIN else "at most"
        made.add_row(
            row.name,
            f"{word} {row.guarantee:g} {row.unit}",
            f"{row.expected:.4g}",
            "-" if row.sd is None else f"{row.sd:.2g}",
            f"{math.hypot(row.error.sampling_sd, row.error.assay_sd):.2g}",
            f"{row.deviation:.3g}" if row.deviation else "not named",
            "-" if row.keeps_frac is None else f"{row.keeps_frac * 100:.1f} %",
            "-" if row.passes_frac is None else f"{row.passes_frac * 100:.1f} %",
        )
    print_table(made)
    for name, source in {row.name: row.error.source for row in found.tag}.items():
        click.echo(f"  A sample of {name}: {source}.")
    click.echo(f"  Rule: {next((row.source for row in found.tag if row.deviation), 'none')}")


def _print_clash(mill: "Mill", name: str, clash: "Clash") -> None:
    click.echo(
        f"{name}: nothing fits. These contradict each other; any one that gives in is enough:"
    )
    ways = {(row.demand.kind, row.demand.code, row.demand.side): row for row in clash.alone}
    for demand in clash.demands:
        way = ways.get((demand.kind, demand.code, demand.side))
        click.echo(f"  - {demand.words}" + ("" if demand.may_give else " (never gives in)"))
        if way is not None and way.cost_usd_t is not None:
            click.echo(
                f"      {way.limit_words} would do: "
                f"{price_text(way.cost_usd_t, mill)} USD a {_ton(mill)}"
            )
    if clash.together:
        click.echo("The smallest way to give in:")
        for step in clash.together:
            click.echo(f"  - {step.demand.words}: {step.limit_words}")
        cost = price_text(clash.together_cost_usd_t, mill)
        click.echo(f"  That formula costs {cost} USD a {_ton(mill)}.")


def print_week(mill: "Mill", week: "FormulatedWeek") -> None:
    """Print a week's formulas: products, what they share, who gets what is scarce and why."""
    answer = week.answer
    a_ton = f"USD/{_ton(mill)}"
    figures = ("Mass", f"Cost, {a_ton}", f"The next, {a_ton}", f"Alone, {a_ton}")
    made = table(
        f"A week of {mill.settings.name}: ${answer.cost_usd:,.0f} of ingredients "
        f"(no week is below ${answer.bound_usd:,.0f})",
        *("Product", *figures),
        right=figures,
    )
    for product in answer.products:
        made.add_row(
            mill.name_of(product.product),
            _tonnes(product.mass_t, mill),
            price_text(product.cost_usd_t, mill),
            price_text(product.worth_usd_t, mill),
            price_text(week.alone_usd_t[product.product], mill),
        )
    print_table(made)
    _print_shared(mill, answer)
    for code, claims in week.claims.items():
        click.echo(f"Who gets {mill.name_of(code)}:")
        worth_usd_t = next(row.pay_at_most_usd_t for row in answer.materials if row.code == code)
        for claim in claims:
            why = why_so_much(
                claim.mass_t,
                last_usd_t=claim.last_usd_t,
                next_usd_t=claim.next_usd_t,
                worth_usd_t=worth_usd_t,
                said=lambda usd_t: f"{price_text(usd_t, mill)} USD a {_ton(mill)}",
            )
            click.echo(f"  - {mill.name_of(claim.product)}: {_tonnes(claim.mass_t, mill)}; {why}")
        for step in week.buying[code].steps:
            price = price_text(step.price_usd_t, mill)
            click.echo(
                f"  At {price} USD a {_ton(mill)} buy up to {_tonnes(step.up_to_t, mill)}; "
                f"it saves ${step.saves_usd:,.0f}."
            )
    for words, names in _same_notes(answer.notes).items():
        click.echo(f"  {', '.join(names)}: {words}." if names else f"  {words}.")


def _same_notes(notes: "Sequence[str]") -> dict[str, list[str]]:
    """Notes that say the same of several products, said once with all their names."""
    found: dict[str, list[str]] = {}
    for note in notes:
        name, colon, words = note.partition(": ")
        found.setdefault(words if colon else note, []).extend([name] if colon else [])
    return found


def _tonnes(mass_t: float, mill: "Mill") -> str:
    return mass_text(round(mass_t * MG_T), mill.settings)


def _print_shared(mill: "Mill", answer: "JointAnswer") -> None:
    figures = ("Used", "Left", f"Worth at most, USD/{_ton(mill)}")
    shared = table(
        "What they share",
        *("Ingredient", *figures, "Scarce", "From"),
        right=figures,
    )
    for row in answer.materials:
        taken = [offer.offer.name for offer in row.offers if offer.taken_t > 0]
        shared.add_row(
            row.name,
            _tonnes(row.used_t, mill),
            _tonnes(row.left_t, mill),
            price_text(row.pay_at_most_usd_t, mill),
            "scarce" if row.scarce else "",
            ", ".join(taken) or "the bins",
        )
    print_table(shared)
