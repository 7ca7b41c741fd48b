"""Of which lots something was: shares that are nominal, certain, or only possible."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import Final, NamedTuple

__all__ = [
    "Attribution",
    "Blend",
    "Key",
    "Part",
    "Share",
    "attribution",
    "blend_of",
    "flat",
    "lots_in",
    "shared_out",
]

_DEEPEST: Final = 30  # blends of blends that are left to be written out later


class Share(NamedTuple):
    """A lot in something drawn. ``mass_mg`` is what the flow pattern says nominally, nothing where
    the lot is only possible; ``certain`` says that some of it must be there whatever the errors
    of the weighings. The lot None stands for something that nobody booked.
    """

    lot: str | None
    mass_mg: int
    certain: bool


class LotsSoFar(list[str | None]):
    """Lots that came into a place since it was seen empty, each once; only ever lengthened, so that
    attributions may point into it.
    """


class Attribution:
    """Of which lots one movement was. Possible lots are written out only when they are asked for.

    ``parts`` are lot, nominal mass and the least mass that must be of it; above nothing is certain.
    ``also`` and ``many`` are what is possible besides: the first so many of a list.
    """

    __slots__ = ("also", "many", "parts")

    def __init__(
        self, parts: tuple[tuple[str | None, int, int], ...], also: "Sequence[Key]", many: int
    ) -> None:
        self.parts: Final = parts
        self.also: Final = also
        self.many: Final = many

    def __repr__(self) -> str:
        return f"Attribution({self.shares!r})"

    @property
    def nominal(self) -> tuple[Share, ...]:
        """Shares that have a mass; together they are the mass of the movement."""
        return tuple(Share(lot, mass_mg, least_mg > 0) for lot, mass_mg, least_mg in self.parts)

    @property
    def shares(self) -> tuple[Share, ...]:
        """All shares: those with a mass first, then those that are only possible."""
        possible = self.lots[len(self.parts) :]
        return (*self.nominal, *(Share(lot, 0, certain=False) for lot in possible))

    @property
    def lots(self) -> tuple[str | None, ...]:
        """Every lot that may be in it, those with a mass first."""
        named = dict.fromkeys(part[0] for part in self.parts)
        named.update(dict.fromkeys(flat(islice(self.also, self.many))))
        return tuple(named)

    @property
    def is_sole(self) -> bool:
        """True when it can be of one lot only."""
        if len(self.parts) != 1:
            return False
        lot = self.parts[0][0]
        return all(key == lot for key in islice(self.also, self.many))


class Blend:
    """Something put in that is of several lots at once: what came out of another place."""

    __slots__ = ("_lots", "depth", "mass_mg", "parts", "source")

    def __init__(self, source: Attribution, mass_mg: int) -> None:
        self.source: Final = source
        self.parts: Final = source.parts
        self.mass_mg: Final = mass_mg
        self._lots: tuple[str | None, ...] | None = None
        self.depth: int = 1 + max((key.depth for key in _blends(source)), default=0)
        if self.depth > _DEEPEST:  # else a circle of places would be followed round and round
            self._lots = source.lots
            self.depth = 0

    @property
    def lots(self) -> tuple[str | None, ...]:
        """Every lot that may be in it, those with a mass first."""
        if self._lots is None:
            self._lots = self.source.lots
        return self._lots

    def split(self, mass_mg: int, *, least_mg: int) -> list[tuple[str | None, int, int]]:
        """Return a part of the blend as its lots: masses to the milligram, and the least of each.

        Where a lot lies within the blend is not known: what is not taken may be all of it.
        ``least_mg`` is how much of the part must be of this blend at all.
        """
        elsewhere_mg = self.mass_mg - least_mg
        sole = self.source.is_sole
        masses = shared_out(mass_mg, [mass for _, mass, _ in self.parts])
        return [
            (lot, mass, max(0, (self.mass_mg if sole else least) - elsewhere_mg))
            for (lot, _, least), mass in zip(self.parts, masses, strict=True)
        ]


Key = str | None | Blend
"""What a layer is of: a lot, something nobody booked, or a blend of lots."""

Part = tuple[Key, int, int]
"""Key, nominal mass, and the least mass of it that must be there (nothing or less: not certain)."""


def _blends(source: Attribution) -> Iterator[Blend]:
    if not isinstance(source.also, LotsSoFar):
        for key in islice(source.also, source.many):
            if isinstance(key, Blend):
                yield key


def shared_out(mass_mg: int, weights: list[int]) -> list[int]:
    """Return a whole mass shared out by weight, exact in sum, the largest remainders rounded up.

    Weights are whole and not below nothing, one at least above it. Equal remainders go by order.
    """
    whole = sum(weights)
    split = [divmod(mass_mg * weight, whole) for weight in weights]
    out = [part for part, _ in split]
    rest = mass_mg - sum(out)
    if rest:
        remainders = [remainder for _, remainder in split]
        order = sorted(range(len(weights)), key=remainders.__getitem__, reverse=True)
        for n in order[:rest]:
            out[n] += 1
    return out


def flat(keys: Iterable[Key]) -> list[str | None]:
    """Return the lots that the keys may be of."""
    out: list[str | None] = []
    for key in keys:
        if isinstance(key, Blend):
            out.extend(key.lots)
        else:
            out.append(key)
    return out


def blend_of(source: Attribution, mass_mg: int) -> Key:
    """Return the key of what came out of another place: the lot itself if it can be no other."""
    if len(source.parts) == 1 and source.is_sole:
        return source.parts[0][0]
    return Blend(source, mass_mg)


def lots_in(key: Key, mass_mg: int, *, least_mg: int) -> list[tuple[str | None, int, int]]:
    """Return lot, nominal mass and least mass of each lot in a part of something."""
    if isinstance(key, Blend):
        return key.split(mass_mg, least_mg=least_mg)
    return [(key, mass_mg, least_mg)]


def attribution(parts: list[Part], also: Sequence[Key], many: int) -> Attribution:
    """Return the attribution of parts whose keys may be blends, each lot once."""
    plain = [(key, mass, least) for key, mass, least in parts if not isinstance(key, Blend)]
    if len(plain) == len(parts) and len({part[0] for part in plain}) == len(parts):
        return Attribution(tuple(plain), also, many)
    masses: dict[str | None, int] = {}
    leasts: dict[str | None, int] = {}
    for key, mass_mg, least_mg in parts:
        for lot, lot_mg, lot_least_mg in lots_in(key, mass_mg, least_mg=least_mg):
            if lot_mg:
                masses[lot] = masses.get(lot, 0) + lot_mg
                leasts[lot] = leasts.get(lot, 0) + max(0, lot_least_mg)
    return Attribution(tuple((lot, mass, leasts[lot]) for lot, mass in masses.items()), also, many)
