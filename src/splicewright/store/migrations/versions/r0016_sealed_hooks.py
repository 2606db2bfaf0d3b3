"""Secrets of hooks are sealed, as those of apps for codes are."""

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"


def upgrade() -> None:
    """Seal what lies open.

    A copy opened where the key is not stays as it is: it must open there, and `register people
    new-key` seals it when the key is back.
    """
    from splicewright.store.database.opening import key_place
    from splicewright.store.database.sealing import KeyAwayError, Seal, is_sealed

    connection = op.get_bind()
    hooks = sa.table(
        "hooks",
        sa.column("hook", sa.Uuid),
        sa.column("secret", sa.LargeBinary),
        sa.column("former", sa.LargeBinary),
    )
    seal = Seal(key_place(connection.engine.url))
    for hook, *kept in connection.execute(sa.select(hooks)).all():
        for name, secret in zip(("secret", "former"), kept, strict=True):
            if not secret or is_sealed(bytes(secret)):
                continue
            try:
                sealed = seal.seal(connection, hook, bytes(secret))
            except KeyAwayError:
                return
            mine = sa.update(hooks).where(hooks.c.hook == hook)
            connection.execute(mine.values({name: sealed}))
