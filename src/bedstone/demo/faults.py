"""Hidden faults of a simulated mill, with their truth: what is wrong, where, since when, how much.

A fault changes what truly flows, never what is written down. A detector is scored against these
values and must not be given them.
"""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

__all__ = ["NO_FAULTS", "Fault", "FaultKind", "Faults"]

DAY_S = 86_400.0


class FaultKind(StrEnum):
    """What can go wrong unnoticed. ``where`` and ``size`` of a fault mean what stands here."""

    GAIN_STEP = "gain step"  # meter, scale: this part more truly flows than is read
    SLOW_DRIFT = "slow drift"  # meter, scale: this part more with each day
    ZERO_SHIFT = "zero shift"  # scale: this many kg more truly go with each draw
    STUCK = "stuck reading"  # tank or machine: its gauge goes on showing what it showed
    WRONG_BIN = "wrong bin opened"  # bin: what is drawn from it really comes from ``other``
    DOUBLE_MICRO = "double micro"  # ingredient: so many further draws really go in twice
    WORN_MIXER = "worn mixer"  # mixer: its coefficient of variation is so many times as large
    WEAK_FAN = "weak cooler fan"  # pellet line: this part of the air is missing
    WET_STEAM = "wet steam"  # pellet line: this part of the vapour in its steam is water


MENDED = (FaultKind.GAIN_STEP, FaultKind.SLOW_DRIFT, FaultKind.ZERO_SHIFT)
"""What an adjustment puts right."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One fault and its truth; without an end it is still there."""

    kind: FaultKind
    where: str
    size: float
    begins_at: dt.datetime
    ends_at: dt.datetime | None = None
    other: str = ""
    cause: str = ""

    def is_on(self, at: dt.datetime) -> bool:
        """True while the fault is there."""
        return self.begins_at <= at and (self.ends_at is None or at < self.ends_at)


@dataclass(frozen=True, slots=True)
class Faults:
    """All faults of a run of the simulator; none of them is known to the mill."""

    rows: tuple[Fault, ...] = ()

    def _on(self, kind: FaultKind, where: str, at: dt.datetime) -> Iterator[Fault]:
        for row in self.rows:
            if row.kind is kind and row.where == where and row.is_on(at):
                yield row

    def gain(self, instrument: str, at: dt.datetime) -> float:
        """What truly flows, as a part of what the instrument reads; one when all is well."""
        gain = 1.0
        for row in self._on(FaultKind.GAIN_STEP, instrument, at):
            gain *= 1 + row.size
        for row in self._on(FaultKind.SLOW_DRIFT, instrument, at):
            gain *= 1 + row.size * (at - row.begins_at).total_seconds() / DAY_S
        return gain

    def mended(self, instrument: str, at: dt.datetime) -> "Faults":
        """The same, with what is wrong with an instrument put right from a moment on."""
        return Faults(
            tuple(
                replace(row, ends_at=at)
                if row.where == instrument and row.kind in MENDED and row.is_on(at)
                else row
                for row in self.rows
            )
        )

    def zero_kg(self, instrument: str, at: dt.datetime) -> float:
        """What truly goes with each draw beside what is read. [kg]"""
        return sum(row.size for row in self._on(FaultKind.ZERO_SHIFT, instrument, at))

    def stuck_since(self, where: str, at: dt.datetime) -> dt.datetime | None:
        """Since when a gauge shows the same, or None."""
        return min((row.begins_at for row in self._on(FaultKind.STUCK, where, at)), default=None)

    def really_from(self, place: str, at: dt.datetime) -> str:
        """The bin that what is drawn from a place really comes from."""
        return next((row.other for row in self._on(FaultKind.WRONG_BIN, place, at)), place)

    def doubles(self, ingredient: str, at: dt.datetime, *, so_far: int) -> bool:
        """True if a draw of a micro really goes in twice, after so many that did."""
        rows = self._on(FaultKind.DOUBLE_MICRO, ingredient, at)
        return so_far < sum(round(row.size) for row in rows)

    def unevenness(self, mixer: str, at: dt.datetime) -> float:
        """How many times as unevenly as it should a mixer mixes."""
        times = 1.0
        for row in self._on(FaultKind.WORN_MIXER, mixer, at):
            times *= row.size
        return times

    def air_frac(self, line: str, at: dt.datetime) -> float:
        """The part of its air that a pellet line's cooler really gets."""
        part = 1.0
        for row in self._on(FaultKind.WEAK_FAN, line, at):
            part *= 1 - row.size
        return part

    def dry_frac(self, line: str, at: dt.datetime) -> float:
        """The part of the usual vapour that a line's steam really brings."""
        part = 1.0
        for row in self._on(FaultKind.WET_STEAM, line, at):
            part *= 1 - row.size
        return part


NO_FAULTS = Faults()
