"""What a batch sheet, a flush sheet and a clean-out sheet say, in words and the mill's units."""

from itertools import groupby

from bedstone.batching.divisions import digits_on_scale, mass_on_scale
from bedstone.desk.mixer_fill import fill_of, unmet_fill
from bedstone.desk.pre_acts import expected_s
from bedstone.errors import NoAnswer, Unknown
from bedstone.mill.contents import contents_of, formula_contents
from bedstone.mill.model import Product
from bedstone.mill.plan import Batch, BatchKind, CleanOut, Draw, Run
from bedstone.papers.printing import Printing
from bedstone.papers.render import Printed, barcode
from bedstone.papers.words import (
    clock_words,
    day_words,
)
from bedstone.quantities.times import shown_span

__all__ = ["clean_out_sheet_data", "sheet_data"]

DEFERRAL = (
    "This sheet advises. The label, the nutritionist, the veterinarian and the local rules come "
    "first: where they say otherwise, stop and ask."
)
# 29 CFR 1910.147 (lock-out, tag-out) is cited from memory; 1910.272(g) on entry was seen.
LOCK_OUT = (
    "Before a cover is opened or a hand goes in: shut down, lock and tag out, and test that it "
    "will not start (29 CFR 1910.147). Bins are entered by permit only (29 CFR 1910.272)."
)
MOST_LOTS, MOST_LOTS_BY_HAND = 2, 4
TON_KG = 907.18474  # a short ton of 2000 lb
LIMIT_WORDS = {
    "procedure": "only after the flush or cleaning feed that its procedure asks for",
    "clean-out": "only on machines cleaned by hand since they last handled it",
    "never": "never on machines that have handled it",
}


def _run(printing: Printing, batch: Batch) -> Run | None:
    return next((run for run in printing.plan.runs if run.run == batch.run), None)


def _head(printing: Printing, code: str, sheet: str) -> dict[str, Printed]:
    """What stands on top of every sheet."""
    settings = printing.mill.settings
    bars = barcode(code)
    return {
        "id": code,
        "sheet": sheet,
        "released": printing.released(),
        "mill": settings.name,
        "place": settings.place,
        "day": day_words(printing.plan.day),
        "barcode": bars.svg,
        "barcode_mm": bars.width_mm,
        "is_square": bars.is_square,
        "foot": printing.foot(),
        "deferral": DEFERRAL,
    }


def sheet_data(printing: Printing, batch: Batch) -> dict[str, Printed]:
    """What the sheet of a batch or a flush says.

    Parameters
    ----------
    printing : Printing
        Plan, mill and journal.
    batch : Batch
        The batch or flush.

    Returns
    -------
    data : dict of str to plain values
        For the template ``batch_sheets``.
    """
    is_flush = batch.kind is BatchKind.FLUSH
    product = None if is_flush else printing.mill.product_by_code.get(batch.material)
    version = "" if batch.formula_version is None else f", formula version {batch.formula_version}"
    divisions = [draw.division_mg for draw in batch.draws]
    return _head(printing, batch.batch, "Flush sheet" if is_flush else "Batch sheet") | {
        "kind": batch.kind.value,
        "title": printing.mill.name_of(batch.material),
        "subtitle": f"{batch.material}{version}" if not is_flush else f"flush, {batch.material}",
        "facts": _facts(printing, batch),
        "before": _before(printing, batch),
        "after": _after(printing, batch),
        "reason": batch.reason,
        "fate": batch.fate,
        "cautions": _cautions(printing, batch, product),
        "limits": _limits(printing, product),
        "findings": [
            f"{item.text} {item.do[:1].upper()}{item.do[1:]}." if item.do else item.text
            for item in (*batch.findings, *unmet_fill(printing.mill, batch))
        ],
        "unit": "lb" if printing.units == "US" else "kg",
        "groups": _groups(printing, batch),
        "total": digits_on_scale(
            sum(draw.target_mg for draw in batch.draws),
            max(divisions, default=1_000_000),
            units=printing.units,
        ),
        "mixing": _mixing(batch),
        "goes": printing.way(batch.route)
        + ("" if batch.destination in batch.route else f", into {batch.destination}"),
        "destination": printing.named(batch.destination),
        "medicated": _medicated(printing, batch, product),
    }


def _facts(printing: Printing, batch: Batch) -> list[Printed]:
    """Label and value of what identifies the batch."""
    run = _run(printing, batch)
    plan = printing.plan
    facts: list[tuple[str, str]] = [
        ("Mass", printing.mass(sum(d.target_mg for d in batch.draws) or batch.mass_mg)),
        (
            "Weighing to mixer empty",
            printing.span(batch.start_at, batch.end_at),
        ),
        ("Mixer", printing.named(batch.mixer) + _full(printing, batch)),
    ]
    if run is not None:
        of = ""
        if batch.batch in run.batches:
            of = f", batch {run.batches.index(batch.batch) + 1} of {len(run.batches)}"
        facts.append(("Run (lot on the tag)", f"{run.run}{of}"))
        order = f"{run.order}, {printing.mill.name_of(run.customer)}" if run.order else "for stock"
        facts.append(("Order", order))
        due = "" if run.due_at is None else clock_words(run.due_at, printing.mill, day=plan.day)
        facts.append(("Due", due or "no set time"))
    return [list(fact) for fact in facts]


def _full(printing: Printing, batch: Batch) -> str:
    """How full the mixer gets by volume, where its volume is known."""
    fill = fill_of(printing.mill, batch)
    return "" if fill is None else f", {100 * fill.full_frac:.0f} % full by volume"


def _neighbours(printing: Printing, batch: Batch) -> tuple[Batch | None, Batch | None]:
    """What runs on the same mixer just before and just after."""
    on_mixer = [row for row in printing.plan.batches if row.mixer == batch.mixer]
    at = next(at for at, row in enumerate(on_mixer) if row.batch == batch.batch)
    before = on_mixer[at - 1] if at else None
    after = on_mixer[at + 1] if at + 1 < len(on_mixer) else None
    return before, after


def _cleaned_before(printing: Printing, batch_id: str) -> list[str]:
    """Cleaning by hand that must be done before a batch."""
    return [
        f"Clean out by hand {', '.join(job.places)} ({job.clean_out}): {job.reason}"
        for job in printing.plan.clean_outs
        if job.before_batch == batch_id
    ]


def _before(printing: Printing, batch: Batch) -> list[Printed]:
    """What must have been done before this batch."""
    before, _after_it = _neighbours(printing, batch)
    lines: list[Printed] = []
    if before is not None and before.kind is BatchKind.FLUSH:
        lines.append(_flush_words(printing, before))
    elif before is not None and batch.kind is BatchKind.FEED and before.run != batch.run:
        lines.append(f"{printing.mill.name_of(before.material)} ({before.batch}) ran before.")
    lines.extend(_cleaned_before(printing, batch.batch))
    return lines


def _after(printing: Printing, batch: Batch) -> list[Printed]:
    """What comes after this batch and must not be forgotten."""
    _before_it, after = _neighbours(printing, batch)
    if after is None:
        return []
    lines: list[Printed] = list(_cleaned_before(printing, after.batch))
    if after.kind is BatchKind.FLUSH:
        lines.append(_flush_words(printing, after))
    elif after.run != batch.run:
        lines.append(f"{printing.mill.name_of(after.material)} ({after.batch}) on {batch.mixer}.")
    return lines


def _flush_words(printing: Printing, flush: Batch) -> str:
    """A flush in one sentence, with its reason."""
    words = (
        f"Flush with {printing.mass(flush.mass_mg)} {printing.mill.name_of(flush.material)} "
        f"({flush.batch})"
    )
    return f"{words}: {flush.reason}" if flush.reason else f"{words}."


def _cautions(printing: Printing, batch: Batch, product: Product | None) -> list[Printed]:
    """Cautions of the product and of what is handled, each once."""
    found: dict[str, str] = {}
    if product is not None and product.caution:
        found[product.caution] = product.name
    for draw in batch.draws:
        if draw.caution:
            found.setdefault(draw.caution, printing.mill.name_of(draw.ingredient))
    return [[about, text] for text, about in found.items()]


def _limits(printing: Printing, product: Product | None) -> list[Printed]:
    """Limits of the product and of its species, each with its source and what can happen."""
    mill = printing.mill
    lines: list[Printed] = []
    for limit in mill.limits if product is not None else ():
        if product is None or limit.product not in {"", product.product}:
            continue
        if limit.species not in {"", product.species}:
            continue
        substance = mill.substance_by_code.get(limit.substance)
        name = limit.substance if substance is None else substance.name
        words = LIMIT_WORDS.get(limit.kind) or f"at most {limit.level_mg_kg:g} mg/kg in any sack"
        words = f"{words} ({limit.source})."
        if substance is not None and substance.caution:
            words += f" {substance.caution}"
        lines.append([name, words])
    return lines


def _groups(printing: Printing, batch: Batch) -> list[Printed]:
    """Draws in weighing order, those in a row on one instrument together."""
    groups: list[Printed] = []
    times_s = expected_s(printing.mill, batch)
    for (code, how), rows in groupby(batch.draws, key=lambda draw: (draw.instrument, draw.how)):
        draws = list(rows)
        division = mass_on_scale(draws[0].division_mg, draws[0].division_mg, units=printing.units)
        groups.append(
            {
                "how": how,
                "title": _instrument(printing, code, how),
                "detail": f"division {division}",
                "draws": [
                    _draw(printing, batch, draw)
                    | {"takes": shown_span(time_s) if (time_s := times_s[draw.sequence]) else ""}
                    for draw in draws
                ],
            }
        )
    return groups


def _instrument(printing: Printing, code: str, how: str) -> str:
    """An instrument by name and code."""
    scale = printing.mill.scale_by_code.get(code)
    meter = printing.mill.meter_by_code.get(code)
    name = scale.name if scale else meter.name if meter else ""
    named = f"{name} ({code})" if name else code
    return {"hand": f"By hand, {named}", "metered": f"Liquid, {named}"}.get(how, named)


def _draw(printing: Printing, batch: Batch, draw: Draw) -> dict[str, Printed]:
    """One row of the table of draws."""
    units, division = printing.units, draw.division_mg
    most = MOST_LOTS_BY_HAND if draw.how == "hand" else MOST_LOTS
    large = [share for share in draw.lots if 2 * share.mass_mg >= division] or list(draw.lots)
    lots: list[Printed] = [
        f"{share.lot} {digits_on_scale(share.mass_mg, division, units=units)}"
        for share in large[:most]
    ]
    if len(draw.lots) > len(lots):
        lots.append(f"and {len(draw.lots) - len(lots)} more")
    row = printing.mill.ingredient_by_code.get(draw.ingredient)
    return {
        "n": str(draw.sequence),
        "name": printing.mill.name_of(draw.ingredient),
        "code": draw.ingredient,
        "from": draw.from_place,
        "from_name": printing.mill.name_of(draw.from_place),
        "target": digits_on_scale(draw.target_mg, division, units=units),
        "tolerance": digits_on_scale(draw.tolerance_mg, division, units=units),
        "lots": lots,
        "gate": printing.gates.get((batch.batch, draw.sequence), ""),
        "is_drug": row is not None and row.ingredient_class == "drug",
        "how": draw.how,
    }


def _mixing(batch: Batch) -> dict[str, Printed]:
    """Mixing times in words."""
    return {
        "dry": shown_span(batch.dry_mix_s),
        "wet": shown_span(batch.wet_mix_s) if batch.wet_mix_s > 0 else "",
    }


def _medicated(
    printing: Printing, batch: Batch, product: Product | None
) -> dict[str, Printed] | None:
    """What a record of a medicated batch must hold beside the draws.

    Sources
    -------
    [1] 21 CFR 225.102: a master record with the drug level of the feed, approved and dated; a full
        history of the batch, the amounts of drugs used, the amount of feed made, and a check on
        the daily drug inventory; dated and signed.
    """
    mill = printing.mill
    drugs = [
        draw
        for draw in batch.draws
        if (row := mill.ingredient_by_code.get(draw.ingredient)) is not None
        and row.ingredient_class == "drug"
    ]
    if not drugs and (product is None or not product.medicated):
        return None
    return {
        "formula": f"{batch.material}, version {batch.formula_version}",
        "approved": _approved(printing, batch),
        "drugs": [
            {
                "name": printing.named(draw.ingredient),
                "target": mass_on_scale(draw.target_mg, draw.division_mg, units=printing.units),
                "lots": ", ".join(share.lot for share in draw.lots),
                "levels": _levels(printing, batch, draw.ingredient),
            }
            for draw in drugs
        ],
    }


def _approved(printing: Printing, batch: Batch) -> str:
    """Who approved the formula of a batch, and when."""
    for row in printing.mill.formulas:
        if (row.product, row.version) == (batch.material, batch.formula_version):
            person = printing.mill.person_by_code.get(row.approved_by)
            who = person.name if person else row.approved_by
            when = "" if row.approved_on is None else f", {day_words(row.approved_on)}"
            return f"{who}{when}" if who else "nobody"
    return "not in the tables"


def _levels(printing: Printing, batch: Batch, drug: str) -> str:
    """What the feed contains of each substance that a drug brings, by its formula."""
    mill = printing.mill
    try:
        feed = formula_contents(mill, batch.material, batch.formula_version or 0)
    except (NoAnswer, Unknown):
        return ""
    levels = []
    for substance in contents_of(mill, drug):
        row = mill.substance_by_code.get(substance)
        level_mg_kg = feed.get(substance, 0.0)
        words = f"{row.name if row else substance} {level_mg_kg:.3g} mg/kg"
        if printing.units == "US":
            words += f" ({level_mg_kg * TON_KG / 1000:.3g} g/ton)"
        levels.append(words)
    return ", ".join(levels)


def clean_out_sheet_data(printing: Printing, job: CleanOut) -> dict[str, Printed]:
    """What the sheet of a clean-out says.

    Parameters
    ----------
    printing : Printing
        Plan, mill and journal.
    job : CleanOut
        The clean-out.

    Returns
    -------
    data : dict of str to plain values
        For the template ``batch_sheets``.
    """
    times = printing.span(job.start_at, job.end_at)
    return _head(printing, job.clean_out, "Clean-out sheet") | {
        "kind": "clean-out",
        "title": "Clean out by hand",
        "subtitle": f"before {job.before_batch}",
        "facts": [["Planned", times], ["Before", job.before_batch]],
        "reason": job.reason,
        "places": [_place(printing, place) for place in job.places],
        "cautions": [["Machines and bins", LOCK_OUT]],
    }


def _place(printing: Printing, place: str) -> str:
    """A place to clean in words; a way between two places reads as one."""
    start, way, end = place.partition(">")
    if way:
        return f"conveyor from {printing.mill.name_of(start)} to {printing.mill.name_of(end)}"
    return printing.named(place)
