"""Checking the chain, and deriving the present state anew from all facts."""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Iterator
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Engine, delete, func, select, update

from splicewright.errors import InputError
from splicewright.store.database import opening
from splicewright.store.database.schema import CONTENTS, DERIVATION, FACTS, REGISTER, TABLES
from splicewright.store.facts.contents import names_content
from splicewright.store.facts.facts import FIRST_HASH, Correction, Fact, Stored, link
from splicewright.store.present.deriving import MemoryPresent, derive
from splicewright.store.present.present import KEYS, ConveyorNow, JointNow, key_of
from splicewright.store.progress import Tell, tell_nobody
from splicewright.store.refusals import DamagedError
from splicewright.store.register import Head, Verified
from splicewright.store.sql.appending import fact_values, read_stored
from splicewright.store.sql.contents import unpack
from splicewright.store.sql.life_counts import count_anew, miscounted
from splicewright.store.sql.present import SqlPresent, rows

_PAGE = 2000
_CONTENTS = 200
_UNCOUNTED = 4
"""The derivation before lives were counted: nothing else has changed since."""
_UNLIKE = "is not what the facts give; splicewright register verify --rebuild derives it anew"
_MOST_FAULTS = 50


def read_head(connection: Connection) -> Head:
    """The end of the chain."""
    seq, hash_ = connection.execute(select(REGISTER.c.seq, REGISTER.c.hash)).one()
    return Head(seq, bytes(hash_))


def read_rows(connection: Connection) -> Iterator[Any]:
    """All rows of `facts` in order, a page at a time."""
    last = 0
    while True:
        query = select(FACTS).where(FACTS.c.seq > last).order_by(FACTS.c.seq).limit(_PAGE)
        page = connection.execute(query).all()
        yield from page
        if len(page) < _PAGE:
            return
        last = page[-1].seq


def check_head(engine: Engine) -> None:
    """Quick check at opening: the end of the log is the end of the chain.

    Raises
    ------
    DamagedError
        It is not.
    """
    with opening.reading(engine) as connection:
        head = read_head(connection)
        last = connection.execute(select(func.max(FACTS.c.seq))).scalar() or 0
        found = connection.execute(select(FACTS.c.hash).where(FACTS.c.seq == last)).scalar()
    if last != head.seq or bytes(found or FIRST_HASH) != head.hash:
        msg = (
            f"the register's chain should end at fact {head.seq} and the log ends at {last}: facts "
            "were removed or added past the register; keep it as it is, check it with: "
            "splicewright register verify, and restore the newest backup"
        )
        raise DamagedError(msg)


def rebuild_if_old(engine: Engine, tell: Tell = tell_nobody) -> None:
    """Derive anew when the way of deriving has changed since the register was last open."""
    query = select(REGISTER.c.derivation)
    with engine.connect() as connection:
        if connection.execute(query).scalar() == DERIVATION:
            return
    with opening.writing(engine).begin() as connection:
        there = connection.execute(query.with_for_update()).scalar()
        if there == _UNCOUNTED:
            count_anew(connection, tell)
            connection.execute(update(REGISTER).values(derivation=DERIVATION))
        elif there != DERIVATION:
            rebuild(connection, tell)


def rebuild(connection: Connection, tell: Tell = tell_nobody) -> None:
    """Derive the present state anew from all facts."""
    connection.execute(select(REGISTER.c.seq).with_for_update())
    for table in reversed(TABLES.values()):
        connection.execute(delete(table))
    present = SqlPresent(connection)
    last = read_head(connection).seq
    for number, stored in enumerate(_amended(connection), 1):
        derive(stored, present)
        if number % _PAGE == 0:
            present.flush()
            present.clear()
            tell(number, last, "deriving the present state")
    present.flush()
    count_anew(connection, tell)
    connection.execute(update(REGISTER).values(derivation=DERIVATION))


def verify(
    connection: Connection, anchor: Head | None = None, tell: Tell = tell_nobody
) -> Verified:
    """Check the chain, the contents and the present state.

    A fact whose hash does not fit is named; the chain is then taken up from its stored hash,
    so that only what was touched is named.
    """
    faults: list[str] = []
    memory = MemoryPresent()
    named = _verify_chain(connection, anchor, faults, memory, tell)
    contents = _verify_contents(connection, named, faults, tell)
    if not faults:
        _verify_present(connection, faults, memory, tell)
    if len(faults) > _MOST_FAULTS:
        more = len(faults) - _MOST_FAULTS
        faults[_MOST_FAULTS:] = [f"and {more} more"]
    return Verified(read_head(connection), contents, tuple(faults))


def _verify_chain(
    connection: Connection,
    anchor: Head | None,
    faults: list[str],
    memory: MemoryPresent,
    tell: Tell,
) -> dict[str, int]:
    """The contents that facts name, with the number of a fact that does.

    memory : is given the facts as long as nothing is wrong with any
    """
    named: dict[str, int] = {}
    corrections = dict[UUID, Correction]()
    with contextlib.suppress(InputError):  # one that cannot be read is named below
        corrections = _corrections(connection)
    before, last = FIRST_HASH, 0
    of = read_head(connection).seq
    for row in read_rows(connection):
        if row.seq % _PAGE == 0:
            tell(row.seq, of, "checking the chain of facts")
        if row.seq != last + 1:
            gap = f"fact {last + 1} is" if row.seq == last + 2 else f"facts {last + 1} to " \
                f"{row.seq - 1} are"  # fmt: skip
            faults.append(f"{gap} missing")
        elif link(before, row.seq, row.received, row.body) != bytes(row.hash):
            faults.append(f"fact {row.seq} is not what was recorded: its hash does not fit")
        else:
            stored = _read(row, named, faults)
            if stored is not None and not faults:
                derive(_as_corrected(stored, corrections), memory)
        before, last = bytes(row.hash), row.seq
        if anchor is not None and anchor.seq == row.seq and anchor.hash != before:
            faults.append(f"fact {row.seq} has another hash than the head written down earlier")
    head = read_head(connection)
    if (last, before) != (head.seq, head.hash):
        faults.append(f"the chain ends at fact {last} and should end at fact {head.seq}")
    if anchor is not None and anchor.seq > last:
        faults.append(f"fact {anchor.seq} of the head written down earlier is missing")
    return named


def _read(row: Any, named: dict[str, int], faults: list[str]) -> Stored | None:
    """The fact; a fault where a column says something else than its JSON, which is hashed."""
    try:
        fact = Fact.from_json(row.body)
    except InputError as error:
        faults.append(f"fact {row.seq} cannot be read: {error}")
        return None
    digest = names_content(fact.what)
    if digest is not None:
        named.setdefault(digest, row.seq)
    stored = Stored(row.seq, row.received, bytes(row.hash), fact)
    faults += [
        f'fact {row.seq}: column "{name}" is not what the fact says'
        for name, value in fact_values(stored, row.body).items()
        if name not in {"hash", "body"} and getattr(row, name) != value
    ]
    return stored


def _verify_contents(
    connection: Connection, named: dict[str, int], faults: list[str], tell: Tell
) -> int:
    digests = list(connection.execute(select(CONTENTS.c.digest)).scalars())
    for number, digest in enumerate(digests):
        if number % _CONTENTS == 0:
            tell(number, len(digests), "checking kept plans and photographs")
        row = connection.execute(select(CONTENTS).where(CONTENTS.c.digest == digest)).one()
        data = unpack(bytes(row.data), row.packed)
        if data is None or hashlib.sha256(data).hexdigest() != digest:
            faults.append(f"content {digest[:12]}... is not what was kept")
    for digest in named.keys() - set(digests):
        faults.append(f"content {digest[:12]}... of fact {named[digest]} is missing")
    return len(digests)


def _verify_present(
    connection: Connection, faults: list[str], memory: MemoryPresent, tell: Tell
) -> None:
    """The present state must be what the facts give."""
    for number, (kind, table) in enumerate(TABLES.items()):
        tell(number, len(TABLES), "comparing the present state")
        there = {key_of(row): row for row in rows(kind, connection.execute(select(table)))}
        should = memory.rows(kind)
        for key in there.keys() | should.keys():
            if there.get(key) != should.get(key):
                what = ", ".join(f"{n} {k}" for n, k in zip(KEYS[kind], key, strict=True))
                faults.append(f"present state of {table.name} ({what}) {_UNLIKE}")
    joints, conveyors = memory.rows(JointNow), memory.rows(ConveyorNow)
    wrong = miscounted(
        connection,
        (row for row in joints.values() if isinstance(row, JointNow)),
        {row.conveyor: row for row in conveyors.values() if isinstance(row, ConveyorNow)},
    )
    if wrong:
        faults.append(f"present state of life_counts ({wrong} rows) {_UNLIKE}")


def _amended(connection: Connection) -> Iterator[Stored]:
    """All facts in order with the last correction of each applied."""
    corrections = _corrections(connection)
    for row in read_rows(connection):
        yield _as_corrected(read_stored(row), corrections)


def _corrections(connection: Connection) -> dict[UUID, Correction]:
    """The last correction of each fact that has one."""
    query = select(FACTS.c.body).where(FACTS.c.corrects.is_not(None)).order_by(FACTS.c.seq)
    whats = (Fact.from_json(body).what for body in connection.execute(query).scalars())
    return {what.corrects: what for what in whats if isinstance(what, Correction)}


def _as_corrected(stored: Stored, corrections: dict[UUID, Correction]) -> Stored:
    correction = corrections.get(stored.fact.id)
    return stored if correction is None else stored.amended(correction)
