"""Columns are called by what they hold: when a row was created, how far a task is, what failed."""

from alembic import op

revision = "0018"
down_revision = "0017"

_COLUMNS = (
    ("accounts", "made", "created"),
    ("second_factors", "made", "created"),
    ("passkeys", "made", "created"),
    ("passkey_challenges", "made", "created"),
    ("push_keys", "made", "created"),
    ("invitations", "made", "created"),
    ("api_tokens", "made", "created"),
    ("phones", "made", "entries"),
    ("errands", "made", "created"),
    ("errands", "said", "step"),
    ("hooks", "made", "created"),
    ("hooks", "told", "last_delivery"),
    ("hooks", "said", "failure"),
    ("hook_letters", "said", "failure"),
)


def upgrade() -> None:
    """Rename them where they stand; both databases keep rows, indexes and references."""
    for table, former, name in _COLUMNS:
        op.execute(f"ALTER TABLE {table} RENAME COLUMN {former} TO {name}")
    # An index keeps its name, which says what it is of.
    for columns in (["created"], ["state", "created"]):
        name = f"ix_errands_{'_'.join(columns)}"
        op.drop_index(name.replace("created", "made"), "errands")
        op.create_index(name, "errands", columns)
