"""Values left outside their limits, with the day by which they are to be put right."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Make the table; the register derives its rows anew when it opens."""
    # The same order of names on both databases: by code point.
    by_code = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
    with op.batch_alter_table("jobs") as jobs:
        jobs.add_column(sa.Column("deviations", sa.BigInteger, nullable=False, server_default="0"))
    op.create_table(
        "deviations",
        sa.Column("job", sa.Uuid, nullable=False),
        sa.Column("step", by_code, nullable=False),
        sa.Column("what", by_code, nullable=False),
        sa.Column("box", sa.BigInteger, nullable=False),
        sa.Column("measure", sa.String(40), nullable=False),
        sa.Column("value", sa.Float(53), nullable=False),
        sa.Column("limits", sa.Text, nullable=False),
        sa.Column("low", sa.Float(53)),
        sa.Column("high", sa.Float(53)),
        sa.Column("why", sa.Text, nullable=False),
        sa.Column("to_do", sa.Text, nullable=False),
        sa.Column("signed", sa.BigInteger, nullable=False),
        sa.Column("signed_by", sa.Text, nullable=False),
        sa.Column("until", sa.BigInteger),
        sa.Column("standing", sa.String(40), nullable=False),
        sa.PrimaryKeyConstraint("job", "step", "what", "box", name="pk_deviations"),
        sa.ForeignKeyConstraint(["job"], ["subjects.subject"], name="fk_deviations_job_subjects"),
        sa.CheckConstraint(
            "standing IN ('stands', 'measured anew', 'put right')", name="ck_deviations_standing"
        ),
    )
    op.create_index("ix_deviations_until_job", "deviations", ["until", "job"])
