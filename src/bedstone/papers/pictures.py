"""The day as bars on a time axis, one picture for page and paper.

Grey where all is well; what somebody must do has a shape or a word, so that it also prints in
black and white: feed is light, a flush is hatched, cleaning by hand is dark, a changeover is
open with a broken edge, a late run has a heavy edge and says so.
"""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from textwrap import wrap

from bedstone.mill.model import Mill
from bedstone.mill.plan import Bar, BarKind, Plan

__all__ = ["bars_svg"]

FONT = "Inter, system-ui, 'Segoe UI', Arial, sans-serif"
INK, GREY, PALE, LINE = "#1a1a1a", "#595959", "#e6e6e6", "#c8c8c8"
LABEL_PX = 136.0
RIGHT_PX = 18.0
ROW_PX = 40.0
BAR_PX = 28.0
AXIS_PX = 24.0
LEGEND_PX = 30.0
TEXT_PX = 11.5
LETTER_EM = 0.6  # width of a letter of the shipped font, rather more than less
LATE = "late"
LATE_LOOK = f'fill="{PALE}" stroke="{INK}" stroke-width="2.4"'
LONGEST_AXIS_H = 72
LEGEND = (
    (BarKind.RUN, "feed"),
    (BarKind.FLUSH, "flush"),
    (BarKind.CLEAN_OUT, "clean-out"),
    (BarKind.CHANGEOVER, "changeover"),
    (BarKind.GRIND, "grinding"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Axis:
    """Time along the picture."""

    start_at: dt.datetime
    end_at: dt.datetime
    width_px: float

    def x(self, moment: dt.datetime) -> float:
        """Where a moment lies. [px]"""
        span_s = (self.end_at - self.start_at).total_seconds()
        part = (moment - self.start_at).total_seconds() / span_s
        return LABEL_PX + part * (self.width_px - LABEL_PX - RIGHT_PX)


def bars_svg(
    plan: Plan,
    mill: Mill,
    *,
    width_px: float = 1080.0,
    ident: str = "day",
) -> str:
    """The day's bars, a row for each machine that works, as an SVG.

    Parameters
    ----------
    plan : Plan
        The plan of the day.
    mill : Mill
        The mill, for names and its time zone.
    width_px : float
        Width of the picture; it scales.
    ident : str
        Start of the ids in the picture, unlike those of any other picture on the same page.

    Returns
    -------
    svg : str
        One ``svg`` element.
    """
    rows = _rows(plan, mill)
    height_px = AXIS_PX + ROW_PX * max(1, len(rows)) + LEGEND_PX
    axis = _axis(plan, mill, width_px)
    busy = f"{len(plan.batches)} batches on {len(rows)} machines"
    title = f"The day {plan.day.isoformat()}: {busy}"
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width_px:g} {height_px:g}" '
        f'role="img" aria-labelledby="{ident}-title" font-family="{escape(FONT)}" '
        f'font-size="{TEXT_PX:g}" fill="{INK}">'
    )
    parts = [
        head,
        f'<title id="{ident}-title">{_plain(title)}</title>',
        *_patterns(ident),
        *_hours(axis, mill, AXIS_PX + ROW_PX * max(1, len(rows))),
    ]
    late = {run.run for run in plan.runs if run.late_s > 0}
    for number, (machine, bars) in enumerate(rows):
        top = AXIS_PX + ROW_PX * number
        groups = _groups(bars, plan)
        parts.extend(_name(mill.name_of(machine), top))
        parts.extend(_bars(bars, axis, top=top, late=late, ident=ident, mill=mill))
        parts.extend(_edges(groups, axis, top=top))
        parts.extend(_labels(groups, axis, top=top, late=late))
    parts.extend(_legend(ident, height_px - LEGEND_PX / 2))
    parts.append("</svg>")
    return "".join(parts)


def _plain(text: str) -> str:
    """Text that XML may hold, escaped."""
    return escape("".join(letter if letter.isprintable() else " " for letter in text))


def _short(text: str, room_px: float) -> str:
    """Text cut so that it fits, "" when not even three letters do."""
    fits = int(room_px / (TEXT_PX * LETTER_EM))
    if len(text) <= fits:
        return text
    return text[: fits - 1].rstrip() + "…" if fits > 3 else ""  # noqa: PLR2004 - fewer letters say nothing


def _name(name: str, top: float) -> Iterator[str]:
    """The name of a machine on one line, or on two."""
    fits = int((LABEL_PX - 8) / (TEXT_PX * LETTER_EM))
    lines = wrap(name, fits) or [name]
    if len(lines) > 2:  # noqa: PLR2004 - a third line has no room
        lines = [lines[0], _short(" ".join(lines[1:]), LABEL_PX - 8)]
    first = top + ROW_PX / 2 + 4 - (len(lines) - 1) * 7
    for number, line in enumerate(lines):
        yield f'<text x="0" y="{first + 14 * number:.1f}" font-weight="bold">{_plain(line)}</text>'


def _rows(plan: Plan, mill: Mill) -> list[tuple[str, list[Bar]]]:
    """Machines that work, in the order of the mill's table, with their bars by time."""
    by_machine: dict[str, list[Bar]] = {}
    for bar in sorted(plan.bars, key=lambda bar: (bar.start_at, bar.end_at, bar.about)):
        by_machine.setdefault(bar.machine, []).append(bar)
    order = {row.machine: at for at, row in enumerate(mill.machines)}
    return sorted(by_machine.items(), key=lambda row: (order.get(row[0], len(order)), row[0]))


def _axis(plan: Plan, mill: Mill, width_px: float) -> _Axis:
    """From the full hour before the first bar to the one after the last."""
    zone = mill.settings.zone
    hour = dt.timedelta(hours=1)
    if plan.bars:
        first = min(bar.start_at for bar in plan.bars)
        last = max(bar.end_at for bar in plan.bars)
    else:
        first = dt.datetime.combine(plan.day, dt.time(6), tzinfo=zone)
        last = first + 8 * hour
    start = first.astimezone(zone).replace(minute=0, second=0, microsecond=0)
    start_at = start.astimezone(dt.UTC)
    last = min(last, start_at + LONGEST_AXIS_H * hour)
    whole_h = max(1, -(-int((last - start_at).total_seconds()) // 3600))
    return _Axis(start_at=start_at, end_at=start_at + whole_h * hour, width_px=width_px)


def _patterns(ident: str) -> Iterator[str]:
    """Hatching of flushes and of changeovers."""
    yield (
        f'<defs><pattern id="{ident}-flush" width="6" height="6" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><rect width="6" height="6" fill="#ffffff"/>'
        f'<rect width="2.4" height="6" fill="{GREY}"/></pattern></defs>'
    )


def _hours(axis: _Axis, mill: Mill, bottom_px: float) -> Iterator[str]:
    """The hours of the mill's own time as thin lines."""
    hour = dt.timedelta(hours=1)
    count = round((axis.end_at - axis.start_at) / hour)
    step = next(step for step in (1, 2, 3, 4, 6, 12) if count / step <= 16 or step == 12)  # noqa: PLR2004 - more labels touch
    for number in range(count + 1):
        moment = axis.start_at + number * hour
        x = axis.x(moment)
        yield (
            f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{AXIS_PX - 4:g}" y2="{bottom_px:g}" '
            f'stroke="{LINE}" stroke-width="0.7"/>'
        )
        if number % step == 0:
            yield (
                f'<text x="{x:.1f}" y="{AXIS_PX - 9:g}" text-anchor="middle" fill="{GREY}">'
                f"{moment.astimezone(mill.settings.zone):%H:%M}</text>"
            )


def _look(kind: BarKind, ident: str) -> str:
    """How a kind of bar is filled and edged."""
    match kind:
        case BarKind.FLUSH:
            return f'fill="url(#{ident}-flush)" stroke="{INK}" stroke-width="1"'
        case BarKind.CLEAN_OUT:
            return f'fill="#404040" stroke="{INK}" stroke-width="1"'
        case BarKind.CHANGEOVER:
            return f'fill="#ffffff" stroke="{GREY}" stroke-width="1" stroke-dasharray="2.5 2"'
        case BarKind.GRIND:
            return f'fill="#ffffff" stroke="{GREY}" stroke-width="1"'
        case BarKind.BATCH:
            return f'fill="{PALE}" stroke="#ffffff" stroke-width="0.8"'
        case BarKind.RUN:
            return f'fill="{PALE}" stroke="{GREY}" stroke-width="0.8"'


def _bars(
    bars: Sequence[Bar],
    axis: _Axis,
    *,
    top: float,
    late: set[str],
    ident: str,
    mill: Mill,
) -> Iterator[str]:
    """The bars of one machine, each with its words for whoever points at it."""
    zone = mill.settings.zone
    for bar in bars:
        left, right = axis.x(bar.start_at), min(axis.x(bar.end_at), axis.width_px)
        words = (
            f"{bar.label or bar.about}, {bar.kind.value}, {bar.start_at.astimezone(zone):%H:%M} "
            f"to {bar.end_at.astimezone(zone):%H:%M}"
        )
        if bar.reason:
            words += f". {bar.reason}"
        look = _look(bar.kind, ident)
        if bar.about in late and bar.kind is BarKind.RUN:
            look = LATE_LOOK
        yield (
            f'<rect x="{left:.1f}" y="{top + (ROW_PX - BAR_PX) / 2:.1f}" '
            f'width="{max(1.5, right - left):.1f}" height="{BAR_PX:g}" rx="1.5" {look}>'
            f"<title>{_plain(words)}</title></rect>"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Group:
    """Bars side by side that share a label."""

    name: str
    number: str  # of the order or run, "" for what is neither
    kind: BarKind
    about: str
    start_at: dt.datetime
    end_at: dt.datetime


def _groups(bars: Sequence[Bar], plan: Plan) -> list[_Group]:
    """Batches of one run in a row become one group; every other bar is its own."""
    run_of = {batch.batch: batch.run for batch in plan.batches}
    runs = {run.run: run for run in plan.runs}
    groups: list[_Group] = []
    for bar in bars:
        is_batch = bar.kind is BarKind.BATCH and bar.about in run_of
        about = run_of[bar.about] if is_batch else bar.about
        run = runs.get(about)
        name = run.product if run is not None and is_batch else bar.label
        number = "" if run is None else run.order or run.run
        start_at = bar.start_at
        if is_batch and groups and groups[-1].about == about and groups[-1].kind is bar.kind:
            start_at = groups.pop().start_at
        groups.append(
            _Group(
                name=name,
                number=number,
                kind=bar.kind,
                about=about,
                start_at=start_at,
                end_at=bar.end_at,
            )
        )
    return groups


def _edges(groups: Sequence[_Group], axis: _Axis, *, top: float) -> Iterator[str]:
    """An edge around the batches of one run."""
    for group in groups:
        if group.kind is BarKind.BATCH:
            left, right = axis.x(group.start_at), min(axis.x(group.end_at), axis.width_px)
            yield (
                f'<rect x="{left:.1f}" y="{top + (ROW_PX - BAR_PX) / 2:.1f}" rx="1.5" '
                f'width="{max(1.5, right - left):.1f}" height="{BAR_PX:g}" fill="none" '
                f'stroke="{GREY}" stroke-width="0.8" pointer-events="none"/>'
            )


def _labels(groups: Sequence[_Group], axis: _Axis, *, top: float, late: set[str]) -> Iterator[str]:
    """Labels where they fit; a flush is told by its hatching alone."""
    y = top + ROW_PX / 2 + TEXT_PX * 0.36
    for group in groups:
        if group.kind in {BarKind.FLUSH, BarKind.CHANGEOVER}:
            continue
        left, right = axis.x(group.start_at), min(axis.x(group.end_at), axis.width_px)
        is_late = group.about in late
        text = _fitting(group, right - left - 8, is_late=is_late)
        if text:
            middle = (left + right) / 2
            ink = "#ffffff" if group.kind is BarKind.CLEAN_OUT else INK
            yield (
                f'<text x="{middle:.1f}" y="{y:.1f}" text-anchor="middle" fill="{ink}" '
                f'pointer-events="none">{_plain(text)}</text>'
            )


def _fitting(group: _Group, room_px: float, *, is_late: bool) -> str:
    """The longest form of a label that has room: number and name, number, the start of a name."""
    name = group.name.removeprefix(group.number).strip()
    forms = [f"{group.number} {name}".strip(), group.number]
    if is_late:
        forms = [*(f"{LATE}: {form}" for form in forms), group.number]
    for form in forms:
        if form and len(form) * TEXT_PX * LETTER_EM <= room_px:
            return form
    return "" if group.number else _short(name, room_px)


def _legend(ident: str, middle_px: float) -> Iterator[str]:
    """What each look means."""
    looks = [(_look(kind, ident), word) for kind, word in LEGEND]
    x = LABEL_PX
    for look, word in (*looks, (LATE_LOOK, "late run")):
        yield (
            f'<rect x="{x:.1f}" y="{middle_px - 5:.1f}" width="20" height="12" rx="1.5" {look}/>'
            f'<text x="{x + 25:.1f}" y="{middle_px + 5:.1f}" fill="{GREY}">{word}</text>'
        )
        x += 40 + len(word) * TEXT_PX * LETTER_EM
