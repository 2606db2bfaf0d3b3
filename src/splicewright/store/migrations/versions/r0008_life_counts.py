"""Lives that are alike counted together, and indexes for what a fleet of any size is asked."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    """Make the table, which the register fills when it opens, and the indexes."""
    op.create_table(
        "life_counts",
        sa.Column("site", sa.Uuid, nullable=False),
        sa.Column("fate", sa.String(40), nullable=False),
        sa.Column("cause", sa.String(40), nullable=False),
        sa.Column("bin", sa.Integer, nullable=False),
        sa.Column("count", sa.BigInteger, nullable=False),
        sa.Column("seconds", sa.BigInteger, nullable=False),
        sa.PrimaryKeyConstraint("site", "fate", "cause", "bin", name="pk_life_counts"),
    )
    op.create_index("ix_facts_kind_seq", "facts", ["kind", "seq"])
    false = "0" if op.get_bind().dialect.name == "sqlite" else "false"
    for name, columns, some in (
        ("ix_joints_unfit", ["label", "joint"], f"can_run IS {false} AND state != 'removed'"),
        ("ix_joints_standing", ["label", "joint"], "state = 'suspended'"),
        ("ix_joints_running_since", ["put_to_work", "joint"], "state = 'running'"),
    ):
        where = sa.text(some)
        op.create_index(name, "joints", columns, sqlite_where=where, postgresql_where=where)
