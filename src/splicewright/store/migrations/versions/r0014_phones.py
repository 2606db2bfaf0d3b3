"""What was last heard of each phone, so that a browser that deleted its store is noticed."""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"


def upgrade() -> None:
    """Make the table; nothing was heard yet."""
    op.create_table(
        "phones",
        sa.Column("account", sa.Uuid, nullable=False),
        sa.Column("phone", sa.Uuid, nullable=False),
        sa.Column("device", sa.Text, nullable=False),
        sa.Column("made", sa.BigInteger, nullable=False),
        sa.Column("waits", sa.BigInteger, nullable=False),
        sa.Column("heard", sa.BigInteger, nullable=False),
        sa.PrimaryKeyConstraint("account", "phone", name="pk_phones"),
        sa.ForeignKeyConstraint(
            ["account"], ["accounts.account"], name="fk_phones_account_accounts"
        ),
    )
