"""The walk along the graph of lots: the surest way to every lot that can be reached.

Ways are compared by the part that carry-over makes up (the product along the way, 1 without any)
and then by whether every step is certain. Both only fall along a way, so the best way to each lot
is found by going to the surest lot first (Dijkstra's method).
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from heapq import heappop, heappush

from bedstone.tracing.model import Degree, LotEdge, TracedLot, TraceLink

__all__ = ["LotEnds", "walk"]

Edges = Callable[[str], Iterable[LotEdge]]


@dataclass(frozen=True, slots=True)
class LotEnds:
    """Which end of an edge a walk comes from and which it goes to."""

    forward: bool

    def there(self, edge: LotEdge) -> str:
        """The lot that the edge leads to in this direction."""
        return edge.to_lot if self.forward else edge.from_lot


@dataclass(frozen=True, slots=True)
class _Way:
    share_frac: float
    is_certain: bool
    depth: int

    @property
    def rank(self) -> tuple[float, bool, int]:
        """Small is better."""
        return (-self.share_frac, not self.is_certain, self.depth)

    def along(self, edge: LotEdge) -> "_Way":
        """The way lengthened by an edge."""
        return _Way(
            self.share_frac * edge.share_frac,
            self.is_certain and edge.degree is Degree.CERTAIN,
            self.depth + 1,
        )

    @property
    def degree(self) -> Degree:
        """How surely the start and this lot belong together."""
        if self.share_frac < 1:
            return Degree.CARRY_OVER
        return Degree.CERTAIN if self.is_certain else Degree.POSSIBLE


def walk(
    edges: Edges,
    lots: Mapping[str, TracedLot],
    *,
    start: str,
    ends: LotEnds,
    carried_frac: float,
) -> tuple[TraceLink, ...]:
    """Every lot that is reached from a start, with each step by which it is reached.

    Parameters
    ----------
    edges : callable
        Edges at a lot in the direction of the walk.
    lots : mapping of str to TracedLot
        What is known of each lot.
    start : str
        Where the walk begins.
    ends : LotEnds
        Direction.
    carried_frac : float
        Least part that carry-over makes up to be followed. [kg/kg]

    Returns
    -------
    links : tuple of TraceLink
        Nearest first, then the surest, then the largest nominal mass. A lot that is reached without carry-over is listed
        without it; one reached by carry-over alone is listed by the largest.
    """
    best = _surest(edges, start, ends=ends, carried_frac=carried_frac)
    links: list[TraceLink] = []
    largest: dict[str, TraceLink] = {}
    for here, way in best.items():
        for edge in edges(here):
            there = ends.there(edge)
            if there == start or there not in best:
                continue
            longer = way.along(edge)
            link = _link(edge, lots[there], longer, here=here)
            if longer.share_frac >= 1:
                links.append(link)
            elif best[there].share_frac < 1 and (
                there not in largest or largest[there].share_frac < link.share_frac
            ):
                largest[there] = link
    links.extend(largest.values())
    links.sort(key=_likeliest_first)
    return tuple(links)


def _likeliest_first(link: TraceLink) -> tuple[int, int, bool, int, str, str]:
    """Nearest, surest, largest nominal mass; what has none comes last."""
    mass_mg = link.mass_mg or 0
    degree = list(Degree).index(link.degree)
    return (link.depth, degree, link.mass_mg is None, -mass_mg, link.lot, link.from_lot)


def _surest(edges: Edges, start: str, *, ends: LotEnds, carried_frac: float) -> dict[str, _Way]:
    best = {start: _Way(1.0, is_certain=True, depth=0)}
    heap = [(best[start].rank, start)]
    done: set[str] = set()
    while heap:
        _, here = heappop(heap)
        if here in done:
            continue
        done.add(here)
        for edge in edges(here):
            there = ends.there(edge)
            longer = best[here].along(edge)
            if longer.share_frac < carried_frac or there in done:
                continue
            if there not in best or longer.rank < best[there].rank:
                best[there] = longer
                heappush(heap, (longer.rank, there))
    return best


def _link(edge: LotEdge, lot: TracedLot, way: _Way, *, here: str) -> TraceLink:
    return TraceLink(
        lot=lot.lot,
        kind=lot.kind,
        material=lot.material,
        degree=way.degree,
        mass_mg=edge.mass_mg,
        through=edge.through,
        happened_at=edge.happened_at,
        depth=way.depth,
        firm=lot.lot.split("/", 1)[1] if lot.kind in ("supplier", "customer") else None,
        from_lot=here,
        share_frac=way.share_frac,
    )
