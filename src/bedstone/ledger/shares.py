"""Of which lots something was: shares that are nominal, certain, or only possible."""

from collections.abc import Iterable
from typing import Final, NamedTuple

__all__ = ["Attribution", "Blend", "Key", "Part", "Share", "attribution", "blend_of", "flat"]


class Share(NamedTuple):
    """A lot in something drawn. ``mass_mg`` is what the flow pattern says nominally, nothing where
    the lot is only possible; ``certain`` says that some of it must be there whatever the errors
    of the weighings. The lot None stands for something that nobody booked.
    """

    lot: str | None
    mass_mg: int
    certain: bool


class Attribution:
    """Of which lots one movement was. Possible lots are written out only when they are asked for."""

    __slots__ = ("_also", "_many", "_parts")

    def __init__(
        self, parts: tuple[tuple[str | None, int, bool], ...], also: list[str | None], many: int
    ) -> None:
        self._parts = parts
        self._also = also  # lengthened later by others: only the first ``_many`` are ours
        self._many = many

    def __repr__(self) -> str:
        return f"Attribution({self.shares!r})"

    @property
    def nominal(self) -> tuple[Share, ...]:
        """Shares that have a mass; together they are the mass of the movement."""
        return tuple(Share(*part) for part in self._parts)

    @property
    def shares(self) -> tuple[Share, ...]:
        """All shares: those with a mass first, then those that are only possible."""
        named = {part[0] for part in self._parts}
        also = (lot for lot in self._also[: self._many] if lot not in named)
        return (*self.nominal, *(Share(lot, 0, certain=False) for lot in dict.fromkeys(also)))

    @property
    def lots(self) -> tuple[str | None, ...]:
        """Every lot that may be in it."""
        named = dict.fromkeys(part[0] for part in self._parts)
        named.update(dict.fromkeys(self._also[: self._many]))
        return tuple(named)

    @property
    def is_sole(self) -> bool:
        """True when it can be of one lot only."""
        return len(self.lots) == 1


class Blend:
    """Something put in that is of several lots at once: what came out of another place."""

    __slots__ = ("is_sole", "lots", "mass_mg", "parts")

    def __init__(self, source: Attribution, mass_mg: int) -> None:
        self.parts: Final = source.nominal
        self.lots: Final = source.lots
        self.is_sole: Final = source.is_sole
        self.mass_mg: Final = mass_mg

    def split(self, mass_mg: int, *, certain: bool) -> list[Share]:
        """Return a part of the blend as its lots, to the milligram.

        Where one lot lies within the blend is not known, so a part of it holds a lot for certain
        only if the blend can be of no other, or if all of it is taken.
        """
        sure = certain and (self.is_sole or mass_mg >= self.mass_mg)
        weights = [part.mass_mg for part in self.parts]
        return [
            Share(part.lot, mass, sure and part.certain)
            for part, mass in zip(self.parts, shared_out(mass_mg, weights), strict=True)
        ]


Key = str | None | Blend
"""What a layer is of: a lot, something nobody booked, or a blend of lots."""

Part = tuple[Key, int, bool]
"""Key, mass and whether it is certain."""


def shared_out(mass_mg: int, weights: list[int]) -> list[int]:
    """Return a whole mass shared out by weight, exact in sum, the largest remainders rounded up.

    Weights are whole and not below nothing, one at least above it. Equal remainders go by order.
    """
    whole = sum(weights)
    out = [mass_mg * weight // whole for weight in weights]
    rest = mass_mg - sum(out)
    if rest:
        remainders = [mass_mg * weight % whole for weight in weights]
        order = sorted(range(len(weights)), key=lambda n: -remainders[n])
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
    parts = source.nominal
    if len(parts) == 1 and parts[0].certain and source.is_sole:
        return parts[0].lot
    return Blend(source, mass_mg)


def attribution(parts: list[Part], also: list[str | None], many: int) -> Attribution:
    """Return the attribution of parts whose keys may be blends, each lot once."""
    if len(parts) == 1 and not isinstance(parts[0][0], Blend):
        return Attribution(((parts[0][0], parts[0][1], parts[0][2]),), also, many)
    masses: dict[str | None, int] = {}
    sure: dict[str | None, bool] = {}
    for key, mass_mg, certain in parts:
        split = (
            key.split(mass_mg, certain=certain)
            if isinstance(key, Blend)
            else (Share(key, mass_mg, certain),)
        )
        for share in split:
            if share.mass_mg:
                masses[share.lot] = masses.get(share.lot, 0) + share.mass_mg
                sure[share.lot] = sure.get(share.lot, False) or share.certain
    return Attribution(tuple((lot, mass, sure[lot]) for lot, mass in masses.items()), also, many)
