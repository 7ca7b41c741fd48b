"""The graph of a trace: boxes in columns by depth, laid out here, drawn as SVG."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from markupsafe import Markup

from bedstone.tracing.model import Trace, TraceLink
from bedstone.web.lot_groups import Column, Node, columns_of
from bedstone.web.show import Show

__all__ = ["lot_graph"]

BOX_W_PX, BOX_H_PX = 178, 46
STEP_X_PX, STEP_Y_PX = 234, 60
MORE_PX = 26
MOST_LETTERS, MOST_BOLD = 25, 18
RANK = {"certain": 0, "possible": 1, "carry-over": 2}
LOTS = {
    "load": "loads",
    "batch": "batches",
    "run": "runs",
    "supplier": "loads from",
    "customer": "to",
}


@dataclass(frozen=True, kw_only=True)
class Spot:
    """Where a box stands in the picture, and what stands in it."""

    name: str
    words: str
    title: str
    href: str
    x: float
    y: float
    many: bool = False
    here: bool = False


def lot_graph(trace: Trace, show: Show, *, opened: Collection[str] = ()) -> Markup:
    """The picture of a trace: what went in on the left, what it became on the right."""
    columns = [
        *columns_of(trace.back, side=-1, opened=opened)[::-1],
        *columns_of(trace.forward, side=1, opened=opened),
    ]
    left = sum(column.depth < 0 for column in columns)
    tallest = max([1, *(len(column.nodes) for column in columns)])
    height = tallest * STEP_Y_PX + 24
    here = Spot(
        name=trace.lot,
        words=show.name(trace.material),
        title=f"{trace.lot}, {show.name(trace.material)}",
        href=address(trace.lot, ()),
        x=left * STEP_X_PX + 6,
        y=height / 2,
        here=True,
    )
    where: dict[tuple[int, str], Spot] = {}
    spots = [here]
    for at, column in enumerate(columns):
        x = (at + (column.depth > 0)) * STEP_X_PX + 6
        spots += placed(trace, column, x, height, show=show, opened=opened, where=where)
    full = height + (MORE_PX if any(column.more for column in columns) else 0)
    width = len(columns) * STEP_X_PX + BOX_W_PX + 20
    parts = [
        Markup(
            '<svg class="lots-graph" xmlns="http://www.w3.org/2000/svg" width="{}" height="{}" '
            'viewBox="0 0 {} {}" role="group" aria-label="{}">'
        ).format(width, full, width, full, f"Lots that lot {trace.lot} is joined to")
    ]
    parts += edges_drawn(trace, trace.back, here, where, side=-1)
    parts += edges_drawn(trace, trace.forward, here, where, side=1)
    parts += [box_drawn(spot) for spot in spots]
    for at, column in enumerate(columns):
        if column.more:
            x = (at + (column.depth > 0)) * STEP_X_PX + 6
            parts.append(more_drawn(x, height, column.more))
    parts.append(Markup("</svg>"))
    return Markup("").join(parts)


def address(lot: str, opened: Collection[str]) -> str:
    """The address of a trace with groups opened."""
    return "/trace?" + urlencode([("lot", lot), *(("open", key) for key in sorted(opened))])


def placed(
    trace: Trace,
    column: Column,
    x: float,
    height: float,
    *,
    show: Show,
    opened: Collection[str],
    where: dict[tuple[int, str], Spot],
) -> list[Spot]:
    """The boxes of a column; ``where`` learns in which box each lot stands."""
    gap = height / max(1, len(column.nodes))
    found = []
    for number, node in enumerate(column.nodes):
        y = gap * (number + 0.5)
        spot = (
            group_spot(trace, node, x, y, show=show, opened=opened)
            if node.key
            else lot_spot(node, x, y, show)
        )
        found.append(spot)
        side = 1 if column.depth > 0 else -1
        where.update({(side, link.lot): spot for link in node.links})
    return found


def lot_spot(node: Node, x: float, y: float, show: Show) -> Spot:
    """The box of one lot or firm; a word says when the link is not certain."""
    link = node.first
    name = (link.firm_name or show.name(link.firm)) if link.firm else link.lot
    words = link.kind if link.firm else show.name(link.material)
    sure = "" if node.degree == "certain" else node.degree
    return Spot(
        name=name,
        words=f"{sure}: {words}" if sure else words,
        title=", ".join(part for part in (name, words, sure) if part),
        href=address(link.lot, ()),
        x=x,
        y=y,
    )


def group_spot(
    trace: Trace, node: Node, x: float, y: float, *, show: Show, opened: Collection[str]
) -> Spot:
    """The box of several lots; it opens them."""
    link = node.first
    name = (link.firm_name or show.name(link.firm)) if link.firm else show.name(link.material)
    counted = node.counted()
    many = len(node.links)
    kind = f"{many} times" if link.firm else f"{many} {LOTS.get(link.kind, 'lots')}"
    sure = ", ".join(f"{number} {degree}" for degree, number in counted.items())
    words = f"{kind}, {next(iter(counted))}" if len(counted) == 1 else f"{kind}: {sure}"
    return Spot(
        name=name,
        words=words,
        title=f"{name}, {kind}: {sure}. Opens them one by one",
        href=address(trace.lot, {*opened, node.key}),
        x=x,
        y=y,
        many=True,
    )


def edges_drawn(
    trace: Trace,
    links: tuple[TraceLink, ...],
    here: Spot,
    where: Mapping[tuple[int, str], Spot],
    *,
    side: int,
) -> list[Markup]:
    """Curves between boxes, one for each pair: as sure as its surest link, in line and in words."""
    surest: dict[tuple[int, int], tuple[Spot, Spot, str]] = {}
    for link in links:
        near = here if link.from_lot == trace.lot else where.get((side, link.from_lot))
        far = where.get((side, link.lot))
        if near is None or far is None or near is far:
            continue
        left, right = (far, near) if side < 0 else (near, far)
        known = surest.get((id(left), id(right)))
        degree = str(link.degree)
        if known is None or RANK.get(degree, 3) < RANK.get(known[2], 3):
            surest[id(left), id(right)] = (left, right, degree)
    return [edge_drawn(left, right, degree) for left, right, degree in surest.values()]


def edge_drawn(left: Spot, right: Spot, degree: str) -> Markup:
    """One curve."""
    x1, x2 = left.x + BOX_W_PX, right.x
    middle = (x1 + x2) / 2
    return Markup(
        '<path class="edge {}" d="M{} {}C{} {} {} {} {} {}"><title>{}</title></path>'
    ).format(
        degree,
        *(round(number, 1) for number in (x1, left.y, middle, left.y)),
        *(round(number, 1) for number in (middle, right.y, x2, right.y)),
        f"{left.name} to {right.name}: {degree}",
    )


def shortened(words: str, most: int = MOST_LETTERS) -> str:
    """Words cut to what a box has room for."""
    if len(words) <= most:
        return words
    return words[: most - 1] + "\N{HORIZONTAL ELLIPSIS}"


def box_drawn(spot: Spot) -> Markup:
    """A box that leads to the trace of its lot, or opens its group; a group has a second edge."""
    x, y = round(spot.x + 8, 1), round(spot.y, 1)
    left, top = round(spot.x, 1), round(spot.y - BOX_H_PX / 2, 1)
    behind = Markup('<rect class="behind" x="{}" y="{}" width="{}" height="{}" rx="4"/>').format(
        left + 4, top + 4, BOX_W_PX, BOX_H_PX
    )
    return Markup(
        '<a class="node{}" href="{}"><title>{}</title>{}'
        '<rect x="{}" y="{}" width="{}" height="{}" rx="4"/>'
        '<text x="{}" y="{}" font-size="14" font-weight="600">{}</text>'
        '<text class="soft" x="{}" y="{}" font-size="12">{}</text></a>'
    ).format(
        (" here" if spot.here else "") + (" many" if spot.many else ""),
        spot.href,
        spot.title,
        behind if spot.many else "",
        left,
        top,
        BOX_W_PX,
        BOX_H_PX,
        x,
        y - 3,
        shortened(spot.name, MOST_BOLD),
        x,
        y + 15,
        shortened(spot.words),
    )


def more_drawn(x: float, height: float, number: int) -> Markup:
    """How many lots of a column are only in the tables."""
    return Markup('<text class="soft" x="{}" y="{}" font-size="13">{}</text>').format(
        round(x, 1), round(height + MORE_PX - 8, 1), f"and {number} more, in the table"
    )
