"""Hooks that tell other systems of facts, and values that come in from them."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"


def _moment(name: str, *, empty: bool = False) -> sa.Column[int]:
    return sa.Column(name, sa.BigInteger, nullable=empty)


def _text(name: str, *, empty: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=empty)


def upgrade() -> None:
    """Make the tables; there is no hook and no mapping yet."""
    op.create_table(
        "hooks",
        sa.Column("hook", sa.Uuid, nullable=False),
        _text("label"),
        _text("url"),
        _text("kinds"),
        _text("sites", empty=True),
        sa.Column("account", sa.Uuid),
        _text("by"),
        sa.Column("private", sa.Boolean, nullable=False),
        sa.Column("secret", sa.LargeBinary, nullable=False),
        sa.Column("former", sa.LargeBinary),
        _moment("former_until", empty=True),
        _moment("made"),
        _moment("ended", empty=True),
        sa.Column("seq", sa.BigInteger, nullable=False),
        sa.Column("tries", sa.Integer, nullable=False),
        _moment("next_try"),
        _moment("held_until", empty=True),
        sa.Column("holder", sa.String(120), nullable=False),
        _moment("told", empty=True),
        _text("said"),
        sa.PrimaryKeyConstraint("hook", name="pk_hooks"),
    )
    op.create_table(
        "hook_letters",
        sa.Column("hook", sa.Uuid, nullable=False),
        sa.Column("seq", sa.BigInteger, nullable=False),
        _moment("at"),
        sa.Column("tries", sa.Integer, nullable=False),
        _text("said"),
        sa.Column("again", sa.Boolean, nullable=False),
        sa.PrimaryKeyConstraint("hook", "seq", name="pk_hook_letters"),
        sa.ForeignKeyConstraint(["hook"], ["hooks.hook"], name="fk_hook_letters_hook_hooks"),
    )
    op.create_table(
        "incoming_maps",
        sa.Column("site", sa.Uuid, nullable=False),
        _text("file"),
        _moment("at"),
        _text("by"),
        sa.PrimaryKeyConstraint("site", name="pk_incoming_maps"),
    )
    op.create_table(
        "incoming_topics",
        sa.Column("site", sa.Uuid, nullable=False),
        _text("topic"),
        _moment("received"),
        _moment("recorded"),
        _moment("at"),
        _text("typed"),
        sa.PrimaryKeyConstraint("site", "topic", name="pk_incoming_topics"),
    )
    op.create_table(
        "incoming_faults",
        sa.Column("site", sa.Uuid, nullable=False),
        _text("topic"),
        _text("sentence"),
        _moment("first"),
        _moment("last"),
        sa.Column("count", sa.BigInteger, nullable=False),
        sa.PrimaryKeyConstraint("site", "topic", "sentence", name="pk_incoming_faults"),
    )
