"""A control chart of one instrument, and the flows of the mill as bands, as SVG."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence

from markupsafe import Markup

from bedstone.desk.balance import Balance
from bedstone.desk.watch_history import ChartPoint, History
from bedstone.ledger.model import is_outside
from bedstone.mill.model import Mill
from bedstone.web.show import Show

__all__ = ["chart_picture", "control_picture", "flow_picture"]

WIDTH, HEIGHT = 900, 354
LEFT, RIGHT, TOP, BOTTOM = 96, 16, 30, 66
MG_KG = 1e6
COLUMNS = (
    ("suppliers", "steam", "opening"),
    ("ingredient bins", "tanks", "floor"),
    ("grinding",),
    ("ground bins",),
    ("mixing",),
    ("surge bins", "flush bin"),
    ("pelleting",),
    ("finished bins",),
    ("packing", "load-out"),
    ("warehouse",),
    ("customers", "air", "scrap"),
)
WORDS = {
    "supplier": "suppliers", "customer": "customers", "ingredient": "ingredient bins",
    "tank": "tanks", "ground": "ground bins", "surge": "surge bins", "flush": "flush bin",
    "finished": "finished bins", "pellet line": "pelleting", "sacking line": "packing",
    "mixer": "mixing", "load-out": "load-out", "bulk load-out": "load-out",
}  # fmt: skip
FLOW_W = 1_360
NODE_W, NODE_GAP, LEAST_H = 12, 12, 1.5
FLOW_H = 520


def _text(x: float, y: float, words: str, *, anchor: str = "start", css: str = "") -> Markup:
    return Markup('<text x="{}" y="{}" text-anchor="{}" class="{}">{}</text>').format(
        round(x, 1), round(y, 1), anchor, css, words
    )


def _line(x1: float, y1: float, x2: float, y2: float, css: str) -> Markup:
    return Markup('<line x1="{}" y1="{}" x2="{}" y2="{}" class="{}"/>').format(
        round(x1, 1), round(y1, 1), round(x2, 1), round(y2, 1), css
    )


def _svg(height: float, label: str, parts: Sequence[Markup], *, width: int = WIDTH) -> Markup:
    top = Markup(
        '<svg xmlns="http://www.w3.org/2000/svg" class="line-picture" viewBox="0 0 {} {}" '
        'role="img" aria-label="{}">'
    ).format(width, round(height), label)
    return Markup("").join([top, *parts, Markup("</svg>")])


def chart_picture(history: History, show: Show) -> Markup:
    """Level less book at each reading, with its error, proofs, power events and the beginning."""
    points = history.points
    if not points:
        return Markup("")
    low_at, high_at = points[0].at, points[-1].at
    span_s = max((high_at - low_at).total_seconds(), 1.0)
    low = min(0.0, *(row.more_kg - 2 * row.sd_kg for row in points))
    high = max(0.0, *(row.more_kg + 2 * row.sd_kg for row in points))

    def x(at: dt.datetime) -> float:
        part = (at - low_at).total_seconds() / span_s
        return LEFT + (WIDTH - LEFT - RIGHT) * min(1.0, max(0.0, part))

    def y(kg: float) -> float:
        return TOP + (HEIGHT - TOP - BOTTOM) * (high - kg) / max(high - low, 1e-9)

    parts = [*_suspected(history, x), _line(LEFT, y(0), WIDTH - RIGHT, y(0), "axis")]
    for kg in (low, 0.0, high):
        words = show.mass(round(kg * MG_KG))
        parts.append(_text(LEFT - 8, y(kg) + 5, words, anchor="end", css="soft"))
    parts += _marks(history, x, low_at, high_at)
    for row in points:
        parts += _point(row, x(row.at), y)
    parts += _ends(show, low_at, high_at)
    label = f"Level of {history.place} less the books at each of {len(points)} readings"
    return _svg(HEIGHT, label, parts)


def control_picture(history: History, show: Show) -> Markup:
    """The best witness as a control chart: each result, its moving average and the limits."""
    points = history.control
    if not points:
        return Markup("")
    low_at, high_at = points[0].at, points[-1].at
    span_s = max((high_at - low_at).total_seconds(), 1.0)
    high = max(4.0, *(min(8.0, abs(row.said)) for row in points))

    def x(at: dt.datetime) -> float:
        part = (at - low_at).total_seconds() / span_s
        return LEFT + (WIDTH - LEFT - RIGHT) * min(1.0, max(0.0, part))

    def y(said: float) -> float:
        held = min(high, max(-high, said))
        return TOP + (HEIGHT - TOP - BOTTOM) * (high - held) / (2 * high)

    parts = [*_suspected(history, x), _line(LEFT, y(0), WIDTH - RIGHT, y(0), "axis")]
    parts += [
        _text(
            LEFT - 8, y(level) + 5, f"{level:+.0f} sd" if level else "0", anchor="end", css="soft"
        )
        for level in (-high, 0.0, high)
    ]
    parts += [
        _path([(x(row.at), y(sign * row.limit)) for row in points], "needed") for sign in (-1, 1)
    ]
    parts += _marks(history, x, low_at, high_at)
    parts += [_dot(x(row.at), y(row.said)) for row in points]
    parts.append(_path([(x(row.at), y(row.average)) for row in points], "curve"))
    parts += _ends(show, low_at, high_at)
    beyond = sum(abs(row.average) > row.limit > 0 for row in points)
    label = (
        f"Control chart of {history.code} by {history.witness}: {len(points)} results, the moving "
        f"average beyond its limits at {beyond} of them"
    )
    return _svg(HEIGHT, label, parts)


def _dot(x: float, y: float) -> Markup:
    return Markup('<circle class="dot" cx="{}" cy="{}" r="2.5"/>').format(round(x, 1), round(y, 1))


def _ends(show: Show, low_at: dt.datetime, high_at: dt.datetime) -> list[Markup]:
    """The first and the last moment, below the chart."""
    return [
        _text(LEFT, HEIGHT - 8, show.moment(low_at), css="soft"),
        _text(WIDTH - RIGHT, HEIGHT - 8, show.moment(high_at), anchor="end", css="soft"),
    ]


def _path(points: Sequence[tuple[float, float]], css: str) -> Markup:
    way = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return Markup('<polyline class="{}" fill="none" points="{}"/>').format(css, way)


def _point(row: ChartPoint, at: float, y: Callable[[float], float]) -> list[Markup]:
    low, high = y(row.more_kg - 2 * row.sd_kg), y(row.more_kg + 2 * row.sd_kg)
    return [
        _line(at, low, at, high, "spread"),
        Markup('<circle class="here" cx="{}" cy="{}" r="{}"/>').format(
            round(at, 1), round(y(row.more_kg), 1), 6 if row.is_count else 4.5
        ),
    ]


def _suspected(history: History, x: Callable[[dt.datetime], float]) -> list[Markup]:
    """The interval in which the change began."""
    suspect = history.suspect
    if suspect is None:
        return []
    low, high = x(suspect.begins_lo_at), x(suspect.begins_hi_at)
    return [
        Markup('<rect class="interval" x="{}" y="{}" width="{}" height="{}"/>').format(
            round(low, 1), TOP, round(max(3.0, high - low), 1), HEIGHT - TOP - BOTTOM
        ),
        _text((low + high) / 2, TOP - 10, "began here", anchor="middle"),
    ]


def _marks(
    history: History, x: Callable[[dt.datetime], float], low_at: dt.datetime, high_at: dt.datetime
) -> list[Markup]:
    """Proofs as solid lines, power events as dashed ones, each with its word."""
    bottom = HEIGHT - BOTTOM
    marks = [(row.proved_at, "proved", "axis", 18) for row in history.proofs]
    marks += [(row.from_at, "power failed", "needed", 34) for row in history.power]
    parts = []
    for at, words, css, below in marks:
        if low_at <= at <= high_at:
            parts.append(_line(x(at), TOP, x(at), bottom + below - 12, css))
            parts.append(_text(x(at), bottom + below, words, anchor="middle", css="soft"))
    return parts


def flow_picture(balance: Balance, mill: Mill, show: Show) -> Markup:
    """The mass that went from one kind of station to the next, as bands as wide as the mass."""
    agreed = {row.flow: row.agreed_kg for row in balance.reconciled.flows}
    booked: dict[tuple[str, str], float] = {}
    for row in balance.flows:
        start, end = _group(mill, row.from_place), _group(mill, row.to_place)
        known = agreed[row.flow]
        kg = balance.booked_kg.get(row.flow, 0.0) if known is None else known
        if start != end and "stock" not in (start, end) and kg > 0:
            booked[start, end] = booked.get((start, end), 0.0) + kg
    names = {name for pair in booked for name in pair}
    columns = [[name for name in sorted(names) if _column(name) == number]
               for number in range(len(COLUMNS))]  # fmt: skip
    columns = [column for column in columns if column]
    through = {
        name: max(
            sum(kg for (start, _), kg in booked.items() if start == name),
            sum(kg for (_, end), kg in booked.items() if end == name),
        )
        for name in names
    }
    most = max((sum(through[name] for name in column) for column in columns), default=1.0)
    scale = (
        FLOW_H - 100 - (NODE_GAP + 34) * max((len(column) for column in columns), default=1)
    ) / most
    at = _laid_out(columns, through, scale)
    parts = [*_bands(booked, at, scale)]
    for name in sorted(names):
        x, y = at[name]
        height = max(LEAST_H, through[name] * scale)
        parts.append(
            Markup('<rect class="level" x="{}" y="{}" width="{}" height="{}"/>').format(
                round(x, 1), round(y, 1), NODE_W, round(height, 1)
            )
        )
        end = "end" if x > FLOW_W - 140 else "start"
        edge = x + NODE_W if end == "end" else x
        parts.append(_text(edge, y - 20, name, anchor=end))
        parts.append(
            _text(edge, y - 4, show.mass(round(through[name] * MG_KG)), anchor=end, css="soft")
        )
    return _svg(FLOW_H, "Mass from one kind of station to the next", parts, width=FLOW_W)


def _group(mill: Mill, place: str) -> str:
    """The kind of a place, in words."""
    if is_outside(place):
        kind = place.split("/", 1)[0]
    elif place in mill.machine_by_code:
        kind = mill.machine_by_code[place].kind
        if any(word in kind for word in ("grind", "mill", "crack", "roll")):
            kind = "grinding"
    else:
        kind = mill.bin_by_code[place].kind if place in mill.bin_by_code else place
    return WORDS.get(kind, kind)


def _column(name: str) -> int:
    for number, kinds in enumerate(COLUMNS):
        if name in kinds:
            return number
    return len(COLUMNS) - 2


def _laid_out(
    columns: Sequence[Sequence[str]], through: Mapping[str, float], scale: float
) -> dict[str, tuple[float, float]]:
    at = {}
    step = (FLOW_W - NODE_W - 20) / max(1, len(columns) - 1)
    for number, column in enumerate(columns):
        y = 84.0 if number == len(columns) - 1 else 44.0  # room for the words beside
        for name in column:
            at[name] = 10 + number * step, y
            y += max(LEAST_H, through[name] * scale) + NODE_GAP + 34
    return at


def _bands(
    booked: Mapping[tuple[str, str], float], at: Mapping[str, tuple[float, float]], scale: float
) -> list[Markup]:
    left = {name: y for name, (_, y) in at.items()}
    right = dict(left)
    parts = []
    for (start, end), kg in sorted(
        booked.items(), key=lambda pair: (at[pair[0][0]], at[pair[0][1]])
    ):
        height = max(0.5, kg * scale)
        x1, x2 = at[start][0] + NODE_W, at[end][0]
        y1, y2 = right[start], left[end]
        right[start] += height
        left[end] += height
        bend = (x1 + x2) / 2
        path = (
            f"M{x1:.1f} {y1:.1f} C{bend:.1f} {y1:.1f} {bend:.1f} {y2:.1f} {x2:.1f} {y2:.1f} "
            f"v{height:.1f} C{bend:.1f} {y2 + height:.1f} {bend:.1f} {y1 + height:.1f} "
            f"{x1:.1f} {y1 + height:.1f} Z"
        )
        parts.append(Markup('<path d="{}" fill="#9aa1a6" fill-opacity="0.4"/>').format(path))
    return parts
