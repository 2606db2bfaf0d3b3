"""Indexes for large registers: facts but sound plates, and any part of a joint's label."""

import sqlalchemy as sa
from alembic import op

revision = "0017"
down_revision = "0016"


def upgrade() -> None:
    """Make them; the one of labels where PostgreSQL has what it needs."""
    telling = sa.text(
        "kind != 'plate inspected' OR (body NOT LIKE '%' || '\"state\":\"ok\"' || '%')"
    )
    op.create_index(
        "ix_facts_telling",
        "facts",
        ["subject", "kind"],
        sqlite_where=telling,
        postgresql_where=telling,
    )
    connection = op.get_bind()
    if connection.dialect.name != "postgresql":
        return
    try:
        with connection.begin_nested():
            op.execute("CREATE EXTENSION IF NOT EXISTS pg_trgm")
            op.execute(
                "CREATE INDEX ix_joints_label_parts ON joints USING gin (label gin_trgm_ops)"
            )
    except sa.exc.DBAPIError:
        pass  # not installed, or not for this user: labels are then looked through one by one
