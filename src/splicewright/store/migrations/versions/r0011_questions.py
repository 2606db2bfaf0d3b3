"""Background tasks of any kind; secrets of apps for codes are sealed.

The list of kinds is held by the code that reads it.
"""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"

_COLUMNS = (
    "errand, kind, asked, label, by, account, state, made, started, ended, beat, worker, take, "
    "cancel, done, total, said, failure, answer, has_result, sites"
)


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def upgrade() -> None:
    """Seal what lies open; take the list of kinds off the table: tasks and their files stay."""
    _seal(op.get_bind())
    if op.get_bind().dialect.name == "postgresql":
        op.drop_constraint("ck_errands_kind", "errands")
        return
    # SQLite takes no constraint off. Files refer to tasks, and would go with the table dropped.
    op.execute("CREATE TABLE kept_files AS SELECT * FROM errand_files")
    op.execute("CREATE TABLE kept_errands AS SELECT * FROM errands")
    op.execute("DELETE FROM errand_files")
    op.drop_table("errands")
    op.create_table(
        "errands",
        sa.Column("errand", sa.Uuid, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        _text("asked"),
        _text("label"),
        _text("by"),
        sa.Column("account", sa.Uuid),
        sa.Column("state", sa.String(40), nullable=False),
        sa.Column("made", sa.BigInteger, nullable=False),
        *(sa.Column(name, sa.BigInteger) for name in ("started", "ended", "beat")),
        sa.Column("worker", sa.String(120), nullable=False),
        sa.Column("take", sa.Integer, nullable=False),
        sa.Column("cancel", sa.Boolean, nullable=False),
        sa.Column("done", sa.BigInteger, nullable=False),
        sa.Column("total", sa.BigInteger, nullable=False),
        _text("said"),
        _text("failure"),
        sa.Column("answer", sa.Text),
        sa.Column("has_result", sa.Boolean, nullable=False),
        sa.Column("sites", sa.Text),
        sa.PrimaryKeyConstraint("errand", name="pk_errands"),
        sa.CheckConstraint(
            "state IN ('waiting', 'running', 'done', 'failed', 'cancelled')",
            name="ck_errands_state",
        ),
    )
    op.create_index("ix_errands_made", "errands", ["made"])
    op.create_index("ix_errands_state_made", "errands", ["state", "made"])
    op.execute("PRAGMA ignore_check_constraints = ON")  # what was there stays as it was
    op.execute(f"INSERT INTO errands ({_COLUMNS}) SELECT {_COLUMNS} FROM kept_errands")
    files = "errand, part, name, media_type, data"
    op.execute(f"INSERT INTO errand_files ({files}) SELECT {files} FROM kept_files")
    op.execute("PRAGMA ignore_check_constraints = OFF")
    op.drop_table("kept_files")
    op.drop_table("kept_errands")


def _seal(connection: sa.Connection) -> None:
    from splicewright.store.database.opening import key_place
    from splicewright.store.database.sealing import Seal, is_sealed

    kept = sa.table(
        "second_factors", sa.column("account", sa.Uuid), sa.column("secret", sa.LargeBinary)
    )
    seal = Seal(key_place(connection.engine.url))
    for account, secret in connection.execute(sa.select(kept)).all():
        if not is_sealed(bytes(secret)):
            sealed = seal.seal(connection, account, bytes(secret))
            mine = kept.c.account == account
            connection.execute(sa.update(kept).where(mine).values(secret=sealed))
