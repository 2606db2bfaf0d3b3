"""Accounts: who may sign in, their sessions, invitations and keys, and the log of changes."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"

_ROLES = "role IN ('viewer', 'crew', 'lead', 'admin')"


def _id(name: str, *, empty: bool = False) -> sa.Column[object]:
    return sa.Column(name, sa.Uuid, nullable=empty)


def _text(name: str) -> sa.Column[str]:
    by_code = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
    return sa.Column(name, by_code, nullable=False)


def _word(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.String(40), nullable=False)


def _hash(name: str, *, empty: bool = False) -> sa.Column[bytes]:
    return sa.Column(name, sa.LargeBinary, nullable=empty)


def _moment(name: str, *, empty: bool = False) -> sa.Column[int]:
    return sa.Column(name, sa.BigInteger, nullable=empty)


def _of_account(table: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        ["account"], ["accounts.account"], name=f"fk_{table}_account_accounts"
    )


def _key(table: str, column: str) -> sa.PrimaryKeyConstraint:
    return sa.PrimaryKeyConstraint(column, name=f"pk_{table}")


def upgrade() -> None:
    """Make the tables of accounts."""
    op.create_table(
        "accounts",
        _id("account"),
        _text("login"),
        _text("name"),
        _word("role"),
        _text("password"),
        _word("units"),
        _moment("made"),
        _moment("closed", empty=True),
        _key("accounts", "account"),
        sa.UniqueConstraint("login", name="uq_accounts_login"),
        sa.CheckConstraint(_ROLES, name="ck_accounts_role"),
        sa.CheckConstraint("units IN ('metric', 'inch')", name="ck_accounts_units"),
    )
    op.create_table(
        "sessions",
        _id("session"),
        _id("account"),
        _hash("digest"),
        _hash("previous", empty=True),
        _hash("csrf"),
        _moment("began"),
        _moment("rotated"),
        sa.Column("taken", sa.Boolean, nullable=False),
        _moment("used"),
        _key("sessions", "session"),
        _of_account("sessions"),
        sa.UniqueConstraint("digest", name="uq_sessions_digest"),
    )
    op.create_index("ix_sessions_previous", "sessions", ["previous"])
    op.create_index("ix_sessions_account", "sessions", ["account"])
    op.create_table(
        "invitations",
        _hash("digest"),
        _text("name"),
        _word("role"),
        _id("account", empty=True),
        _id("by", empty=True),
        _moment("made"),
        _moment("until"),
        _moment("taken", empty=True),
        _key("invitations", "digest"),
        _of_account("invitations"),
        sa.CheckConstraint(_ROLES, name="ck_invitations_role"),
    )
    op.create_table(
        "api_tokens",
        _id("token"),
        _hash("digest"),
        _id("account"),
        _text("label"),
        _moment("made"),
        _moment("until", empty=True),
        _moment("used", empty=True),
        _moment("ended", empty=True),
        _key("api_tokens", "token"),
        _of_account("api_tokens"),
        sa.UniqueConstraint("digest", name="uq_api_tokens_digest"),
    )
    op.create_index("ix_api_tokens_account", "api_tokens", ["account"])
    op.create_table(
        "sign_in_tries",
        _id("try"),
        _hash("login"),
        _text("address"),
        _moment("at"),
        _key("sign_in_tries", "try"),
    )
    op.create_index("ix_sign_in_tries_at", "sign_in_tries", ["at"])
    number = sa.BigInteger().with_variant(sa.Integer, "sqlite")
    op.create_table(
        "account_log",
        sa.Column("seq", number, nullable=False, autoincrement=True),
        _moment("at"),
        _id("account", empty=True),
        _id("by", empty=True),
        _word("change"),
        _text("note"),
        _key("account_log", "seq"),
    )
    _freeze()


def _freeze() -> None:
    """The database itself refuses to change or delete what was logged."""
    if op.get_bind().dialect.name == "sqlite":
        for act in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER account_log_no_{act.lower()} BEFORE {act} ON account_log "
                "BEGIN SELECT RAISE(ABORT, 'account_log is never changed'); END"
            )
        return
    op.execute(
        "CREATE TRIGGER account_log_never_changed BEFORE UPDATE OR DELETE OR TRUNCATE "
        "ON account_log FOR EACH STATEMENT EXECUTE FUNCTION never_changed()"
    )
