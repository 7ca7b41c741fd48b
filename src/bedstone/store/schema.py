"""Tables of the record. The text of a fact is the truth; movements and lots are drawn from it.

Times are whole microseconds since 1970 in UTC, masses whole milligrams. Checks stand at the
level of the table, because migrations drop those that stand inside a column.
"""

from typing import Final

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    PrimaryKeyConstraint,
    Table,
    Text,
    column,
)

__all__ = [
    "FACTS",
    "LOTS",
    "METADATA",
    "MOVEMENTS",
    "PINS",
    "SESSIONS",
    "STOCK_LINES",
    "STOCK_MARKS",
]

_Whole: Final = BigInteger().with_variant(Integer, "sqlite")
_Words: Final = Text().with_variant(Text(collation="C"), "postgresql")  # one order everywhere

METADATA: Final = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)

FACTS: Final = Table(
    "facts",
    METADATA,
    Column("position", _Whole, primary_key=True, autoincrement=False),
    Column("kind", _Words, nullable=False),
    Column("happened_at", _Whole, nullable=False),
    Column("recorded_at", _Whole, nullable=False),
    Column("text", _Words, nullable=False),
    Column("head", _Words, nullable=False),
    Column("reverses", _Whole, ForeignKey("facts.position")),
    CheckConstraint("position > 0", name="position"),
    CheckConstraint("length(head) = 64", name="head"),
    CheckConstraint("reverses IS NULL OR reverses < position", name="reverses"),
    Index(None, "kind"),
    Index(
        None,
        "reverses",
        unique=True,
        sqlite_where=column("reverses").is_not(None),
        postgresql_where=column("reverses").is_not(None),
    ),
    sqlite_strict=True,
)
"""The journal. ``reverses`` is the position of the fact that this one takes back."""

MOVEMENTS: Final = Table(
    "movements",
    METADATA,
    Column("position", _Whole, ForeignKey("facts.position"), nullable=False),
    Column("line", _Whole, nullable=False),
    Column("happened_at", _Whole, nullable=False),
    Column("from_place", _Words, nullable=False),
    Column("to_place", _Words, nullable=False),
    Column("mass_mg", _Whole, nullable=False),
    Column("material", _Words, nullable=False),
    Column("how", _Words, nullable=False),
    Column("instrument", _Words, nullable=False),
    Column("seen_number", _Words),
    Column("seen_unit", _Words),
    Column("seen_division", _Words),
    Column("target_mg", _Whole),
    Column("mass_sd_mg", _Whole, nullable=False),
    Column("lot", _Words),
    PrimaryKeyConstraint("position", "line"),
    CheckConstraint("line > 0", name="line"),
    CheckConstraint("mass_mg > 0", name="mass"),
    CheckConstraint("mass_sd_mg >= 0", name="mass_sd"),
    CheckConstraint("from_place <> to_place", name="places"),
    CheckConstraint("how IN ('weighed', 'metered', 'counted', 'reckoned')", name="how"),
    Index(None, "happened_at", "position", "line"),
    Index(None, "from_place", "happened_at"),
    Index(None, "to_place", "happened_at"),
    Index(
        None,
        "lot",
        "happened_at",
        sqlite_where=column("lot").is_not(None),
        postgresql_where=column("lot").is_not(None),
    ),
    sqlite_strict=True,
    sqlite_with_rowid=False,
)
"""Movements of all facts, drawn from their text in the same transaction."""

LOTS: Final = Table(
    "lots",
    METADATA,
    Column("lot", _Words, nullable=False),
    Column("position", _Whole, ForeignKey("facts.position"), nullable=False),
    Column("kind", _Words, nullable=False),
    Column("material", _Words, nullable=False),
    PrimaryKeyConstraint("lot", "position"),
    CheckConstraint("kind IN ('load', 'batch', 'run')", name="kind"),
    Index(None, "position"),
    sqlite_strict=True,
    sqlite_with_rowid=False,
)
"""Lots by the facts that made them, drawn from their text in the same transaction."""

STOCK_MARKS: Final = Table(
    "stock_marks",
    METADATA,
    Column("through_at", _Whole, primary_key=True, autoincrement=False),
    sqlite_strict=True,
)
"""Moments at which stock has been added up. Droppable at any time; rebuilt when needed."""

STOCK_LINES: Final = Table(
    "stock_lines",
    METADATA,
    Column("through_at", _Whole, ForeignKey("stock_marks.through_at"), nullable=False),
    Column("place", _Words, nullable=False),
    Column("material", _Words, nullable=False),
    Column("mass_mg", _Whole, nullable=False),
    PrimaryKeyConstraint("through_at", "place", "material"),
    sqlite_strict=True,
    sqlite_with_rowid=False,
)
"""Stock of every place after all movements that happened at or before ``through_at``."""

PINS: Final = Table(
    "pins",
    METADATA,
    Column("person", _Words, primary_key=True),
    Column("pin_hash", _Words, nullable=False),
    Column("wrong_tries", _Whole, nullable=False),
    Column("locked_until", _Whole),
    CheckConstraint("wrong_tries >= 0", name="wrong_tries"),
    sqlite_strict=True,
)
"""Hashes of PINs. Not part of the journal."""

SESSIONS: Final = Table(
    "sessions",
    METADATA,
    Column("token_hash", _Words, primary_key=True),
    Column("person", _Words, nullable=False),
    Column("expires_at", _Whole, nullable=False),
    sqlite_strict=True,
)
"""Who is signed in. Only a hash of the token is kept."""
