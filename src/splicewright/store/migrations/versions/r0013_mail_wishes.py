"""Who wants to be told of what by mail."""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"


def upgrade() -> None:
    """Make the table; nobody wishes anything yet."""
    op.create_table(
        "mail_wishes",
        sa.Column("account", sa.Uuid, nullable=False),
        sa.Column("address", sa.Text, nullable=False),
        sa.Column("kinds", sa.Text, nullable=False),
        sa.Column("seen", sa.BigInteger, nullable=False),
        sa.Column("looked", sa.BigInteger, nullable=False),
        sa.PrimaryKeyConstraint("account", name="pk_mail_wishes"),
        sa.ForeignKeyConstraint(
            ["account"], ["accounts.account"], name="fk_mail_wishes_account_accounts"
        ),
    )
