"""The first form of the tables: journal, ledger drawn from it, marks of stock, sign-in."""

from typing import Final

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

_WHOLE: Final = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_WORDS: Final = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    """Make the tables."""
    _make_facts()
    _make_movements()
    _make_lots()
    _make_stock_marks()
    _make_stock_lines()
    _make_pins()
    _make_sessions()


def _make_facts() -> None:
    op.create_table(
        "facts",
        sa.Column("position", _WHOLE, autoincrement=False, nullable=False),
        sa.Column("kind", _WORDS, nullable=False),
        sa.Column("happened_at", _WHOLE, nullable=False),
        sa.Column("recorded_at", _WHOLE, nullable=False),
        sa.Column("text", _WORDS, nullable=False),
        sa.Column("head", _WORDS, nullable=False),
        sa.Column("reverses", _WHOLE, nullable=True),
        sa.CheckConstraint("length(head) = 64", name=op.f("ck_facts_head")),
        sa.CheckConstraint("position > 0", name=op.f("ck_facts_position")),
        sa.CheckConstraint(
            "reverses IS NULL OR reverses < position", name=op.f("ck_facts_reverses")
        ),
        sa.ForeignKeyConstraint(
            ["reverses"], ["facts.position"], name=op.f("fk_facts_reverses_facts")
        ),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_facts")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_facts_kind"), "facts", ["kind"], unique=False)
    op.create_index(
        op.f("ix_facts_reverses"),
        "facts",
        ["reverses"],
        unique=True,
        sqlite_where=sa.column("reverses").is_not(None),
        postgresql_where=sa.column("reverses").is_not(None),
    )


def _make_movements() -> None:
    op.create_table(
        "movements",
        sa.Column("position", _WHOLE, nullable=False),
        sa.Column("line", _WHOLE, nullable=False),
        sa.Column("happened_at", _WHOLE, nullable=False),
        sa.Column("from_place", _WORDS, nullable=False),
        sa.Column("to_place", _WORDS, nullable=False),
        sa.Column("mass_mg", _WHOLE, nullable=False),
        sa.Column("material", _WORDS, nullable=False),
        sa.Column("how", _WORDS, nullable=False),
        sa.Column("instrument", _WORDS, nullable=False),
        sa.Column("seen_number", _WORDS, nullable=True),
        sa.Column("seen_unit", _WORDS, nullable=True),
        sa.Column("seen_division", _WORDS, nullable=True),
        sa.Column("target_mg", _WHOLE, nullable=True),
        sa.Column("mass_sd_mg", _WHOLE, nullable=False),
        sa.Column("lot", _WORDS, nullable=True),
        sa.CheckConstraint(
            "how IN ('weighed', 'metered', 'counted', 'reckoned')", name=op.f("ck_movements_how")
        ),
        sa.CheckConstraint("from_place <> to_place", name=op.f("ck_movements_places")),
        sa.CheckConstraint("line > 0", name=op.f("ck_movements_line")),
        sa.CheckConstraint("mass_mg > 0", name=op.f("ck_movements_mass")),
        sa.CheckConstraint("mass_sd_mg >= 0", name=op.f("ck_movements_mass_sd")),
        sa.ForeignKeyConstraint(
            ["position"], ["facts.position"], name=op.f("fk_movements_position_facts")
        ),
        sa.PrimaryKeyConstraint("position", "line", name=op.f("pk_movements")),
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )
    op.create_index(
        op.f("ix_movements_from_place_happened_at"),
        "movements",
        ["from_place", "happened_at"],
        unique=False,
    )
    op.create_index(
        op.f("ix_movements_happened_at_position_line"),
        "movements",
        ["happened_at", "position", "line"],
        unique=False,
    )
    op.create_index(
        op.f("ix_movements_lot_happened_at"),
        "movements",
        ["lot", "happened_at"],
        unique=False,
        sqlite_where=sa.column("lot").is_not(None),
        postgresql_where=sa.column("lot").is_not(None),
    )
    op.create_index(
        op.f("ix_movements_to_place_happened_at"),
        "movements",
        ["to_place", "happened_at"],
        unique=False,
    )


def _make_lots() -> None:
    op.create_table(
        "lots",
        sa.Column("lot", _WORDS, nullable=False),
        sa.Column("position", _WHOLE, nullable=False),
        sa.Column("kind", _WORDS, nullable=False),
        sa.Column("material", _WORDS, nullable=False),
        sa.CheckConstraint("kind IN ('load', 'batch', 'run')", name=op.f("ck_lots_kind")),
        sa.ForeignKeyConstraint(
            ["position"], ["facts.position"], name=op.f("fk_lots_position_facts")
        ),
        sa.PrimaryKeyConstraint("lot", "position", name=op.f("pk_lots")),
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )
    op.create_index(op.f("ix_lots_position"), "lots", ["position"], unique=False)


def _make_stock_marks() -> None:
    op.create_table(
        "stock_marks",
        sa.Column("through_at", _WHOLE, autoincrement=False, nullable=False),
        sa.PrimaryKeyConstraint("through_at", name=op.f("pk_stock_marks")),
        sqlite_strict=True,
    )


def _make_stock_lines() -> None:
    op.create_table(
        "stock_lines",
        sa.Column("through_at", _WHOLE, nullable=False),
        sa.Column("place", _WORDS, nullable=False),
        sa.Column("material", _WORDS, nullable=False),
        sa.Column("mass_mg", _WHOLE, nullable=False),
        sa.ForeignKeyConstraint(
            ["through_at"],
            ["stock_marks.through_at"],
            name=op.f("fk_stock_lines_through_at_stock_marks"),
        ),
        sa.PrimaryKeyConstraint("through_at", "place", "material", name=op.f("pk_stock_lines")),
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )


def _make_pins() -> None:
    op.create_table(
        "pins",
        sa.Column("person", _WORDS, nullable=False),
        sa.Column("pin_hash", _WORDS, nullable=False),
        sa.Column("wrong_tries", _WHOLE, nullable=False),
        sa.Column("locked_until", _WHOLE, nullable=True),
        sa.CheckConstraint("wrong_tries >= 0", name=op.f("ck_pins_wrong_tries")),
        sa.PrimaryKeyConstraint("person", name=op.f("pk_pins")),
        sqlite_strict=True,
    )


def _make_sessions() -> None:
    op.create_table(
        "sessions",
        sa.Column("token_hash", _WORDS, nullable=False),
        sa.Column("person", _WORDS, nullable=False),
        sa.Column("expires_at", _WHOLE, nullable=False),
        sa.PrimaryKeyConstraint("token_hash", name=op.f("pk_sessions")),
        sqlite_strict=True,
    )
