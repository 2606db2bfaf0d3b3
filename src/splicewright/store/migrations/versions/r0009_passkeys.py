"""Passkeys as second factors, and the challenges they sign."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    """Make the tables; nobody has one yet."""
    of_account = ["account"], ["accounts.account"]
    op.create_table(
        "passkeys",
        sa.Column("credential", sa.LargeBinary, nullable=False),
        sa.Column("account", sa.Uuid, nullable=False),
        sa.Column("host", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("public_key", sa.LargeBinary, nullable=False),
        sa.Column("sign_count", sa.BigInteger, nullable=False),
        sa.Column("made", sa.BigInteger, nullable=False),
        sa.Column("used", sa.BigInteger),
        sa.PrimaryKeyConstraint("credential", name="pk_passkeys"),
        sa.ForeignKeyConstraint(*of_account, name="fk_passkeys_account_accounts"),
    )
    op.create_index("ix_passkeys_account", "passkeys", ["account"])
    op.create_table(
        "passkey_challenges",
        sa.Column("challenge", sa.LargeBinary, nullable=False),
        sa.Column("account", sa.Uuid, nullable=False),
        sa.Column("purpose", sa.String(40), nullable=False),
        sa.Column("made", sa.BigInteger, nullable=False),
        sa.PrimaryKeyConstraint("challenge", name="pk_passkey_challenges"),
        sa.ForeignKeyConstraint(*of_account, name="fk_passkey_challenges_account_accounts"),
    )
    op.create_index("ix_passkey_challenges_account", "passkey_challenges", ["account"])
