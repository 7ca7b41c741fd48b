"""The graph of a trace: lots in columns by depth, laid out here, drawn as SVG."""

from collections.abc import Iterable
from dataclasses import dataclass

from markupsafe import Markup

from bedstone.tracing.model import Trace, TraceLink
from bedstone.web.show import Show

__all__ = ["MOST_LOTS", "lot_graph"]

BOX_W_PX, BOX_H_PX = 178, 46
STEP_X_PX, STEP_Y_PX = 268, 60
MOST_LETTERS = 24
MOST_LOTS = 60
"""How many lots are drawn; the table below the picture has all."""


@dataclass(frozen=True, kw_only=True)
class Spot:
    """Where a lot stands in the picture."""

    lot: str
    words: str
    x: float
    y: float


def lot_graph(trace: Trace, show: Show) -> Markup:
    """The picture of a trace: what went in on the left, what it became on the right."""
    back, forward = nearest(trace.back), nearest(trace.forward)
    columns: dict[int, list[TraceLink]] = {}
    for side, links in ((-1, back), (1, forward)):
        seen: set[str] = set()
        for link in links:
            if link.lot not in seen:
                seen.add(link.lot)
                columns.setdefault(side * max(1, link.depth), []).append(link)
    lowest, highest = min([0, *columns]), max([0, *columns])
    tallest = max([1, *(len(column) for column in columns.values())])
    height = tallest * STEP_Y_PX + 24
    spots = spots_of(trace, columns, lowest=lowest, height=height, show=show)
    width = (highest - lowest) * STEP_X_PX + BOX_W_PX + 20
    parts = [
        Markup(
            '<svg class="lots-graph" xmlns="http://www.w3.org/2000/svg" width="{}" height="{}" '
            'viewBox="0 0 {} {}" role="group" aria-label="{}">'
        ).format(width, height, width, height, f"Lots that lot {trace.lot} is joined to")
    ]
    parts.extend(edges_drawn(trace, back, spots, side=-1))
    parts.extend(edges_drawn(trace, forward, spots, side=1))
    for (_side, lot), spot in spots.items():
        parts.append(box_drawn(spot, here=lot == trace.lot))
    parts.append(Markup("</svg>"))
    return Markup("").join(parts)


def nearest(links: Iterable[TraceLink]) -> list[TraceLink]:
    """The links that are drawn: nearest first, certain before possible, heavy before light."""
    rank = {"certain": 0, "possible": 1, "carry-over": 2}
    ordered = sorted(
        links, key=lambda one: (one.depth, rank.get(str(one.degree), 3), -(one.mass_mg or 0))
    )
    return ordered[:MOST_LOTS]


def spots_of(
    trace: Trace, columns: dict[int, list[TraceLink]], *, lowest: int, height: float, show: Show
) -> dict[tuple[int, str], Spot]:
    """Where every lot stands, keyed by side and lot."""
    spots = {
        (0, trace.lot): Spot(
            lot=trace.lot,
            words=show.name(trace.material),
            x=-lowest * STEP_X_PX + 6,
            y=height / 2,
        )
    }
    for column, links in columns.items():
        gap = height / len(links)
        for number, link in enumerate(links):
            spots[(1 if column > 0 else -1, link.lot)] = Spot(
                lot=link.lot,
                words=link.firm_name or show.name(link.material),
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
        if str(link.degree) != "certain":
            drawn.append(
                Markup(
                    '<text class="soft" x="{}" y="{}" font-size="12" text-anchor="middle">{}</text>'
                ).format(
                    round(far.x + BOX_W_PX + 42 if side < 0 else far.x - 42, 1),
                    round(far.y - 5, 1),
                    str(link.degree),
                )
            )
    return drawn


def box_drawn(spot: Spot, *, here: bool) -> Markup:
    """A lot as a box that leads to its own trace."""
    words = spot.words
    if len(words) > MOST_LETTERS:
        words = words[: MOST_LETTERS - 1] + "\N{HORIZONTAL ELLIPSIS}"
    return Markup(
        '<a class="node{}" href="/trace?lot={}"><rect x="{}" y="{}" width="{}" height="{}" rx="4"/>'
        '<text x="{}" y="{}" font-size="14" font-weight="600">{}</text>'
        '<text class="soft" x="{}" y="{}" font-size="12">{}</text></a>'
    ).format(
        " here" if here else "",
        spot.lot,
        round(spot.x, 1),
        round(spot.y - BOX_H_PX / 2, 1),
        BOX_W_PX,
        BOX_H_PX,
        round(spot.x + 8, 1),
        round(spot.y - 3, 1),
        spot.lot,
        round(spot.x + 8, 1),
        round(spot.y + 15, 1),
        words,
    )
