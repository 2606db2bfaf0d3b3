"""Who is let into which sites, and which things name a content.

Accounts and open links that are there already are let into all sites, as they were until now.
"""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    """Make the tables; the register derives which thing names which content when it opens."""
    # Added, never made anew: a table with rows that others refer to cannot be dropped.
    for table in ("accounts", "invitations"):
        none = sa.Column("all_sites", sa.Boolean, nullable=False, server_default=sa.false())
        op.add_column(table, none)
        op.execute(sa.text(f"UPDATE {table} SET all_sites = true"))
    empty = sa.Column("sites", sa.Text, nullable=False, server_default="")
    op.add_column("invitations", empty)
    # Empty: as its account; ids with blanks between: those of the account's sites only.
    for table in ("api_tokens", "errands"):
        op.add_column(table, sa.Column("sites", sa.Text))
    op.create_table(
        "account_sites",
        sa.Column("account", sa.Uuid, nullable=False),
        sa.Column("site", sa.Uuid, nullable=False),
        sa.PrimaryKeyConstraint("account", "site", name="pk_account_sites"),
        sa.ForeignKeyConstraint(
            ["account"], ["accounts.account"], name="fk_account_sites_account_accounts"
        ),
    )
    op.create_index("ix_account_sites_site", "account_sites", ["site"])
    op.create_table(
        "named_contents",
        sa.Column("subject", sa.Uuid, nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("subject", "digest", name="pk_named_contents"),
        sa.ForeignKeyConstraint(
            ["subject"], ["subjects.subject"], name="fk_named_contents_subject_subjects"
        ),
    )
    op.create_index("ix_named_contents_digest", "named_contents", ["digest"])
    op.create_table(
        "content_senders",
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("account", sa.Uuid, nullable=False),
        sa.PrimaryKeyConstraint("digest", "account", name="pk_content_senders"),
    )
