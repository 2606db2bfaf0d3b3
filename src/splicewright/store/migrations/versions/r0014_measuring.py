"""A further kind of background task: photographs measured."""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0009"

_KINDS = "kind IN ('import', 'bundle', 'fleet', 'measure')"
_MOMENTS = ("started", "ended", "beat")


def upgrade() -> None:
    """Let the kind be told; tasks and files that are there stay."""
    if op.get_bind().dialect.name != "sqlite":
        op.drop_constraint("ck_errands_kind", "errands", type_="check")
        op.create_check_constraint("ck_errands_kind", "errands", _KINDS)
        return
    # SQLite changes no rule of a table, and one with rows that others refer to cannot be dropped:
    # both are copied, made anew, and filled again.
    for table in ("errands", "errand_files"):
        op.execute(sa.text(f"CREATE TABLE kept_{table} AS SELECT * FROM {table}"))
    op.drop_table("errand_files")
    op.drop_table("errands")
    _make()
    # What is there was let in by the rule of its time; to copy it is not to judge it anew.
    op.execute(sa.text("PRAGMA ignore_check_constraints = ON"))
    for table in ("errands", "errand_files"):
        columns = ", ".join(
            f'"{c["name"]}"' for c in sa.inspect(op.get_bind()).get_columns(f"kept_{table}")
        )
        op.execute(sa.text(f"INSERT INTO {table} ({columns}) SELECT {columns} FROM kept_{table}"))
        op.drop_table(f"kept_{table}")
    op.execute(sa.text("PRAGMA ignore_check_constraints = OFF"))


def _make() -> None:
    op.create_table(
        "errands",
        sa.Column("errand", sa.Uuid, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("asked", "label", "by")),
        sa.Column("account", sa.Uuid),
        sa.Column("state", sa.String(40), nullable=False),
        sa.Column("made", sa.BigInteger, nullable=False),
        *(sa.Column(name, sa.BigInteger) for name in _MOMENTS),
        sa.Column("worker", sa.String(120), nullable=False),
        sa.Column("take", sa.Integer, nullable=False),
        sa.Column("cancel", sa.Boolean, nullable=False),
        sa.Column("done", sa.BigInteger, nullable=False),
        sa.Column("total", sa.BigInteger, nullable=False),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("said", "failure")),
        sa.Column("answer", sa.Text),
        sa.Column("has_result", sa.Boolean, nullable=False),
        sa.Column("sites", sa.Text),
        sa.PrimaryKeyConstraint("errand", name="pk_errands"),
        sa.CheckConstraint(_KINDS, name="ck_errands_kind"),
        sa.CheckConstraint(
            "state IN ('waiting', 'running', 'done', 'failed', 'cancelled')",
            name="ck_errands_state",
        ),
    )
    op.create_index("ix_errands_made", "errands", ["made"])
    op.create_index("ix_errands_state_made", "errands", ["state", "made"])
    op.create_table(
        "errand_files",
        sa.Column("errand", sa.Uuid, nullable=False),
        sa.Column("part", sa.String(40), nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("media_type", sa.String(80), nullable=False),
        sa.Column("data", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("errand", "part", name="pk_errand_files"),
        sa.ForeignKeyConstraint(
            ["errand"],
            ["errands.errand"],
            name="fk_errand_files_errand_errands",
            ondelete="CASCADE",
        ),
        sa.CheckConstraint("part IN ('input', 'result')", name="ck_errand_files_part"),
    )
