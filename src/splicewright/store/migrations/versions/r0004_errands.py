"""Scopes of API tokens; errands with their files."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def _moment(name: str, *, empty: bool = False) -> sa.Column[int]:
    return sa.Column(name, sa.BigInteger, nullable=empty)


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def upgrade() -> None:
    """Make the tables."""
    with op.batch_alter_table("api_tokens") as tokens:
        # A key made before there were scopes may what the program it was made for may have read.
        tokens.add_column(sa.Column("scopes", sa.Text, nullable=False, server_default="read"))
    op.create_table(
        "errands",
        sa.Column("errand", sa.Uuid, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        _text("asked"),
        _text("label"),
        _text("by"),
        sa.Column("account", sa.Uuid),
        sa.Column("state", sa.String(40), nullable=False),
        _moment("made"),
        _moment("started", empty=True),
        _moment("ended", empty=True),
        _moment("beat", empty=True),
        sa.Column("worker", sa.String(120), nullable=False),
        sa.Column("take", sa.Integer, nullable=False),
        sa.Column("cancel", sa.Boolean, nullable=False),
        sa.Column("done", sa.BigInteger, nullable=False),
        sa.Column("total", sa.BigInteger, nullable=False),
        _text("said"),
        _text("failure"),
        sa.Column("answer", sa.Text),
        sa.Column("has_result", sa.Boolean, nullable=False),
        sa.PrimaryKeyConstraint("errand", name="pk_errands"),
        sa.CheckConstraint("kind IN ('import', 'bundle', 'fleet')", name="ck_errands_kind"),
        sa.CheckConstraint(
            "state IN ('waiting', 'running', 'done', 'failed', 'cancelled')",
            name="ck_errands_state",
        ),
    )
    op.create_index("ix_errands_made", "errands", ["made"])
    op.create_index("ix_errands_state_made", "errands", ["state", "made"])
    op.create_table(
        "errand_files",
        sa.Column("errand", sa.Uuid, nullable=False),
        sa.Column("part", sa.String(40), nullable=False),
        _text("name"),
        sa.Column("media_type", sa.String(80), nullable=False),
        sa.Column("data", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("errand", "part", name="pk_errand_files"),
        sa.ForeignKeyConstraint(
            ["errand"],
            ["errands.errand"],
            name="fk_errand_files_errand_errands",
            ondelete="CASCADE",
        ),
        sa.CheckConstraint("part IN ('input', 'result')", name="ck_errand_files_part"),
    )
