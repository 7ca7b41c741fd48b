"""The day as bars on a time axis, a lane for each machine, as SVG that hands and keys can reach."""

import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property

from markupsafe import Markup

from bedstone.mill.plan import Bar, BarKind, Batch, Run
from bedstone.web.day_axis import GUTTER_PX, Axis, OfDay, axis_of
from bedstone.web.show import Show

__all__ = ["SPECIES_COLOURS", "day_picture", "species_stripes"]

LANE_PX = 52
HEAD_PX = 34
LETTER_PX = 7.6
CLEAR_PX = 66
SPECIES_COLOURS = ("#0072b2", "#e69f00", "#009e73", "#cc79a7", "#56b4e9", "#d55e00", "#f0e442")
"""Okabe-Ito, in the order in which species are met; a stripe, always with its word beside it."""
WORDS = {
    BarKind.BATCH: "batch",
    BarKind.FLUSH: "flush",
    BarKind.CLEAN_OUT: "clean-out",
    BarKind.CHANGEOVER: "changeover",
    BarKind.GRIND: "grinding",
    BarKind.RUN: "run",
}
FLOW = ("grinder", "hand-add station", "mixer", "pellet line", "sacking line", "load-out")
PATTERNS = Markup(
    '<defs><pattern id="{0}stripes" width="8" height="8" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><rect width="8" height="8" fill="#ffffff"/>'
    '<rect width="4" height="8" fill="#59626a"/></pattern>'
    '<pattern id="{0}mesh" width="8" height="8" patternUnits="userSpaceOnUse">'
    '<rect width="8" height="8" fill="#ffffff"/>'
    '<path d="M0 0L8 8M8 0L0 8" stroke="#59626a" stroke-width="1.4"/></pattern></defs>'
)


@dataclass(frozen=True, kw_only=True)
class Stripe:
    """How a species is told apart: by a colour, and by a broken line once all colours are used."""

    colour: str
    broken: bool


def species_stripes(plan: OfDay, show: Show) -> dict[str, Stripe]:
    """The stripe of each species of the plan, in the order in which they run."""
    found: dict[str, Stripe] = {}
    for run in plan.runs:
        row = show.mill.product_by_code.get(run.product) if show.mill else None
        if row is not None and row.species not in found:
            rounds, number = divmod(len(found), len(SPECIES_COLOURS))
            found[row.species] = Stripe(colour=SPECIES_COLOURS[number], broken=rounds > 0)
    return found


def day_picture(
    plan: OfDay,
    show: Show,
    *,
    now_at: dt.datetime,
    standing: Mapping[str, str],
    axis: Axis | None = None,
    movable: Collection[str] = (),
    name: str = "",
) -> Markup:
    """The bars of a plan's day; empty when it has none. Runs that are ``movable`` are marked so on
    their mixer. Two pictures on one page need names.
    """
    if not plan.bars:
        return Markup("")
    axis = axis or axis_of([plan], show)
    lanes = lanes_of(plan, show)
    height_px = HEAD_PX + LANE_PX * len(lanes) + 8
    width_px = GUTTER_PX + axis.width_px + 10
    parts = [
        opening(width_px, height_px, len(lanes)),
        PATTERNS.format(name),
        lanes_drawn(lanes, axis, show),
        hours_drawn(axis, show, height_px, now_at),
    ]
    paint = Paint(
        plan=plan,
        show=show,
        axis=axis,
        standing=standing,
        stripes=species_stripes(plan, show),
        movable=frozenset(movable),
        name=name,
    )
    first, marks = True, []
    for lane, machine in enumerate(lanes):
        for bar in sorted(
            (one for one in plan.bars if one.machine == machine), key=lambda one: one.start_at
        ):
            parts.append(paint.bar(bar, lane, first=first))
            marks.append(paint.inside(bar, lane))
            first = False
    parts.extend(marks)  # over all bars, so that a narrow flush is still seen
    if axis.has(now_at):
        parts.append(now_drawn(axis.x(now_at), height_px, show.clock(now_at)))
    parts.append(Markup("</svg>"))
    return Markup("").join(parts)


def opening(width_px: float, height_px: float, machines: int) -> Markup:
    """The start of the picture."""
    words = f"The day as bars, {machines} machines; arrow keys go from bar to bar"
    return Markup(
        '<svg class="day" xmlns="http://www.w3.org/2000/svg" width="{0}" height="{1}" '
        'viewBox="0 0 {0} {1}" role="group" aria-label="{2}">'
    ).format(round(width_px), round(height_px), words)


def lanes_of(plan: OfDay, show: Show) -> list[str]:
    """The machines that work, in the order in which material flows, then as in the mill's table."""
    table = show.mill.machine_by_code if show.mill else {}
    rows = {code: number for number, code in enumerate(table)}

    def rank(code: str) -> tuple[int, int, str]:
        kind = table[code].kind if code in table else ""
        return (FLOW.index(kind) if kind in FLOW else len(FLOW), rows.get(code, len(rows)), code)

    return sorted({bar.machine for bar in plan.bars}, key=rank)


def lanes_drawn(lanes: list[str], axis: Axis, show: Show) -> Markup:
    """A strip and a name for each machine."""
    parts = []
    for lane, machine in enumerate(lanes):
        top = HEAD_PX + lane * LANE_PX
        name = show.name(machine)
        parts.append(
            Markup(
                '<rect class="lane" data-machine="{}" x="{}" y="{}" width="{}" height="{}"/>'
                '<text x="4" y="{}" font-size="15" font-weight="600">{}</text>'
                '<text class="soft" x="4" y="{}" font-size="12">{}</text>'
            ).format(
                machine,
                GUTTER_PX,
                top + 2,
                round(axis.width_px),
                LANE_PX - 4,
                top + 23,
                machine,
                top + 40,
                shortened(name, GUTTER_PX - 8, letter_px=6.4) if name != machine else "",
            )
        )
    return Markup("").join(parts)


def hours_drawn(axis: Axis, show: Show, height_px: int, now_at: dt.datetime) -> Markup:
    """The hours of the day as lines with their time on top."""
    parts = []
    moment_at = axis.start_at
    while moment_at <= axis.end_at:
        x = round(axis.x(moment_at), 1)
        parts.append(
            Markup(
                '<line class="hour" x1="{}" x2="{}" y1="{}" y2="{}"/>'
                '<text class="soft" x="{}" y="20" font-size="14" text-anchor="middle">{}</text>'
            ).format(
                x,
                x,
                HEAD_PX - 6,
                height_px - 6,
                min(x, GUTTER_PX + axis.width_px - 12),
                show.clock(moment_at)
                if not axis.has(now_at) or abs(x - axis.x(now_at)) > CLEAR_PX
                else "",
            )
        )
        moment_at += dt.timedelta(hours=1)
    return Markup("").join(parts)


def now_drawn(x: float, height_px: int, words: str) -> Markup:
    """The line of the present."""
    return Markup(
        '<line class="nowline" x1="{0}" x2="{0}" y1="24" y2="{1}"/>'
        '<rect x="{2}" y="4" width="84" height="21" rx="3" fill="#1d2124"/>'
        '<text x="{0}" y="19" font-size="13" text-anchor="middle" fill="#fff" '
        'class="nowtext">now {3}</text>'
    ).format(round(x, 1), height_px - 4, round(x - 42, 1), words)


def shortened(words: str, room_px: float, *, letter_px: float = LETTER_PX) -> str:
    """Words cut to the room there is; nothing when not even three letters fit."""
    fit = int(room_px / letter_px)
    if len(words) <= fit:
        return words
    return words[: fit - 1] + "\N{HORIZONTAL ELLIPSIS}" if fit > 3 else ""  # noqa: PLR2004 - fewer letters say nothing


@dataclass(frozen=True, kw_only=True)
class Paint:
    """Draws the bars of one plan."""

    plan: OfDay
    show: Show
    axis: Axis
    standing: Mapping[str, str]
    stripes: Mapping[str, Stripe]
    movable: frozenset[str] = frozenset()
    name: str = ""

    @cached_property
    def runs(self) -> dict[str, Run]:
        """Runs by their id and by the ids of their batches."""
        by_batch = {batch: run for run in self.plan.runs for batch in run.batches}
        return by_batch | {run.run: run for run in self.plan.runs}

    @cached_property
    def batches(self) -> dict[str, Batch]:
        """Batches and flushes by id."""
        return {batch.batch: batch for batch in self.plan.batches}

    def bar(self, bar: Bar, lane: int, *, first: bool) -> Markup:
        """One bar, with what it says when it is pointed at, reached by key or tapped."""
        left, right = self.axis.x(bar.start_at), self.axis.x(bar.end_at)
        width = max(4.0, right - left - 1)
        top = HEAD_PX + lane * LANE_PX + 5
        height = LANE_PX - 10
        detail = self.detail(bar)
        pattern = {BarKind.FLUSH: "stripes", BarKind.CLEAN_OUT: "mesh"}.get(bar.kind)
        fill = Markup(' fill="url(#{}{})"').format(self.name, pattern) if pattern else Markup("")
        href, link_words = self.link(bar)
        return Markup(
            '<g class="{}" tabindex="{}" role="button" aria-pressed="false" aria-label="{}" '
            'data-detail="{}" data-lane="{}" data-href="{}" data-link-words="{}"{}><title>{}</title>'
            '<rect class="body" x="{}" y="{}" width="{}" height="{}" rx="3"{}/></g>'
        ).format(
            " ".join(["bar", bar.kind.value, *self.states(bar)]),
            0 if first else -1,
            detail,
            detail,
            lane,
            href,
            link_words,
            self.moves(bar),
            detail,
            round(left, 1),
            top,
            round(width, 1),
            height,
            fill,
        )

    def inside(self, bar: Bar, lane: int) -> Markup:
        """The words and the species stripe of a bar; not for readers, who hear its detail."""
        left = self.axis.x(bar.start_at)
        width = max(4.0, self.axis.x(bar.end_at) - left - 1)
        top = HEAD_PX + lane * LANE_PX + 5
        parts = [Markup('<g pointer-events="none" aria-hidden="true">')]
        stripe = self.stripe(bar)
        if stripe is not None:
            parts.append(
                Markup(
                    '<line x1="{}" x2="{}" y1="{}" y2="{}" stroke="{}" stroke-width="6"{}/>'
                ).format(
                    round(left + 1, 1),
                    round(left + max(2.0, width - 1), 1),
                    top + 4,
                    top + 4,
                    stripe.colour,
                    Markup(' stroke-dasharray="5 3"') if stripe.broken else "",
                )
            )
        words = "F" if bar.kind is BarKind.FLUSH else bar.label or bar.about
        text = shortened(words, width - 8)
        if bar.kind is BarKind.CHANGEOVER and text != words:
            text = ""
        if bar.kind in (BarKind.FLUSH, BarKind.CLEAN_OUT):
            words = "F" if bar.kind is BarKind.FLUSH else "C"
            middle = round(left + width / 2, 1)
            parts.append(
                Markup(
                    '<rect x="{}" y="{}" width="18" height="20" rx="3" fill="#fff" '
                    'stroke="#59626a"/><text x="{}" y="{}" font-size="14" font-weight="700" '
                    'text-anchor="middle">{}</text>'
                ).format(round(middle - 9, 1), top + 11, middle, top + 26, words)
            )
        elif text:
            parts.append(
                Markup('<text x="{}" y="{}" font-size="13">{}</text>').format(
                    round(left + 5, 1), top + 27, text
                )
            )
        parts.append(Markup("</g>"))
        return Markup("").join(parts)

    def stripe(self, bar: Bar) -> Stripe | None:
        """The stripe of the species a bar is for; none for flushes and cleaning."""
        if bar.kind not in (BarKind.BATCH, BarKind.RUN) or self.show.mill is None:
            return None
        run = self.run_of(bar)
        row = self.show.mill.product_by_code.get(run.product) if run else None
        return self.stripes.get(row.species) if row else None

    def run_of(self, bar: Bar) -> Run | None:
        """The run that a bar belongs to."""
        return self.runs.get(bar.about)

    def moves(self, bar: Bar) -> Markup:
        """What a bar carries so that its run can be moved; nothing if it cannot."""
        run = self.run_of(bar)
        if bar.kind is not BarKind.BATCH or run is None or run.run not in self.movable:
            return Markup("")
        return Markup(' data-run="{}" data-machine="{}"').format(run.run, bar.machine)

    def states(self, bar: Bar) -> list[str]:
        """Words for the style sheet: made, started, late."""
        found = [self.standing[bar.about]] if bar.about in self.standing else []
        run = self.run_of(bar)
        if self.moves(bar):
            found.append("movable")
        if run is not None and bar.kind is BarKind.RUN and run.late_s > 0:
            found.append("late")
        return found

    def link(self, bar: Bar) -> tuple[str, str]:
        """Where a bar leads, and in which words."""
        if bar.kind in (BarKind.BATCH, BarKind.FLUSH):
            return f"/batches/{bar.about}", f"Open the sheet of batch {bar.about}"
        if bar.kind is BarKind.RUN:
            return f"/runs#{bar.about}", f"Go to run {bar.about}"
        return "", ""

    def detail(self, bar: Bar) -> str:
        """What a bar is, in one or two sentences."""
        when = f"{self.show.clock(bar.start_at)} to {self.show.clock(bar.end_at)}"
        words = f"{self.show.name(bar.machine)}, {when}: {WORDS[bar.kind]} {bar.about}"
        batch = self.batches.get(bar.about)
        run = self.run_of(bar)
        if batch is not None:
            words += f", {self.show.batch_mass(batch)} {self.show.name(batch.material)}"
        elif run is not None:
            words += f", {self.show.mass(run.mass_mg)} {self.show.name(run.product)}"
        elif bar.label and bar.label != bar.about:
            words += f", {bar.label}"
        if bar.about in self.standing:
            words += f" ({self.standing[bar.about]})"
        if run is not None and bar.kind is BarKind.RUN and run.late_s > 0:
            words += f"; late by {self.show.minutes(run.late_s)}"
        reason = bar.reason or (batch.reason if batch else "")
        return f"{words}. {reason}".strip() if reason else f"{words}."
