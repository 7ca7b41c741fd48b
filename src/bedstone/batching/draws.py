"""Draws of a batch in weighing order, and of a day's batches out of one stock.

Masses: each part of the formula is a whole number of milligrams, adding up to the batch. Drugs,
hand additions and liquids are rounded to the nearest division of their own instrument. On each
batch scale the other parts are rounded so that their sum is the nearest to what it should be
(largest remainder). What is then still missing or too much goes to the biggest ingredient of the
batch, in whole divisions of its scale, so the total is right to half a division of that scale.

Order: batch scales first, the one with the most on it leading, largest first on each; micros,
drugs and hand additions once half of the dry mass is in; liquids last, after dry mixing (common
practice, no source).
"""

from collections.abc import Sequence
from dataclasses import dataclass

from bedstone.batching.instruments import Way, ways_to_draw
from bedstone.batching.model import (
    Arrival,
    BatchDraws,
    BatchToDraw,
    DayDraws,
    Layer,
    Stock,
    Taking,
)
from bedstone.batching.pieces import Piece, pieces_of
from bedstone.batching.shortage import nowhere, short, too_little, vanishes
from bedstone.batching.stock import add_layers, held_mg, share_out, take
from bedstone.mill.model import Mill
from bedstone.mill.plan import Draw, Finding, GrindJob, LotShare

__all__ = ["DayEvent", "draws_of_batch", "draws_of_day"]

DayEvent = BatchToDraw | GrindJob | Arrival | Taking


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """A part of the batch with its mass before and after rounding, and its ways."""

    ingredient: str
    exact_mg: int
    ways: tuple[Way, ...]
    is_small: bool  # micro or drug
    is_drug: bool
    is_liquid: bool

    @property
    def is_shared(self) -> bool:
        """True when it is rounded together with the others of its batch scale."""
        return self.ways[0].instrument.how == "weighed" and not self.is_drug


def draws_of_batch(mill: Mill, batch: BatchToDraw, *, stock: Stock) -> BatchDraws:
    """Draws of one batch in weighing order, with findings and the stock after it.

    When the book holds too little, the draw still has its whole target (the book may be wrong)
    and a finding says so.

    Parameters
    ----------
    mill : Mill
        The mill.
    batch : BatchToDraw
        What is made.
    stock : Stock
        What lies where when weighing begins.

    Returns
    -------
    draws : BatchDraws
        Draws, findings, and what lies where afterwards.
    """
    findings: list[Finding] = []
    lines = _lines(mill, batch, stock=stock, findings=findings)
    targets = _rounded(lines)
    pieces: list[Piece] = []
    for line, target_mg in zip(lines, targets, strict=True):
        if target_mg <= 0:
            findings.append(vanishes(mill, batch, line.ingredient, line.exact_mg))
            continue
        is_at_end = line.is_liquid or line.ways[0].instrument.how == "metered"
        made, missing_mg = pieces_of(line.ways, target_mg, ingredient=line.ingredient, stock=stock)
        if missing_mg > 0:
            findings.append(short(mill, batch, line.ingredient, missing_mg))
        kind = "liquid" if is_at_end else "small" if line.is_small else ""
        pieces.extend(piece.of_kind(kind) for piece in made)
    draws, after = _drawn(mill, _in_order(pieces), stock)
    return BatchDraws(batch=batch.batch, draws=draws, findings=tuple(findings), stock=after)


def _lines(mill: Mill, batch: BatchToDraw, *, stock: Stock, findings: list[Finding]) -> list[_Line]:
    """Parts that can be drawn; what cannot becomes a finding."""
    masses = share_out(batch.mass_mg, [part.parts_frac for part in batch.parts])
    lines: list[_Line] = []
    for part, exact_mg in zip(batch.parts, masses, strict=True):
        ways, is_trusted = ways_to_draw(
            mill, part.ingredient, mixer=batch.mixer, mass_mg=exact_mg, stock=stock
        )
        if not ways:
            findings.append(nowhere(mill, batch, part.ingredient, exact_mg))
            continue
        if not is_trusted:
            findings.append(too_little(mill, batch, part.ingredient, exact_mg, ways[0].instrument))
        row = mill.ingredient_by_code.get(part.ingredient)
        ingredient_class = "" if row is None else row.ingredient_class
        lines.append(
            _Line(
                ingredient=part.ingredient,
                exact_mg=exact_mg,
                ways=ways,
                is_small=ingredient_class in ("micro", "drug") or ways[0].instrument.how == "hand",
                is_drug=ingredient_class == "drug",
                is_liquid=ingredient_class == "liquid",
            )
        )
    return lines


def _rounded(lines: Sequence[_Line]) -> list[int]:
    """Targets on the divisions of the instruments, with the sum right (see the module)."""
    targets = [line.ways[0].instrument.rounded_mg(line.exact_mg) for line in lines]
    tools = {line.ways[0].instrument.code for line in lines if line.is_shared}
    for code in sorted(tools):
        on_it = [
            at
            for at, line in enumerate(lines)
            if line.is_shared and line.ways[0].instrument.code == code
        ]
        tool = lines[on_it[0]].ways[0].instrument
        exact = [lines[at].exact_mg for at in on_it]
        for at, steps in zip(on_it, share_out(tool.steps(sum(exact)), exact), strict=True):
            targets[at] = tool.mass_mg(steps)
    shared = [at for at, line in enumerate(lines) if line.is_shared]
    if shared:
        biggest = max(shared, key=lambda at: (lines[at].exact_mg, -at))
        missing_mg = sum(line.exact_mg for line in lines) - sum(targets)
        targets[biggest] = (
            lines[biggest].ways[0].instrument.rounded_mg(targets[biggest] + missing_mg)
        )
    return targets


def _in_order(pieces: Sequence[Piece]) -> list[Piece]:
    """Pieces in weighing order: half of the dry mass, what is small, the rest, liquids."""
    on_scale: dict[str, int] = {}
    of_ingredient: dict[tuple[str, str], int] = {}
    for piece in pieces:
        code = piece.instrument.code
        on_scale[code] = on_scale.get(code, 0) + piece.target_mg
        key = (code, piece.ingredient)
        of_ingredient[key] = of_ingredient.get(key, 0) + piece.target_mg

    def largest_first(piece: Piece) -> tuple[int, str, int, str]:
        code = piece.instrument.code
        whole_mg = of_ingredient[(code, piece.ingredient)]
        return (-on_scale[code], code, -whole_mg, piece.ingredient)

    dry = sorted((piece for piece in pieces if piece.kind == ""), key=largest_first)
    small = sorted((piece for piece in pieces if piece.kind == "small"), key=largest_first)
    liquid = sorted((piece for piece in pieces if piece.kind == "liquid"), key=largest_first)
    half_mg, in_mg, cut = sum(piece.target_mg for piece in dry) / 2, 0, 0
    while cut < len(dry) and in_mg < half_mg:
        in_mg += dry[cut].target_mg
        cut += 1
    while 0 < cut < len(dry) and dry[cut].ingredient == dry[cut - 1].ingredient:
        cut += 1  # parts of one ingredient are not torn apart
    return [*dry[:cut], *small, *dry[cut:], *liquid]


def _drawn(mill: Mill, pieces: Sequence[Piece], stock: Stock) -> tuple[tuple[Draw, ...], Stock]:
    """Draws with their lots, and the stock after them."""
    after = dict(stock)
    draws: list[Draw] = []
    for sequence, piece in enumerate(pieces, start=1):
        key = (piece.place, piece.ingredient)
        flow = mill.bin_by_code[piece.place].flow
        lots, after[key] = take(after.get(key, ()), piece.target_mg, flow=flow)
        row = mill.ingredient_by_code.get(piece.ingredient)
        draws.append(
            Draw(
                sequence=sequence,
                ingredient=piece.ingredient,
                from_place=piece.place,
                instrument=piece.instrument.code,
                how=piece.instrument.how,
                target_mg=piece.target_mg,
                tolerance_mg=piece.instrument.tolerance_mg(piece.target_mg),
                division_mg=piece.instrument.division_mg,
                lots=lots,
                caution="" if row is None else row.caution,
            )
        )
    return tuple(draws), after


def draws_of_day(mill: Mill, events: Sequence[DayEvent], *, stock: Stock) -> DayDraws:
    """Draws of each batch of a day out of one stock, in the order in which things happen.

    Parameters
    ----------
    mill : Mill
        The mill.
    events : sequence of BatchToDraw, GrindJob, Arrival or Taking
        In order of time. A grinding job takes grain and adds what it makes, lots kept; an
        arrival adds (feed made earlier, a load); a taking takes (packed, loaded out).
    stock : Stock
        What lies where before the first.

    Returns
    -------
    draws : DayDraws
        Draws by batch, findings, and what lies where at the end.
    """
    now: Stock = dict(stock)
    draws: dict[str, tuple[Draw, ...]] = {}
    findings: list[Finding] = []
    for event in events:
        match event:
            case BatchToDraw():
                drawn = draws_of_batch(mill, event, stock=now)
                draws[event.batch], now = drawn.draws, drawn.stock
                findings.extend(drawn.findings)
            case GrindJob():
                now, missing_mg = _ground(mill, event, now)
                if missing_mg > 0:
                    findings.append(short(mill, event, event.ingredient, missing_mg))
            case Arrival():
                key = (event.place, event.material)
                shares = [(event.lot, event.mass_mg)]
                layers = add_layers(now.get(key, ()), shares, since_at=event.at)
                now = {**now, key: layers}
            case Taking():
                now = _without(mill, event.place, material=event.material, mass=event, stock=now)[1]
    return DayDraws(draws=draws, findings=tuple(findings), stock=now)


def _without(
    mill: Mill, place: str, *, material: str, mass: Taking | int, stock: Stock
) -> tuple[tuple[LotShare, ...], Stock]:
    """What comes out of a place, and the stock without it."""
    mass_mg = mass if isinstance(mass, int) else mass.mass_mg
    row = mill.bin_by_code.get(place)
    layers: tuple[Layer, ...] = stock.get((place, material), ())
    shares, left = take(layers, mass_mg, flow="" if row is None else row.flow)
    return shares, {**stock, (place, material): left}


def _ground(mill: Mill, job: GrindJob, stock: Stock) -> tuple[Stock, int]:
    """The stock after a grinding job, and what the book had too little for it. [mg]"""
    held = held_mg(stock, job.from_place, material=job.ingredient)
    shares, after = _without(
        mill, job.from_place, material=job.ingredient, mass=job.mass_in_mg, stock=stock
    )
    known_mg = sum(share.mass_mg for share in shares)
    lots = [*(share.lot for share in shares), ""]
    weights = [*(share.mass_mg for share in shares), job.mass_in_mg - known_mg]
    made = share_out(job.mass_out_mg, [float(weight) for weight in weights])
    key = (job.to_place, job.makes)
    layers = add_layers(after.get(key, ()), list(zip(lots, made, strict=True)), since_at=job.end_at)
    return {**after, key: layers}, max(0, job.mass_in_mg - held)
