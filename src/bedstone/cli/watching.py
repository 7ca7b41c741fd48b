"""The command that watches instruments: watch."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedstone.cli.answer import print_json, print_table, table
from bedstone.cli.parts import Parts
from bedstone.cli.reach import directory_argument, json_option, open_mill
from bedstone.cli.words import clock_text, mass_text

if TYPE_CHECKING:
    from bedstone.desk.watch import Seen, Suspect, Watched
    from bedstone.desk.watch_lots import TouchedRun
    from bedstone.mill.model import Mill

__all__ = ["watch"]

PCT = 100.0
MG_KG = 1e6


@click.command(epilog="Example: bedstone watch demo-mill")
@directory_argument
@json_option
@click.pass_obj
def watch(parts: Parts, directory: Path, *, as_json: bool) -> None:
    """Hold every scale, meter and gauge against what else knows the truth.

    Says what is wrong beyond chance, since when, by how much, which lots it touched, where they
    are, and what to do now; then which instruments are not proved. A hold is proposed, never made:
    a named person decides.
    """
    from bedstone.desk.revisions import current_mill
    from bedstone.desk.watch import watch as watched

    record = open_mill(parts, directory)
    mill = current_mill(record)
    found = watched(record, at=parts.clock())
    if as_json:
        print_json(found)
        return
    for suspect in found.suspects:
        _say(mill, suspect)
    if not found.suspects:
        click.echo("No instrument stands out from what else is known.")
    _print_standings(mill, found)


def size_text(suspect: "Suspect") -> str:
    """How much too much flows, or a gauge shows."""
    if suspect.kind == "stuck reading":
        return "it shows the same though mass passed"
    if suspect.unit == "kg":
        return f"it shows {suspect.size:+,.0f} kg (plus or minus {2 * suspect.size_sd:,.0f})"
    a_day = " a day" if suspect.kind == "slow drift" else ""
    more = "more" if suspect.size > 0 else "less"
    return (
        f"{abs(PCT * suspect.size):.1f} % {more} flows than is read{a_day} "
        f"(plus or minus {2 * PCT * suspect.size_sd:.1f})"
    )


def _say(mill: "Mill", suspect: "Suspect") -> None:
    settings = mill.settings
    click.echo(f"{suspect.about} ({suspect.name}) is wrong: {suspect.kind}; {size_text(suspect)}.")
    click.echo(
        f"  Since about {clock_text(suspect.begins_at, settings)}; between "
        f"{clock_text(suspect.begins_lo_at, settings)} and "
        f"{clock_text(suspect.begins_hi_at, settings)} with 95 % likelihood."
    )
    if suspect.power:
        click.echo(
            f"  The power failed at {clock_text(suspect.power.from_at, settings)}, and it was not "
            "proved after that: taken as the beginning."
        )
    if suspect.alarm_at:
        click.echo(f"  Could be known from {clock_text(suspect.alarm_at, settings)}.")
    click.echo(f"  Witness: {', '.join(suspect.witnesses)}.")
    if suspect.rivals:
        click.echo(f"  Nearly as likely: {', '.join(suspect.rivals)}.")
    if suspect.runs:
        _print_runs(mill, suspect.runs)
    if suspect.hold:
        click.echo(f"  Proposed for hold (a person decides): {', '.join(suspect.hold)}")
    for step in suspect.do:
        click.echo(f"  To do: {step}")


def worst_words(run: "TouchedRun") -> str:
    """The guarantee that lost most: its level, and its odds before and now."""
    if not run.levels:
        return "no level known"
    worst = max(run.levels, key=lambda row: row.odds_booked_frac - row.odds_likely_frac)
    return (
        f"{worst.nutrient} {worst.likely:.2f} {worst.unit} (booked {worst.booked:.2f}): kept "
        f"{PCT * worst.odds_likely_frac:.0f} in 100, not {PCT * worst.odds_booked_frac:.0f}"
    )


def _print_runs(mill: "Mill", runs: "tuple[TouchedRun, ...]") -> None:
    made = table(
        f"{len(runs)} runs with draws over it",
        *("Run", "Product", "Batches", "Bags", "Too much", "Guarantee that lost most", "Where"),
        right=("Batches", "Bags", "Too much"),
    )
    for run in runs:
        more_kg = sum(row.likely_kg - row.read_kg for row in run.batches)
        where = "; ".join(
            f"{row.name or row.place} {mass_text(round(row.mass_kg * MG_KG), mill.settings)}"
            + ("" if row.sent_at is None else f", sent {clock_text(row.sent_at, mill.settings)}")
            for row in run.where
        )
        made.add_row(
            run.run,
            mill.name_of(run.product),
            str(len(run.batches)),
            str(run.bags or ""),
            mass_text(round(abs(more_kg) * MG_KG), mill.settings),
            worst_words(run),
            where or "not packed yet",
        )
    print_table(made)


def _print_standings(mill: "Mill", found: "Watched") -> None:
    made = table(
        "Scales and meters",
        *(
            "Instrument",
            "Last proof",
            "Its error",
            "Allowed",
            "Witness",
            "Smallest step seen",
            "State",
        ),
    )
    wrong = {row.about for row in found.suspects}
    for row in found.proofs:
        code = row.instrument
        seen = found.seen.get(code)
        state = (
            "WRONG" if code in wrong else ("PROVE: " + row.why if row.is_due else "as it should")
        )
        made.add_row(
            code,
            clock_text(row.last.proved_at, mill.settings) if row.last else "never",
            "" if row.off_frac is None else f"{PCT * row.off_frac:.2f} %",
            "" if row.allowed_frac is None else f"{PCT * row.allowed_frac:.2f} %",
            f"level of {seen.place}" if seen else "none on record",
            seen_words(seen),
            state,
        )
    print_table(made)


def seen_words(seen: "Seen | None") -> str:
    """What the arithmetic allows."""
    if seen is None or seen.smallest_frac is None:
        return "cannot be seen"
    steps = ", ".join(
        f"{PCT * size:.0f} % after {readings or 'over 1000'}"
        for size, readings in zip(seen.sizes, seen.readings, strict=True)
    )
    return f"{PCT * seen.smallest_frac:.1f} % in a month ({steps} readings)"
