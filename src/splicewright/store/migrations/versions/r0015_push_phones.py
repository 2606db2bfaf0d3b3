"""Phones that are told by web push, and the key that shows them who sends."""

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"


def upgrade() -> None:
    """Make the tables; no phone asked for anything yet."""
    op.create_table(
        "push_keys",
        sa.Column("key", sa.Uuid, nullable=False),
        sa.Column("secret", sa.LargeBinary, nullable=False),
        sa.Column("made", sa.BigInteger, nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_push_keys"),
    )
    op.create_table(
        "push_phones",
        sa.Column("session", sa.Uuid, nullable=False),
        sa.Column("endpoint", sa.Text, nullable=False),
        sa.Column("public_key", sa.LargeBinary, nullable=False),
        sa.Column("secret", sa.LargeBinary, nullable=False),
        sa.Column("kinds", sa.Text, nullable=False),
        sa.Column("seen", sa.BigInteger, nullable=False),
        sa.Column("looked", sa.BigInteger, nullable=False),
        sa.Column("tries", sa.Integer, nullable=False),
        sa.Column("next_try", sa.BigInteger, nullable=False),
        sa.PrimaryKeyConstraint("session", name="pk_push_phones"),
        sa.ForeignKeyConstraint(
            ["session"],
            ["sessions.session"],
            name="fk_push_phones_session_sessions",
            ondelete="CASCADE",
        ),
    )
