"""The lots of a trace in columns by depth; a column too long to read is gathered by what it holds."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from bedstone.tracing.model import TraceLink

__all__ = ["MOST_IN_COLUMN", "MOST_OPENED", "Column", "Node", "columns_of", "surest_first"]

MOST_IN_COLUMN = 12
"""How many boxes of one depth are drawn while nothing is opened; the tables have all."""
MOST_OPENED = 60
"""How many boxes are drawn of a group that was opened."""
RANK = {"certain": 0, "possible": 1, "carry-over": 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """A box: one lot, or several of one kind and material, or all that went to one firm."""

    key: str  # of a group; empty for a single lot
    links: tuple[TraceLink, ...]

    @property
    def first(self) -> TraceLink:
        """The surest link of the box."""
        return self.links[0]

    @property
    def degree(self) -> str:
        """How sure its surest link is."""
        return str(self.first.degree)

    def counted(self) -> dict[str, int]:
        """How many lots of it are how sure."""
        found: dict[str, int] = {}
        for link in self.links:
            found[str(link.degree)] = found.get(str(link.degree), 0) + 1
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """The boxes of one depth, back below nothing and forward above, and how many are not drawn."""

    depth: int
    nodes: tuple[Node, ...]
    more: int


def surest_first(links: Iterable[TraceLink]) -> list[TraceLink]:
    """The links nearest first, then certain before possible, heavy before light."""
    return sorted(
        links, key=lambda one: (one.depth, RANK.get(str(one.degree), 3), -(one.mass_mg or 0))
    )


def columns_of(
    links: Iterable[TraceLink], *, side: int, opened: Collection[str] = ()
) -> tuple[Column, ...]:
    """The columns of one side of a trace (-1 back, 1 forward), nearest first.

    Each lot stands in the column in which it is met first. A column of more than a dozen lots is
    gathered; groups whose key is in ``opened`` are drawn lot by lot.
    """
    by_depth: dict[int, dict[str, TraceLink]] = {}
    seen: set[str] = set()
    for link in surest_first(links):
        if link.lot not in seen:
            seen.add(link.lot)
            by_depth.setdefault(max(1, link.depth), {})[link.lot] = link
    return tuple(
        _column(side * depth, list(by_depth[depth].values()), opened) for depth in sorted(by_depth)
    )


def _column(depth: int, links: list[TraceLink], opened: Collection[str]) -> Column:
    if len(links) <= MOST_IN_COLUMN:
        nodes = [Node(key="", links=(link,)) for link in links]
        return Column(depth=depth, nodes=tuple(nodes), more=0)
    groups: dict[str, list[TraceLink]] = {}
    for link in links:
        groups.setdefault(_key(depth, link), []).append(link)
    nodes, more, room = [], 0, MOST_IN_COLUMN
    for key, held in sorted(groups.items(), key=_surest_then_largest):
        if key in opened:
            nodes += [Node(key="", links=(link,)) for link in held[:MOST_OPENED]]
            more += max(0, len(held) - MOST_OPENED)
        elif room > 0:
            nodes.append(Node(key=key if len(held) > 1 else "", links=tuple(held)))
            room -= 1
        else:
            more += len(held)
    return Column(depth=depth, nodes=tuple(nodes), more=more)


def _surest_then_largest(item: tuple[str, list[TraceLink]]) -> tuple[int, int]:
    return RANK.get(str(item[1][0].degree), 3), -len(item[1])


def _key(depth: int, link: TraceLink) -> str:
    side = "b" if depth < 0 else "f"
    return f"{side}{abs(depth)}.{link.kind}.{link.firm or link.material}"
