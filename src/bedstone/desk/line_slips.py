"""Readings of a run that cannot be true, said in words: a wrong dial, or another hour's air."""

from collections.abc import Iterator

from bedstone.desk.line_readings import LeftOut, RunRead, line_finding
from bedstone.mill.model import Mill
from bedstone.mill.plan import Finding, Verdict
from bedstone.quantities.line_figures import rise_words, temperature_words

__all__ = ["slip_findings"]

WHY = {
    "air": "colder than the air of its hour ({air}): air does not cool pellets so far",
    "die": "hotter than the run read ahead of the cooler ({air}): one of the dials is wrong",
    "boiling": "hotter than water boils at the mill's height ({air}): no steam heats mash so far",
}
DO = {
    "air": "look at the dial, at the number (a corrected one is typed at the same time) and at that "
    "hour's weather",
    "die": "until the dials are compared take the pellets for hot: read the bin's temperature from "
    "outside tonight and in the morning",
    "boiling": "look at the dial and its unit; a corrected number is typed at the same time",
}


def slip_findings(mill: Mill, read: RunRead) -> tuple[Finding, ...]:
    """What was left out of a run's means because it contradicts air, die or boiling water."""
    return tuple(
        _finding(mill, read, slips)
        for against in WHY
        if (slips := [one for one in read.left_out if one.against == against])
    )


def _finding(mill: Mill, read: RunRead, slips: list[LeftOut]) -> Finding:
    units, worst = mill.settings.units, max(slips, key=_off)
    quantity, against = worst.quantity, worst.against
    rest = len(read.rows.get(quantity, ()))
    left = "; ".join(_left(quantity, rest=rest))
    why = WHY[against].format(air=temperature_words(worst.against_c, units))
    return line_finding(
        f"line.slip_{against}",
        Verdict.ACT if against == "die" else Verdict.NOTE,
        read,
        f"{len(slips)} of {len(slips) + rest} readings of the {quantity} of {read.line} cannot be: "
        f"{temperature_words(worst.row.value, units)} is {rise_words(_off(worst), units)} {why}. "
        f"{left}.",
        (worst.row.value, worst.against_c, "C"),
        DO[against],
        rule="left out beyond what thermometers differ (common practice, no source)",
    )


def _left(quantity: str, *, rest: int) -> Iterator[str]:
    yield "Left out of the run's mean, its water and the cooler's calibration"
    if not rest:
        yield f"so that nothing is known of its {quantity}"


def _off(one: LeftOut) -> float:
    return abs(one.row.value - one.against_c)
