"""The command that watches instruments: watch."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedstone.cli.answer import print_json, print_table, table
from bedstone.cli.parts import Parts
from bedstone.cli.reach import directory_argument, json_option, open_mill
from bedstone.cli.words import clock_text, mass_text

if TYPE_CHECKING:
    from bedstone.desk.watch import Watched
    from bedstone.desk.watch_lots import TouchedRun
    from bedstone.desk.watch_suspects import Suspect
    from bedstone.mill.model import Mill

__all__ = ["watch"]

PCT = 100.0
MG_KG = 1e6


@click.command(epilog="Example: bedstone watch demo-mill")
@directory_argument
@json_option
@click.pass_obj
def watch(parts: Parts, directory: Path, *, as_json: bool) -> None:
    """Hold every instrument against what else knows the truth.

    Scales, meters, gauges, bag scales, thermometers, gates, bins and mixers: against levels,
    deliveries, the laboratory, yield, bags weighed again, load cells and each other. Says what is wrong beyond chance, since when, by how much, which lots it touched, where they
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


def _say(mill: "Mill", suspect: "Suspect") -> None:
    settings = mill.settings
    from bedstone.desk.watch_words import size_words, witness_words

    said = size_words(suspect, settings.units)
    click.echo(f"{suspect.about} ({suspect.name}) is wrong: {suspect.kind}; {said}.")
    since_at = suspect.power.to_at if suspect.power else suspect.begins_at
    click.echo(
        f"  Since about {clock_text(since_at, settings)}; between "
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
    click.echo(f"  Witness: {witness_words(suspect.witnesses)}.")
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
    from bedstone.desk.watch_words import kept_words

    if not run.levels:
        return "no level known"
    worst = max(run.levels, key=lambda row: row.odds_booked_frac - row.odds_likely_frac)
    return (
        f"{worst.nutrient} {worst.likely:.4g} {worst.unit} (booked {worst.booked:.4g}): "
        f"{kept_words(worst.odds_likely_frac, worst.odds_booked_frac)}"
    )


def _print_runs(mill: "Mill", runs: "tuple[TouchedRun, ...]") -> None:
    made = table(
        f"{len(runs)} runs with draws over it",
        *("Run", "Product", "Batches", "Bags", "Off by", "Guarantee that lost most", "Where"),
        right=("Batches", "Bags", "Off by"),
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
    from bedstone.desk.watch_words import mixer_words, seen_words, smallest_words

    units = mill.settings.units
    made = table(
        "Scales and meters",
        *("Instrument", "Last proof", "Its error", "Allowed", "What can be seen", "State"),
    )
    wrong = {row.about for row in found.suspects}
    for row in found.proofs:
        code = row.instrument
        state = (
            "WRONG" if code in wrong else ("PROVE: " + row.why if row.is_due else "as it should")
        )
        alone = seen_words(found.seen.get(code))
        together = smallest_words(found.smallest.get(code), units)
        made.add_row(
            code,
            clock_text(row.last.proved_at, mill.settings) if row.last else "never",
            "" if row.off_frac is None else f"{PCT * row.off_frac:.2f} %",
            "" if row.allowed_frac is None else f"{PCT * row.allowed_frac:.2f} %",
            f"{together}; {alone}" if alone else together,
            state,
        )
    print_table(made)
    for mixer in found.mixers:
        state = "WRONG" if mixer.mixer in wrong else "as it should"
        click.echo(f"{mixer.mixer}: {state}; {mixer_words(mixer)}.")
    tools = {row.instrument for row in found.proofs}
    rest = [about for about in found.smallest if about not in tools]
    click.echo(
        f"Watched as well: {len(rest)} gauges, dials, bag scales, gates and bins "
        "(each with its smallest step: --json)."
    )
