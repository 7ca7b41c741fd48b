"""Dies and rolls of the pellet lines: which were fitted when, and what was pelleted on them since."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from bedstone.desk.checks import MOST_MG, must_be_machine
from bedstone.desk.folding import folded
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.plain_values import iso, row_from_plain
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.desk.runs import RUN_PELLETED
from bedstone.desk.tables_then import TablesThen
from bedstone.errors import BadInput
from bedstone.ledger.model import Fact, Json, Recorded
from bedstone.mill.model import DieRow
from bedstone.pelleting.die import DieLife, die_life

__all__ = [
    "FITTED",
    "Fitting",
    "PelletedMass",
    "Wear",
    "fittings",
    "pelleted",
    "record_fitting",
    "wear",
]

FITTED = "pelleting.part_fitted/1"
PARTS = ("die", "rolls")
LONGEST_LIFE_MG = 2_000 * MOST_MG
MG_IN_T = 1e9
PACE_DAYS = 28


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """A die, or a set of rolls, put into a pellet line."""

    line: str
    part: str  # die or rolls
    die: str  # name as in the dies table; empty for rolls
    made_mg: int  # on it when it was fitted; nothing if new
    expected_mg: int | None  # how long one like it lasts, in feed made on it
    note: str
    fitted_at: dt.datetime
    by: str
    position: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PelletedMass:
    """Pellets that left a line at a time, by the ledger."""

    line: str
    run: str
    product: str
    made_at: dt.datetime
    mass_mg: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Wear:
    """How far a die or the rolls of a line are worn, by tonnes."""

    line: str
    part: str
    die: str
    fitted: Fitting | None  # None: what the tables say it had made when the record began
    since_mg: int  # pelleted since, by the ledger
    made_mg: int  # in all
    day_mg: int  # a day, over the last four weeks of the ledger
    days_left: float | None  # at that pace; None where nobody says how long one lasts, or it rests
    life: DieLife | None  # None where nobody says how long one lasts
    row: DieRow | None


def fittings(record: Record) -> tuple[Fitting, ...]:
    """What was fitted, in order of time."""

    def note(before: tuple[Fitting, ...], facts: Iterable[Recorded]) -> tuple[Fitting, ...]:
        return before + tuple(
            row_from_plain(
                Fitting,
                {
                    **item.fact.content,
                    "fitted_at": iso(item.fact.happened_at),
                    "by": item.fact.by,
                    "position": item.position,
                },
                where=f"fact {item.position}",
            )
            for item in facts
        )

    start: tuple[Fitting, ...] = ()
    found = folded(record, "wear parts", kinds=(FITTED,), start=start, fold=note)
    return tuple(sorted(found, key=lambda row: (row.fitted_at, row.position)))


def pelleted(record: Record) -> tuple[PelletedMass, ...]:
    """Pellets off the lines, fact by fact, in the order of the journal."""

    def note(
        before: tuple[PelletedMass, ...], facts: Iterable[Recorded]
    ) -> tuple[PelletedMass, ...]:
        return before + tuple(_off_the_line(item) for item in facts)

    start: tuple[PelletedMass, ...] = ()
    return folded(record, "pelleted masses", kinds=(RUN_PELLETED,), start=start, fold=note)


def _off_the_line(item: Recorded) -> PelletedMass:
    content = item.fact.content
    line, to_place = str(content["machine"]), str(content["to"])
    return PelletedMass(
        line=line,
        run=str(content["run"]),
        product=str(content["product"]),
        made_at=item.fact.happened_at,
        mass_mg=sum(
            row.mass_mg
            for row in item.fact.movements
            if (row.from_place, row.to_place) == (line, to_place)
        ),
    )


def record_fitting(
    record: Record,
    *,
    line: str,
    part: str,
    die: str = "",
    made_mg: int = 0,
    expected_mg: int | None = None,
    note: str = "",
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record that a die or rolls were put into a line.

    Asks: who may, a pellet line, a die of the tables for it or rolls, masses that can
    be. Records: ``pelleting.part_fitted/1``.
    """
    mill = current_mill(record)
    check(mill, by, "pelleting")
    must_be_machine(mill, line, kind="pellet line")
    known = [row.die for row in mill.dies if row.line == line]
    if part not in PARTS or (part == "die") != bool(die) or (die and die not in known):
        raise BadInput(
            "Say which die, or that it was the rolls.",
            seen=f"{part[:20]} {die[:40]}".strip() or "nothing",
            allowed=f"rolls, or a die of {line}: {', '.join(known) or 'none in the dies table'}",
            do="choose from the list, or add the die to dies.csv and run bedstone load",
        )
    if not 0 <= made_mg <= LONGEST_LIFE_MG or not 0 < (expected_mg or 1) <= LONGEST_LIFE_MG:
        raise BadInput(
            "The feed of a die or of rolls cannot be so much.",
            seen=f"{made_mg / MG_IN_T:g} t made, {(expected_mg or 0) / MG_IN_T:g} t expected",
            allowed=f"0 to {LONGEST_LIFE_MG / MG_IN_T:,.0f} t",
        )
    content: dict[str, Json] = {
        "line": line,
        "part": part,
        "die": die,
        "made_mg": made_mg,
        "expected_mg": expected_mg,
        "note": note.strip(),
    }
    fact = Fact(kind=FITTED, happened_at=at, by=by, content=content)
    return record.append(fact, recorded_at=at)


def wear(record: Record, line: str = "") -> tuple[Wear, ...]:
    """Every die of the tables, and the rolls of each line whose fitting is on record.

    What was made on a die since it was fitted is what the ledger has of pellets of the products
    that the tables gave it on its line when they were made; on rolls it is all that left the line.
    """
    mill, then = current_mill(record), TablesThen(record)
    put_in = fittings(record)
    made = tuple((one, _die_then(then, one)) for one in pelleted(record))
    found = [_die_wear(row, put_in, made) for row in mill.dies if line in ("", row.line)]
    rolls = {row.line: row for row in put_in if row.part == "rolls" and line in ("", row.line)}
    for fitted in rolls.values():
        mine = tuple(one for one, _ in made if one.line == fitted.line)
        found.append(_wear(fitted, None, mine))
    return tuple(sorted(found, key=lambda one: (one.line, one.part, one.die)))


def _die_then(then: TablesThen, one: PelletedMass) -> str:
    """The die that the tables gave a product when it was pelleted."""
    product = then.at(one.made_at).product_by_code.get(one.product)
    return "" if product is None else product.die


def _die_wear(
    row: DieRow, put_in: tuple[Fitting, ...], made: tuple[tuple[PelletedMass, str], ...]
) -> Wear:
    mine = [one for one in put_in if (one.line, one.die) == (row.line, row.die)]
    on_it = tuple(one for one, die in made if (one.line, die) == (row.line, row.die))
    return _wear(mine[-1] if mine else None, row, on_it)


def _pace(made: tuple[PelletedMass, ...]) -> int:
    """Pellets a day over the four weeks before the last of them."""
    if not made:
        return 0
    until = max(one.made_at for one in made)
    since = until - dt.timedelta(days=PACE_DAYS)
    return sum(one.mass_mg for one in made if one.made_at > since) // PACE_DAYS


def _wear(fitted: Fitting | None, row: DieRow | None, on_it: tuple[PelletedMass, ...]) -> Wear:
    since_mg = sum(
        one.mass_mg for one in on_it if fitted is None or one.made_at >= fitted.fitted_at
    )
    day_mg = _pace(on_it)
    before_mg = fitted.made_mg if fitted else round((row.made_kg if row else 0.0) * MG_IN_KG)
    expected_kg = row.expected_kg if row else None
    expected_mg = None if expected_kg is None else round(expected_kg * MG_IN_KG)
    price_usd = row.price_usd if row else 0.0
    if fitted is not None:
        expected_mg = fitted.expected_mg or expected_mg
    made_mg = before_mg + since_mg
    life = None
    if expected_mg is not None:
        life = die_life(made_mg / MG_IN_T, expected_mg / MG_IN_T, price_usd)
    return Wear(
        line=fitted.line if fitted else row.line if row else "",
        part=fitted.part if fitted else "die",
        die=row.die if row else "",
        fitted=fitted,
        since_mg=since_mg,
        made_mg=made_mg,
        day_mg=day_mg,
        days_left=life.left_t * MG_IN_T / day_mg if life is not None and day_mg else None,
        life=life,
        row=row,
    )
