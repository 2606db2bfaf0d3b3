"""A second factor at sign-in: its secret, recovery codes, and sessions that wait for it."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    """Make the tables; nobody has one yet, and no session waits."""
    of_account = ["account"], ["accounts.account"]
    op.create_table(
        "second_factors",
        sa.Column("account", sa.Uuid, nullable=False),
        sa.Column("secret", sa.LargeBinary, nullable=False),
        sa.Column("made", sa.BigInteger, nullable=False),
        sa.Column("confirmed", sa.BigInteger),
        sa.Column("step", sa.BigInteger, nullable=False),
        sa.PrimaryKeyConstraint("account", name="pk_second_factors"),
        sa.ForeignKeyConstraint(*of_account, name="fk_second_factors_account_accounts"),
    )
    op.create_table(
        "recovery_codes",
        sa.Column("digest", sa.LargeBinary, nullable=False),
        sa.Column("account", sa.Uuid, nullable=False),
        sa.PrimaryKeyConstraint("digest", name="pk_recovery_codes"),
        sa.ForeignKeyConstraint(*of_account, name="fk_recovery_codes_account_accounts"),
    )
    op.create_index("ix_recovery_codes_account", "recovery_codes", ["account"])
    waits = sa.Column("waits", sa.Boolean, nullable=False, server_default=sa.false())
    op.add_column("sessions", waits)
