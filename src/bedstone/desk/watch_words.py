"""What was found, and what can be found at all, in words; the same on pages, papers and screens."""

from bedstone.desk.watch_arithmetic import Seen, Smallest
from bedstone.desk.watch_gates import MixerWatched
from bedstone.desk.watch_kinds import LANDING, SHIFT, STUCK, WORN
from bedstone.desk.watch_suspects import Suspect, unit_of
from bedstone.quality.watch_levels import GAUGE, WRONG_BIN
from bedstone.quality.watch_samples import DRIFT, ZERO
from bedstone.quantities.masses import shown_mass

__all__ = [
    "kept_words",
    "mixer_words",
    "seen_words",
    "size_words",
    "smallest_words",
    "witness_words",
]

PCT, MG_KG, F_IN_K = 100.0, 1e6, 1.8


def _mass(kg: float, units: str) -> str:
    return shown_mass(round(abs(kg) * MG_KG), units=units)


def _dial(size: float, unit: str, units: str) -> str:
    """A difference of two readings."""
    if unit == "K":
        return f"{size * F_IN_K:.1f} °F" if units == "US" else f"{size:.1f} °C"
    return f"{PCT * size:.2f} points" if unit == "kg/kg" else f"{size:.3g} {unit}"


def size_words(row: Suspect, units: str) -> str:
    """What is wrong and by how much, for a mill of these units ("US" or "SI")."""
    more = "more" if row.size > 0 else "less"
    if row.kind == STUCK:
        return "it shows the same though it should not"
    if row.kind == WRONG_BIN:
        return f"what was called from {row.about} came out of {row.other}"
    if row.kind == WORN:
        return (
            f"samples differ by {PCT * row.size:.0f} % (coefficient of variation, counting aside)"
        )
    if row.kind in (SHIFT, GAUGE):
        is_mass = row.kind == GAUGE
        size, sd = abs(row.size), 2 * row.size_sd
        said = _mass(size, units) if is_mass else _dial(size, row.unit, units)
        give = _mass(sd, units) if is_mass else _dial(sd, row.unit, units)
        return f"it shows {said} too {'much' if row.size > 0 else 'little'}, plus or minus {give}"
    if row.unit in ("kg", "kg a draw"):
        each = {LANDING: "comes with each draw than before", ZERO: "goes with each draw than read"}
        what = each.get(row.kind, "went in than was read")
        give = f", plus or minus {_mass(2 * row.size_sd, units)}" if row.size_sd else ""
        return f"{_mass(row.size, units)} {more} {what}{give}"
    a_day = " a day" if row.kind == DRIFT else ""
    return (
        f"{PCT * abs(row.size):.1f} % {more} flows than is read{a_day}, plus or minus "
        f"{2 * PCT * row.size_sd:.1f}"
    )


def smallest_words(row: Smallest | None, units: str) -> str:
    """The smallest step that all witnesses together are expected to show in a month, or since the
    last proof if that is less.
    """
    if row is None:
        return "nothing on record witnesses it"
    unit = unit_of(row.about, row.kind)
    if row.kind == SHIFT:
        size = _dial(row.size, unit, units)
    elif unit in ("kg", "kg a draw"):
        size = _mass(row.size, units)
    else:
        size = f"{PCT * row.size:.1f} %" if row.size < 1 else "no error below all of it"
    return f"{size} in {row.days:.0f} days, by {witness_words(row.witnesses)}"


def witness_words(names: tuple[str, ...]) -> str:
    """Levels and laboratory results together, the others by name."""
    levels = [name.removeprefix("level of ") for name in names if name.startswith("level of ")]
    rest = [name for name in names if not name.startswith(("level of ", "laboratory: "))]
    rest = list(dict.fromkeys(name.split(": draws over")[0] for name in rest))
    said = []
    if levels:
        said.append(f"the level{'s' if len(levels) > 1 else ''} of {', '.join(levels)}")
    if any(name.startswith("laboratory: ") for name in names):
        said.append("the laboratory")
    return "; ".join([*said, *rest])


def seen_words(seen: Seen | None) -> str:
    """What a level alone can show: how many readings a step takes."""
    if seen is None:
        return ""
    steps = ", ".join(
        f"{PCT * size:.0f} % after {count}"
        for size, count in zip(seen.sizes, seen.readings, strict=True)
        if count is not None
    )
    least = "no step" if seen.smallest_frac is None else f"{PCT * seen.smallest_frac:.1f} %"
    return (
        f"the level of {seen.place} alone, read {seen.readings_a_day:.1f} times a day, shows "
        f"{least} in a month" + (f" ({steps} readings)" if steps else "")
    )


def mixer_words(row: MixerWatched) -> str:
    """What the tests of a mixer can show."""
    one, four = row.smallest_frac
    return (
        f"{row.tests} tests; the mixing itself taken as uneven by {PCT * row.usual_cv_frac:.0f} %, "
        f"besides what counting adds to a test's spread; wear to {PCT * one:.0f} % would show nine "
        f"times in ten in one test of {row.samples} samples, wear to {PCT * four:.0f} % in four tests"
    )


def _in_hundred(part_frac: float) -> str:
    """A part that is neither all nor nothing, however near it is."""
    if part_frac >= 0.995:  # noqa: PLR2004 - would be rounded to all of them
        return "over 99 in 100"
    return f"{PCT * part_frac:.0f} in 100" if part_frac >= 0.005 else "less than 1 in 100"  # noqa: PLR2004 - or to none


def kept_words(likely_frac: float, booked_frac: float) -> str:
    """With which odds a guarantee is kept, and with which by the books where that is another."""
    likely, booked = _in_hundred(likely_frac), _in_hundred(booked_frac)
    return f"kept {likely}" + ("" if likely == booked else f", by the books {booked}")
