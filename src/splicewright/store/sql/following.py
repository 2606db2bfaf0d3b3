"""A copy that follows a register: facts and contents it does not hold yet, in the same chain."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, func, insert, select, update

from splicewright.errors import Fault, InputError
from splicewright.store.database import opening
from splicewright.store.database.schema import CONTENTS, FACTS, REGISTER
from splicewright.store.facts.facts import link
from splicewright.store.refusals import DamagedError
from splicewright.store.register import Head
from splicewright.store.sql.verifying import read_head

_PAGE = 1000
_UNDERIVED = 0
"""No way of deriving: whoever opens the copy derives its present state first."""


def follow(source: Engine, to: str | Path) -> tuple[Head, int]:
    """Bring a copy up to date, all of it or nothing; gives its end, and how many facts came.

    Parameters
    ----------
    source : of the register that is followed
    to : file or URL of the copy; made when there is none

    Raises
    ------
    InputError
        It is no copy of this register: it holds another fact, or more.
    DamagedError
        The chain of what is followed does not hold; the copy stays as it was.
    """
    target = opening.connect(opening.read_url(to))
    try:
        with opening.said_plainly():
            opening.migrate(target)
            with opening.reading(source) as there, opening.writing(target).begin() as here:
                return _catch_up(there, here)
    finally:
        target.dispose()


def _catch_up(there: Connection, here: Connection) -> tuple[Head, int]:
    here.execute(select(REGISTER.c.seq).with_for_update())
    end, held = read_head(there), read_head(here)
    if held.seq:
        same = there.execute(select(FACTS.c.hash).where(FACTS.c.seq == held.seq)).scalar()
        if same is None or bytes(same) != held.hash:
            say = f"is no copy of this register: its fact {held.seq} is not there, or is another"
            raise InputError(Fault("to", say))
    _copy_contents(there, here)
    seq, before = held.seq, held.hash
    while seq < end.seq:
        page = select(FACTS).where(FACTS.c.seq > seq).order_by(FACTS.c.seq).limit(_PAGE)
        rows = [dict(row._mapping) for row in there.execute(page)]
        for row in rows:
            seq += 1
            if row["seq"] != seq or link(before, seq, row["received"], row["body"]) != row["hash"]:
                msg = (
                    f"fact {seq} is missing or is not what was recorded; the copy ends before it: "
                    "check with: splicewright register verify"
                )
                raise DamagedError(msg)
            before = row["hash"]
        if not rows:
            break
        here.execute(insert(FACTS), rows)
    if seq > held.seq:
        values = {"seq": seq, "hash": before, "derivation": _UNDERIVED}
        here.execute(update(REGISTER).values(values))
    return Head(seq, before), seq - held.seq


def _copy_contents(there: Connection, here: Connection) -> None:
    """Contents that are not held yet; they are only ever added."""
    if _number(there) == _number(here):
        return
    held = set(here.execute(select(CONTENTS.c.digest)).scalars())
    for digest in there.execute(select(CONTENTS.c.digest)).scalars().all():
        if digest not in held:
            row = there.execute(select(CONTENTS).where(CONTENTS.c.digest == digest)).one()
            here.execute(insert(CONTENTS), [dict(row._mapping)])


def _number(connection: Connection) -> Any:
    return connection.execute(select(func.count()).select_from(CONTENTS)).scalar()
