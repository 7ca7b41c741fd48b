"""Facts of a small invented mill, for tests of records: loads, batches, shipments, in turn."""

import datetime as dt

from bedstone.ledger.model import Fact, How, Lot, LotKind, Movement, Reading

__all__ = ["AT", "batch", "day_of_facts", "load", "seen_empty"]

AT = dt.datetime(2026, 3, 2, 6, tzinfo=dt.UTC)
KG = 1_000_000


def load(n: int, *, kg: int = 24_000, place: str = "B01", material: str = "CORN") -> Fact:
    """The n-th load, a minute after the one before, weighed on a truck scale."""
    return Fact(
        kind="receiving.load_accepted/1",
        happened_at=AT + dt.timedelta(minutes=n),
        by="mara",
        content={"lot": f"L-{n:04d}", "firm": "NORTHFIELD", "into": place, "note": "dry & clean"},
        movements=(
            Movement(
                from_place="supplier/NORTHFIELD",
                to_place=place,
                mass_mg=kg * KG,
                material=material,
                how=How.WEIGHED,
                instrument="TRUCK",
                seen=Reading(number=f"{kg}", unit="kg", division="20"),
                mass_sd_mg=9 * KG,
                lot=f"L-{n:04d}",
            ),
        ),
        lots=(Lot(lot=f"L-{n:04d}", kind=LotKind.LOAD, material=material),),
    )


def batch(n: int, *, lot: str | None = None) -> Fact:
    """The n-th fact as a batch of two draws, mixed and sent to a finished bin."""
    lot = lot or f"4107-{n:02d}"
    return Fact(
        kind="batching.batch_made/1",
        happened_at=AT + dt.timedelta(minutes=n, seconds=30),
        by="otto",
        content={"batch": lot, "draws": [{"sequence": 1, "target_mg": 900 * KG}]},
        movements=(
            Movement(
                from_place="B01",
                to_place="MX1",
                mass_mg=901 * KG,
                material="CORN",
                how=How.WEIGHED,
                instrument="SC1",
                target_mg=900 * KG,
                mass_sd_mg=KG,
            ),
            Movement(
                from_place="B02", to_place="MX1", mass_mg=99 * KG, material="SBM", how=How.WEIGHED
            ),
            Movement(
                from_place="MX1",
                to_place="F01",
                mass_mg=1000 * KG,
                material="LAYER",
                how=How.RECKONED,
                lot=lot,
            ),
        ),
        lots=(Lot(lot=lot, kind=LotKind.BATCH, material="LAYER"),),
    )


def seen_empty(n: int, place: str) -> Fact:
    """The n-th fact says that a bin was seen empty, without a movement."""
    return Fact(
        kind="storage.bin_seen_empty/1",
        happened_at=AT + dt.timedelta(minutes=n),
        by="mara",
        content={"bin": place},
    )


def day_of_facts(many: int = 12) -> list[Fact]:
    """Loads and batches in turn."""
    return [batch(n) if n % 3 else load(n) for n in range(many)]
