"""The graph of a trace: lots in columns by depth, laid out here, drawn as SVG."""

from collections.abc import Iterable
from dataclasses import dataclass

from markupsafe import Markup

from bedstone.tracing.model import Trace, TraceLink
from bedstone.web.show import Show

__all__ = ["MOST_IN_COLUMN", "lot_graph"]

BOX_W_PX, BOX_H_PX = 178, 46
STEP_X_PX, STEP_Y_PX = 234, 60
MORE_PX = 26
MOST_LETTERS, MOST_BOLD = 24, 18
MOST_IN_COLUMN = 12
"""How many lots of one depth are drawn; the tables below the picture have all."""


@dataclass(frozen=True, kw_only=True)
class Spot:
    """Where a lot stands in the picture."""

    lot: str
    name: str  # of a firm; empty for a lot
    words: str
    degree: str
    x: float
    y: float


def lot_graph(trace: Trace, show: Show) -> Markup:
    """The picture of a trace: what went in on the left, what it became on the right."""
    back, forward = surest_first(trace.back), surest_first(trace.forward)
    columns, more = columns_of(back, forward)
    lowest, highest = min([0, *columns]), max([0, *columns])
    tallest = max([1, *(len(column) for column in columns.values())])
    height = tallest * STEP_Y_PX + 24
    spots = spots_of(trace, columns, lowest=lowest, height=height, show=show)
    full = height + (MORE_PX if more else 0)
    width = (highest - lowest) * STEP_X_PX + BOX_W_PX + 20
    parts = [
        Markup(
            '<svg class="lots-graph" xmlns="http://www.w3.org/2000/svg" width="{}" height="{}" '
            'viewBox="0 0 {} {}" role="group" aria-label="{}">'
        ).format(width, full, width, full, f"Lots that lot {trace.lot} is joined to")
    ]
    parts.extend(edges_drawn(trace, back, spots, side=-1))
    parts.extend(edges_drawn(trace, forward, spots, side=1))
    for (side, _lot), spot in spots.items():
        parts.append(box_drawn(spot, here=side == 0))
    for column, number in more.items():
        x = (column - lowest) * STEP_X_PX + 6
        parts.append(more_drawn(x, height, number))
    parts.append(Markup("</svg>"))
    return Markup("").join(parts)


def surest_first(links: Iterable[TraceLink]) -> list[TraceLink]:
    """The links nearest first, then certain before possible, heavy before light."""
    rank = {"certain": 0, "possible": 1, "carry-over": 2}
    return sorted(
        links, key=lambda one: (one.depth, rank.get(str(one.degree), 3), -(one.mass_mg or 0))
    )


def columns_of(
    back: list[TraceLink], forward: list[TraceLink]
) -> tuple[dict[int, list[TraceLink]], dict[int, int]]:
    """The lots to draw by column, and how many more each column would have."""
    columns: dict[int, list[TraceLink]] = {}
    more: dict[int, int] = {}
    for side, links in ((-1, back), (1, forward)):
        seen: set[str] = set()
        drawn = {link.from_lot for link in links if link.depth <= 1}  # the lot that is traced
        for depth in sorted({max(1, link.depth) for link in links}):
            found = [link for link in links if max(1, link.depth) == depth]
            found.sort(key=lambda link: link.from_lot not in drawn)  # joined to what is drawn first
            column: list[TraceLink] = []
            for link in found:
                if link.lot in seen:
                    continue
                seen.add(link.lot)
                if len(column) < MOST_IN_COLUMN and (link.from_lot in drawn or depth == 1):
                    column.append(link)
                else:
                    more[side * depth] = more.get(side * depth, 0) + 1
            drawn = {link.lot for link in column}
            if column:
                columns[side * depth] = column
    return columns, {number: many for number, many in more.items() if number in columns}


def spots_of(
    trace: Trace, columns: dict[int, list[TraceLink]], *, lowest: int, height: float, show: Show
) -> dict[tuple[int, str], Spot]:
    """Where every lot stands, keyed by side and lot."""
    spots = {
        (0, trace.lot): Spot(
            lot=trace.lot,
            name="",
            words=show.name(trace.material),
            degree="",
            x=-lowest * STEP_X_PX + 6,
            y=height / 2,
        )
    }
    for column, links in columns.items():
        gap = height / len(links)
        for number, link in enumerate(links):
            spots[(1 if column > 0 else -1, link.lot)] = Spot(
                lot=link.lot,
                name=(link.firm_name or show.name(link.firm)) if link.firm else "",
                words=link.kind if link.firm else show.name(link.material),
                degree="" if str(link.degree) == "certain" else str(link.degree),
                x=(column - lowest) * STEP_X_PX + 6,
                y=gap * (number + 0.5),
            )
    return spots


def edges_drawn(
    trace: Trace, links: list[TraceLink], spots: dict[tuple[int, str], Spot], *, side: int
) -> list[Markup]:
    """Curves between lots; the line says how sure the link is, a word stands on it too."""
    drawn = []
    for link in links:
        near = spots.get((0, trace.lot) if link.from_lot == trace.lot else (side, link.from_lot))
        far = spots.get((side, link.lot))
        if near is None or far is None or near is far:
            continue
        left, right = (far, near) if side < 0 else (near, far)
        x1, x2 = left.x + BOX_W_PX, right.x
        middle = (x1 + x2) / 2
        drawn.append(
            Markup(
                '<path class="edge {}" d="M{} {}C{} {} {} {} {} {}"><title>{}</title></path>'
            ).format(
                str(link.degree),
                *(round(number, 1) for number in (x1, left.y, middle, left.y)),
                *(round(number, 1) for number in (middle, right.y, x2, right.y)),
                f"{left.lot} to {right.lot}: {link.degree}",
            )
        )
    return drawn


def shortened(words: str, most: int = MOST_LETTERS) -> str:
    """Words cut to what a box has room for."""
    if len(words) <= most:
        return words
    return words[: most - 1] + "\N{HORIZONTAL ELLIPSIS}"


def box_drawn(spot: Spot, *, here: bool) -> Markup:
    """A lot as a box that leads to its own trace; a word says when the link is not certain."""
    words = shortened(f"{spot.degree}: {spot.words}" if spot.degree else spot.words)
    x, y = round(spot.x + 8, 1), round(spot.y, 1)
    return Markup(
        '<a class="node{}" href="/trace?lot={}"><title>{}</title>'
        '<rect x="{}" y="{}" width="{}" height="{}" rx="4"/>'
        '<text x="{}" y="{}" font-size="14" font-weight="600">{}</text>'
        '<text class="soft" x="{}" y="{}" font-size="12">{}</text></a>'
    ).format(
        " here" if here else "",
        spot.lot,
        ", ".join(part for part in (spot.name or spot.lot, spot.words, spot.degree) if part),
        round(spot.x, 1),
        round(spot.y - BOX_H_PX / 2, 1),
        BOX_W_PX,
        BOX_H_PX,
        x,
        y - 3,
        shortened(spot.name or spot.lot, MOST_BOLD),
        x,
        y + 15,
        words,
    )


def more_drawn(x: float, height: float, number: int) -> Markup:
    """How many lots of a column are only in the tables."""
    return Markup('<text class="soft" x="{}" y="{}" font-size="13">{}</text>').format(
        round(x, 1), round(height + MORE_PX - 8, 1), f"and {number} more, in the table"
    )
