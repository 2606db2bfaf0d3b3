"""The log: facts that nobody can change, and the contents they name."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

_FROZEN = ("facts", "contents")


def upgrade() -> None:
    """Make the log."""
    op.create_table(
        "facts",
        sa.Column("seq", sa.BigInteger, nullable=False, autoincrement=False),
        sa.Column("id", sa.Uuid, nullable=False),
        sa.Column("subject", sa.Uuid, nullable=False),
        sa.Column("stream", sa.String(40), nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("corrects", sa.Uuid),
        sa.Column("at", sa.BigInteger, nullable=False),
        sa.Column("received", sa.BigInteger, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("hash", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_facts"),
        sa.UniqueConstraint("id", name="uq_facts_id"),
        sa.CheckConstraint("seq >= 1", name="ck_facts_seq"),
        sa.CheckConstraint("length(hash) = 32", name="ck_facts_hash"),
        sa.CheckConstraint("length(body) BETWEEN 2 AND 64000", name="ck_facts_body"),
        sa.CheckConstraint(
            "(corrects IS NOT NULL) = (kind = 'correction')", name="ck_facts_corrects"
        ),
    )
    op.create_index("ix_facts_subject_seq", "facts", ["subject", "seq"])
    given = sa.text("corrects IS NOT NULL")
    op.create_index(
        "ix_facts_corrects", "facts", ["corrects"], sqlite_where=given, postgresql_where=given
    )
    op.create_table(
        "contents",
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("media_type", sa.String(80), nullable=False),
        sa.Column("size", sa.Integer, nullable=False),
        sa.Column("packed", sa.Boolean, nullable=False),
        sa.Column("data", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("digest", name="pk_contents"),
        sa.CheckConstraint("length(digest) = 64", name="ck_contents_digest"),
        sa.CheckConstraint("size BETWEEN 1 AND 20000000", name="ck_contents_size"),
    )
    op.create_table(
        "register",
        sa.Column("one", sa.Integer, nullable=False),
        sa.Column("seq", sa.BigInteger, nullable=False),
        sa.Column("hash", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("one", name="pk_register"),
        sa.CheckConstraint("one = 1", name="ck_register_one"),
        sa.CheckConstraint("seq >= 0", name="ck_register_seq"),
        sa.CheckConstraint("length(hash) = 32", name="ck_register_hash"),
    )
    register = sa.table(
        "register",
        sa.column("one", sa.Integer),
        sa.column("seq", sa.BigInteger),
        sa.column("hash", sa.LargeBinary),
    )
    op.execute(register.insert().values(one=1, seq=0, hash=bytes(32)))
    _freeze()


def _freeze() -> None:
    """The database itself refuses to change or delete what was recorded."""
    if op.get_bind().dialect.name == "sqlite":
        for table in _FROZEN:
            for act in ("UPDATE", "DELETE"):
                op.execute(
                    f"CREATE TRIGGER {table}_no_{act.lower()} BEFORE {act} ON {table} "
                    f"BEGIN SELECT RAISE(ABORT, '{table} are never changed'); END"
                )
        return
    op.execute(
        "CREATE FUNCTION never_changed() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION '% are never changed', TG_TABLE_NAME; END $$"
    )
    for table in _FROZEN:
        op.execute(
            f"CREATE TRIGGER {table}_never_changed BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION never_changed()"
        )
