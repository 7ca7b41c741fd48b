"""Papers of instruments: the certificate of a proof, the report of a month."""

import datetime as dt
from collections.abc import Sequence
from fractions import Fraction

from bedstone.desk.catches import FEWEST_CATCHES, judge_proof
from bedstone.desk.proof_standing import next_proof
from bedstone.desk.proofs import Proof, proofs
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.watch import Watched, watch
from bedstone.desk.watch_suspects import Suspect
from bedstone.desk.watch_words import kept_words, size_words, smallest_words
from bedstone.errors import Unknown
from bedstone.mill.model import Meter, Mill
from bedstone.mill.tolerances import (
    METER_SOURCE,
    SCALE_SOURCE,
    meter_tolerance_mg,
    scale_tolerance_mg,
)
from bedstone.papers.render import Printed, pdf
from bedstone.quantities.masses import shown_mass
from bedstone.quantities.units import LB_KG

__all__ = ["instrument_report", "proof_certificate"]

MG_KG, FINEST = 1_000_000, 10_000

PCT = 100.0
CAUTION = (
    "A mill's own proof, by its own weights. Where goods are sold by weight, local weights-and-measures "
    "codes and the official inspector stand above this paper."
)


def proof_certificate(record: Record, instrument: str, position: int) -> bytes:
    """The certificate of one proof as PDF.

    Raises
    ------
    Unknown
        If no proof of the instrument stands at this place of the journal.
    """
    proof = next((row for row in proofs(record, instrument) if row.position == position), None)
    if proof is None:
        raise Unknown(f"No proof is recorded at {position}.", do="see the page of the instrument")
    mill = current_mill(record)
    tool = mill.meter_by_code.get(proof.instrument) or mill.scale_by_code.get(proof.instrument)
    rows = [_point(mill, proof, index) for index in range(len(proof.points))]
    is_right = all(row[-1] == "within" for row in rows)
    last = "all known masses within tolerance" if is_right else "NOT within tolerance as found"
    return _paper(
        mill,
        title=f"Proof of {proof.instrument}",
        at=proof.proved_at,
        lines=[
            ("Instrument", f"{proof.instrument} {tool.name if tool else ''}".strip()),
            ("How", proof.kind),
            ("Division", _mass(mill, proof.division_mg, proof.division_mg)),
            ("Tolerance by", METER_SOURCE if isinstance(tool, Meter) else SCALE_SOURCE),
            *_repeats(mill, proof),
            ("Adjusted", "yes" if proof.adjusted else "no"),
            ("Factor before, after", f"{proof.factor_before:g}, {proof.factor_after:g}"),
            (
                "Next proof",
                next_proof(mill, proof.instrument, proved_at=proof.proved_at).words(mill)
                + "; sooner after a failure of power",
            ),
            ("Note", proof.note or "none"),
        ],
        columns=("Known mass", "Read", "Error", "Allowed, each way", "As found"),
        rows=rows,
        note=f"As found: {last}.",
        signed=f"Proved by {_person(mill, proof.by)}",
        foot=f"Journal {proof.position}",
    )


def _repeats(mill: Mill, proof: Proof) -> list[tuple[str, str]]:
    """How well the catches of a meter agree, widest less narrowest; nothing for a scale."""
    if proof.instrument not in mill.meter_by_code:
        return []
    if len(proof.points) < FEWEST_CATCHES or not all(row.seen_mg for row in proof.points):
        return [("Repeats within", "not known from so few catches")]
    judged = judge_proof(mill, proof.instrument, proof.points)
    within = judged.repeats_within_frac or 0.0
    return [
        (
            "Repeats within",
            f"{PCT * within:.2f} %, widest less narrowest of {len(proof.points)} catches",
        ),
        ("Factor found", f"{judged.factor:.4f}, give or take {judged.factor_sd or 0.0:.4f}"),
    ]


def _point(mill: Mill, proof: Proof, index: int) -> tuple[str, ...]:
    point = proof.points[index]
    meter = mill.meter_by_code.get(proof.instrument)
    allowed = (
        meter_tolerance_mg(point.reference_mg, proof.division_mg, sd_frac=meter.sd_frac)
        if meter
        else scale_tolerance_mg(point.reference_mg, proof.division_mg)
    )
    off = point.seen_mg - point.reference_mg
    return (
        _mass(mill, point.reference_mg, proof.division_mg),
        _mass(mill, point.seen_mg, proof.division_mg),
        ("+" if off >= 0 else "-") + _mass(mill, abs(off), proof.division_mg),
        _mass(mill, allowed, proof.division_mg),
        "within" if abs(off) <= allowed else "beyond",
    )


def instrument_report(record: Record, month: dt.date, *, at: dt.datetime) -> bytes:
    """The report of a month as PDF: each scale and meter with its proofs and how it stands now."""
    mill = current_mill(record)
    zone = mill.settings.zone
    first = dt.datetime.combine(month.replace(day=1), dt.time(0), zone)
    last = (first + dt.timedelta(days=32)).replace(day=1)
    watched = watch(record, at=at)
    done = [row for row in proofs(record) if first <= row.proved_at < last]
    rows = [_standing(mill, watched, code, done) for code in _codes(mill)]
    return _paper(
        mill,
        title=f"Instruments, {first:%B %Y}",
        at=at,
        lines=[
            ("Proofs in the month", str(len(done))),
            *_found(mill, watched),
            (
                "Not proved or due",
                ", ".join(row.instrument for row in watched.proofs if row.is_due) or "none",
            ),
        ],
        columns=(
            "Instrument",
            "Proofs",
            "Last proof",
            "Its error",
            "Allowed",
            "Smallest step seen",
            "State",
        ),
        rows=rows,
        note="",
        signed="Reported by",
        foot=f"Journal {record.head().position}",
    )


def _found(mill: Mill, watched: Watched) -> list[tuple[str, str]]:
    """What is wrong as of now, since when, what it touched, what to do."""
    found = [
        (
            f"Wrong: {row.about}",
            f"{row.name}: {row.kind}; {size_words(row, mill.settings.units)}. Since about "
            f"{_when(mill, row.power.to_at if row.power else row.begins_at)}. "
            + (_touched(row) + " " if row.runs else "")
            + " ".join(row.do),
        )
        for row in watched.suspects
    ]
    return found or [("Found wrong, as of now", "none")]


def _touched(row: Suspect) -> str:
    """How many lots, which lie here, and the guarantee that lost most."""
    levels = [(run.run, level) for run in row.runs for level in run.levels]
    here = [run.run for run in row.runs if run.lies_here_kg > 0]
    said = f"{len(row.runs)} runs touched, here still: {', '.join(here) or 'none'}."
    if levels:
        run, worst = max(
            levels, key=lambda pair: pair[1].odds_booked_frac - pair[1].odds_likely_frac
        )
        said += (
            f" Worst: {worst.nutrient} of {run} likely {worst.likely:.4g} {worst.unit}, booked "
            f"{worst.booked:.4g}, {kept_words(worst.odds_likely_frac, worst.odds_booked_frac)}."
        )
    return said


def _codes(mill: Mill) -> tuple[str, ...]:
    return (*mill.scale_by_code, *mill.meter_by_code)


def _standing(mill: Mill, watched: Watched, code: str, done: Sequence[Proof]) -> tuple[str, ...]:
    row = next(one for one in watched.proofs if one.instrument == code)
    seen = smallest_words(watched.smallest.get(code), mill.settings.units)
    is_wrong = any(one.about == code for one in watched.suspects)
    state = "WRONG" if is_wrong else (f"prove it: {row.why}" if row.is_due else "as it should be")
    return (
        code,
        str(sum(one.instrument == code for one in done)),
        _when(mill, row.last.proved_at) if row.last else "never",
        "" if row.off_frac is None else f"{PCT * row.off_frac:.2f} %",
        "" if row.allowed_frac is None else f"{PCT * row.allowed_frac:.2f} %",
        seen,
        state,
    )


def _paper(
    mill: Mill,
    *,
    title: str,
    at: dt.datetime,
    lines: Sequence[tuple[str, str]],
    columns: Sequence[str],
    rows: Sequence[Sequence[str]],
    note: str,
    signed: str,
    foot: str,
) -> bytes:
    data: dict[str, Printed] = {
        "paper": "us-letter" if mill.settings.units == "US" else "a4",
        "title": title,
        "mill": mill.settings.name,
        "place": mill.settings.place,
        "made_at": list(at.astimezone(dt.UTC).timetuple()[:6]),
        "when": _when(mill, at),
        "lines": [list(line) for line in lines],
        "columns": list(columns),
        "rows": [list(row) for row in rows],
        "note": note,
        "caution": CAUTION,
        "signed": signed,
        "foot": foot,
    }
    return pdf("instrument", data)


def _when(mill: Mill, at: dt.datetime) -> str:
    local = at.astimezone(mill.settings.zone)
    return f"{local:%a} {local.day} {local:%b %Y, %H:%M}"


def _mass(mill: Mill, mass_mg: int, division_mg: int) -> str:
    """A mass to a tenth of the instrument's division, which is a round number of the mill's unit."""
    unit_kg = LB_KG if mill.settings.units == "US" else Fraction(1)
    division = (Fraction(division_mg, MG_KG) / unit_kg).limit_denominator(FINEST)
    return shown_mass(
        mass_mg, units=mill.settings.units, division_kg=float(division / 10 * unit_kg)
    )


def _person(mill: Mill, code: str) -> str:
    return mill.person_by_code[code].name if code in mill.person_by_code else code
