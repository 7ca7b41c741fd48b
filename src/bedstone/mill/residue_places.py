"""The places in which feed leaves something behind, along the routes of the products."""

import itertools
from dataclasses import dataclass
from functools import cached_property

from bedstone.mill.model import Mill

__all__ = ["HoldUp", "ResiduePlaces", "way_of"]


def way_of(route: str) -> tuple[tuple[str, ...], ...]:
    """The steps of a product's route, each with its alternatives.

    Examples
    --------
    >>> way_of("MX1 > SB1 > PL1 > FB1|FB2 > SK1|LO1")
    (('MX1',), ('SB1',), ('PL1',), ('FB1', 'FB2'), ('SK1', 'LO1'))
    """
    steps = (
        tuple(code.strip() for code in step.split("|") if code.strip()) for step in route.split(">")
    )
    return tuple(step for step in steps if step)


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldUp:
    """What one place keeps, and how readily that exchanges with what passes."""

    place: str  # machine, bin, or a route as "A>B"
    hold_up_kg: float
    exchange_frac: float


@dataclass(frozen=True)
class ResiduePlaces:
    """The places of a mill that count for residue, numbered, and the chain along a route."""

    mill: Mill

    @cached_property
    def all(self) -> tuple[HoldUp, ...]:
        """Every place on any product's route, and the ways between them, in order of code."""
        codes: set[str] = set()
        ways: set[tuple[str, str]] = set()
        for product in self.mill.products:
            way = way_of(product.route)
            codes.update(code for step in way for code in step)
            for here, there in itertools.pairwise(way):
                ways.update((start, end) for start in here for end in there)
        codes.update(row.machine for row in self.mill.machines if row.kind == "mixer")
        places = [self._place(code) for code in sorted(codes)]
        places.extend(
            HoldUp(
                place=f"{row.start}>{row.end}",
                hold_up_kg=row.hold_up_kg,
                exchange_frac=row.exchange_frac,
            )
            for row in sorted(self.mill.routes, key=lambda row: (row.start, row.end))
            if (row.start, row.end) in ways
        )
        return tuple(places)

    @cached_property
    def number(self) -> dict[str, int]:
        """Number of each place."""
        return {row.place: number for number, row in enumerate(self.all)}

    def along(self, route: tuple[str, ...]) -> tuple[int, ...]:
        """Numbers of the places along a route, the ways between them included.

        Places through which no product may pass (a flush bin) keep nothing that matters.
        """
        numbers: list[int] = []
        for here, there in zip(("", *route), route, strict=False):
            for code in (f"{here}>{there}", there):
                number = self.number.get(code)
                if number is not None:
                    numbers.append(number)
        return tuple(numbers)

    def _place(self, code: str) -> HoldUp:
        machine = self.mill.machine_by_code.get(code)
        if machine is not None:
            return HoldUp(
                place=code,
                hold_up_kg=machine.hold_up_kg,
                exchange_frac=machine.exchange_frac,
            )
        row = self.mill.bin_by_code.get(code)
        return HoldUp(place=code, hold_up_kg=row.hold_up_kg if row else 0.0, exchange_frac=1.0)
