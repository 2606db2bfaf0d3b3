"""The kind of every joint, and lives counted by it.

A register has the kind of joints that are planned or described from now on; that of joints planned
before stands in their kept plans only and is counted as not known.
"""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"


def upgrade() -> None:
    """Add the kind; the register derives its present state and counts anew when it opens."""
    # Added, never made anew: other tables refer to its rows.
    empty = sa.Column("construction", sa.Text, nullable=False, server_default="")
    op.add_column("joints", empty)
    op.drop_table("life_counts")
    op.create_table(
        "life_counts",
        sa.Column("site", sa.Uuid, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("fate", sa.String(40), nullable=False),
        sa.Column("cause", sa.String(40), nullable=False),
        sa.Column("bin", sa.Integer, nullable=False),
        sa.Column("count", sa.BigInteger, nullable=False),
        sa.Column("seconds", sa.BigInteger, nullable=False),
        sa.PrimaryKeyConstraint("site", "kind", "fate", "cause", "bin", name="pk_life_counts"),
    )
