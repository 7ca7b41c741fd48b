"""After a draw that went wrong: the rest of the batch made to fit, or held with the arithmetic."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bedstone.errors import BadInput

__all__ = ["Allowed", "Rebalanced", "rebalance"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowed:
    """An ingredient of a batch: its share by formula and what the formula allows, 0 to 1."""

    ingredient: str
    share: float
    low: float
    high: float

    def __post_init__(self) -> None:
        """Refuse shares out of order."""
        if not 0 <= self.low <= self.share <= self.high <= 1:
            raise BadInput(
                f"Shares of {self.ingredient} are out of order.",
                seen=f"{self.low:g}, {self.share:g}, {self.high:g}",
                allowed="0 <= least <= formula <= most <= 1",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebalanced:
    """New targets of what is still to be weighed, or why the batch must be held."""

    fits: bool
    batch_kg: float
    targets_kg: Mapping[str, float]  # of what is not weighed yet
    arithmetic: tuple[str, ...]
    why_not: str


def rebalance(
    parts: Sequence[Allowed],
    weighed_kg: Mapping[str, float],
    *,
    planned_kg: float,
    least_kg: float,
    most_kg: float,
) -> Rebalanced:
    """The batch that keeps all shares allowed with what is already in, nearest to the planned one.

    Parameters
    ----------
    parts : sequence of Allowed
        All ingredients; formula shares add up to 1.
    weighed_kg : mapping of str to float
        What is in the mixer already. [kg]
    planned_kg, least_kg, most_kg : float
        The batch as planned, and what the mixer holds least and most. [kg]

    Returns
    -------
    rebalanced : Rebalanced
        With the arithmetic, line by line, for the operator.

    Raises
    ------
    BadInput
        If something weighed is not in the formula, or shares do not add up to 1.

    Sources
    -------
    [1] A batch of M kg needs low M <= weighed <= high M of each weighed ingredient, and room for
        the rest between the sums of their limits: an interval of M for each, and their overlap.
    """
    known = {part.ingredient for part in parts}
    strange = sorted(set(weighed_kg) - known)
    if strange or abs(sum(part.share for part in parts) - 1) > 1e-6:  # noqa: PLR2004 - rounding
        raise BadInput(
            "The batch does not match its formula.",
            seen=", ".join(strange) or f"shares add up to {sum(p.share for p in parts):g}",
            allowed=", ".join(sorted(known)) + "; shares that add up to 1",
        )
    rest = [part for part in parts if part.ingredient not in weighed_kg]
    room = _room(parts, weighed_kg, least_kg, most_kg)
    if room.low_kg > room.high_kg * (1 + 1e-12):
        return Rebalanced(
            fits=False,
            batch_kg=planned_kg,
            targets_kg={},
            arithmetic=tuple(room.lines),
            why_not=(
                f"{room.low_by} asks for {room.low_kg:.1f} kg or more, "
                f"{room.high_by} for {room.high_kg:.1f} kg or less"
            ),
        )
    batch_kg = min(max(planned_kg, room.low_kg), room.high_kg)
    targets = _targets(rest, batch_kg, batch_kg - sum(weighed_kg.values()))
    weigh = [f"{name}: weigh {mass:.2f} kg" for name, mass in targets.items()]
    return Rebalanced(
        fits=True,
        batch_kg=batch_kg,
        targets_kg=targets,
        arithmetic=(*room.lines, *weigh),
        why_not="",
    )


@dataclass(slots=True)
class _Room:
    """Least and greatest batch, what each comes from, and the lines that say so."""

    low_kg: float
    high_kg: float
    low_by: str
    high_by: str
    lines: list[str]

    def at_least(self, mass_kg: float, by: str) -> None:
        if mass_kg > self.low_kg:
            self.low_kg, self.low_by = mass_kg, by

    def at_most(self, mass_kg: float, by: str) -> None:
        if mass_kg < self.high_kg:
            self.high_kg, self.high_by = mass_kg, by


def _room(
    parts: Sequence[Allowed], weighed_kg: Mapping[str, float], least_kg: float, most_kg: float
) -> _Room:
    done_kg = sum(weighed_kg.values())
    room = _Room(
        least_kg, most_kg, "the mixer's least", "the mixer's most",
        [f"in the mixer: {done_kg:.2f} kg"],
    )  # fmt: skip
    for part in parts:
        if part.ingredient not in weighed_kg:
            continue
        mass = weighed_kg[part.ingredient]
        if part.high:
            room.at_least(mass / part.high, f"most of {part.ingredient}, {100 * part.high:.3g} %")
        if part.low:
            room.at_most(mass / part.low, f"least of {part.ingredient}, {100 * part.low:.3g} %")
        room.lines.append(
            f"{part.ingredient}: {mass:.2f} kg is {100 * part.low:.3g} to {100 * part.high:.3g} % of "
            + (f"{mass / part.high:.1f}" if part.high else "no batch")
            + (f" to {mass / part.low:.1f} kg" if part.low else " kg or more")
        )
    rest = [part for part in parts if part.ingredient not in weighed_kg]
    free_low, free_high = sum(part.low for part in rest), sum(part.high for part in rest)
    if free_low < 1:
        room.at_least(done_kg / (1 - free_low), "least of what is still to come")
    if free_high < 1:
        room.at_most(done_kg / (1 - free_high), "most of what is still to come")
    room.lines.append(
        f"so the batch must lie between {room.low_kg:.1f} kg ({room.low_by}) "
        f"and {room.high_kg:.1f} kg ({room.high_by})"
    )
    return room


def _targets(rest: Sequence[Allowed], batch_kg: float, to_come_kg: float) -> dict[str, float]:
    """What is still to come, shared out nearest to the formula within the limits."""
    masses = {part.ingredient: part.share * batch_kg for part in rest}
    for _ in range(len(rest) + 1):
        short = to_come_kg - sum(masses.values())
        moved = [
            part
            for part in rest
            if (masses[part.ingredient] < part.high * batch_kg - 1e-12 if short > 0
                else masses[part.ingredient] > part.low * batch_kg + 1e-12)
        ]  # fmt: skip
        whole = sum(part.share for part in moved)
        if abs(short) < 1e-9 or not moved or whole == 0:  # noqa: PLR2004 - a microgram
            break
        for part in moved:
            wanted = masses[part.ingredient] + short * part.share / whole
            masses[part.ingredient] = min(max(wanted, part.low * batch_kg), part.high * batch_kg)
    return masses
