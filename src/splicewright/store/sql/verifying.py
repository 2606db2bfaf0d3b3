"""Checking the chain, and deriving the present state anew from all facts."""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Iterator
from datetime import datetime
from itertools import islice
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Engine, delete, func, select, update

from splicewright.errors import InputError
from splicewright.store.database import opening
from splicewright.store.database.schema import (
    CONTENTS,
    DERIVATION,
    FACTS,
    REGISTER,
    REVISION,
    SHOWN_SINCE,
    TABLES,
)
from splicewright.store.facts.contents import names_content
from splicewright.store.facts.facts import FIRST_HASH, Correction, Fact, Stored, link, read_back
from splicewright.store.present.deriving import MemoryPresent, derive
from splicewright.store.present.present import KEYS, ConveyorNow, JointNow, key_of
from splicewright.store.progress import Tell, tell_nobody
from splicewright.store.refusals import BusyError, DamagedError
from splicewright.store.register import MEDIA_TYPES, Head, Verified
from splicewright.store.sql import storage
from splicewright.store.sql.appending import STORED, fact_values, read_stored
from splicewright.store.sql.contents import unpack
from splicewright.store.sql.life_counts import count_anew, miscounted
from splicewright.store.sql.partitioning import doubled
from splicewright.store.sql.present import SqlPresent, rows

_PAGE = 2000
_CONTENTS = 200
_UNCOUNTED = 4
"""The derivation before lives were counted: nothing else has changed since."""
_MOST_FAULTS = 50
_OF_NO_KIND = (TypeError, ValueError, KeyError, AttributeError, OverflowError)
_REBUILD = "splicewright register verify --rebuild derives it anew"
_UNLIKE = f"is not what the facts give; {_REBUILD}"


def read_head(connection: Connection) -> Head:
    """The end of the chain."""
    seq, hash_ = connection.execute(select(REGISTER.c.seq, REGISTER.c.hash)).one()
    return Head(seq, bytes(hash_))


def read_rows(connection: Connection) -> Iterator[Any]:
    """All rows of `facts` in order, a page at a time: the columns `STORED`."""
    last = 0
    while True:
        query = select(*STORED).where(FACTS.c.seq > last).order_by(FACTS.c.seq).limit(_PAGE)
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
        last_hash = connection.execute(select(FACTS.c.hash).where(FACTS.c.seq == last)).scalar()
    if last != head.seq or bytes(last_hash or FIRST_HASH) != head.hash:
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
            _derive_anew(connection, tell)


def check_readable(engine: Engine) -> None:
    """See that pages can show it as it stands, while another process brings it up to date.

    Raises
    ------
    BusyError
        Its tables are not those of this release yet, or their rows would be read wrongly.
    """
    with opening.reading(engine) as connection:
        if opening.revision(connection) == REVISION:
            there = connection.execute(select(REGISTER.c.derivation)).scalar()
            if there is not None and SHOWN_SINCE <= there <= DERIVATION:
                return
    msg = "the register is being brought up to date; try again later"
    raise BusyError(msg)


def rebuild(connection: Connection, tell: Tell = tell_nobody) -> None:
    """Derive the present state anew from all facts, and the indexes from their tables."""
    storage.index_anew(connection)
    _derive_anew(connection, tell)


def _derive_anew(connection: Connection, tell: Tell) -> None:
    """In one transaction: until it ends everybody else reads the rows from before."""
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
    """Check file and indexes, the chain, the contents and the present state.

    A fact whose hash does not fit is named; the chain is then taken up from its stored hash,
    so that only what was touched is named.
    """
    faults, readable = storage.check(connection)
    contents = 0
    if readable:
        chain: list[str] = []
        memory = MemoryPresent()
        try:
            named, _ = _verify_chain(connection, anchor, chain, memory, tell)
            contents = _verify_contents(connection, named, faults, tell)
            faults += doubled(connection, _MOST_FAULTS)
            if not chain:
                _verify_present(connection, faults, memory, tell)
            faults += storage.check_beside(connection)
        except _OF_NO_KIND:
            # Damage can make anything of anything: no list of such cases would be whole.
            faults.append("the check ended early: a value is of no kind that the register writes")
        faults += chain
    if len(faults) > _MOST_FAULTS:
        more = len(faults) - _MOST_FAULTS
        faults[_MOST_FAULTS:] = [f"and {more} more"]
    return Verified(read_head(connection), contents, tuple(faults))


def verify_part(
    connection: Connection, since: Head, most: int, tell: Tell = tell_nobody
) -> Verified:
    """Check the chain and its facts behind a head that was checked before; see `Register`."""
    faults: list[str] = []
    end = since
    if since.seq:
        hash_ = connection.execute(select(FACTS.c.hash).where(FACTS.c.seq == since.seq)).scalar()
        if hash_ is None or bytes(hash_) != since.hash:
            faults.append(f"fact {since.seq} has another hash than the head written down earlier")
    if not faults:
        _, end = _verify_chain(connection, None, faults, None, tell, since, most)
    return Verified(end, 0, tuple(faults[:_MOST_FAULTS]))


def _verify_chain(
    connection: Connection,
    anchor: Head | None,
    faults: list[str],
    memory: MemoryPresent | None,
    tell: Tell,
    since: Head = Head(0, FIRST_HASH),  # noqa: B008
    most: int | None = None,
) -> tuple[dict[str, int], Head]:
    """The contents that facts name, with the number of a fact that does; the head it came to.

    memory : is given the facts as long as nothing is wrong with any; None for none
    since, most : only so many facts behind this one
    """
    named: dict[str, int] = {}
    corrections = dict[UUID, Correction]()
    with contextlib.suppress(InputError, DamagedError):  # one that cannot be read is named below
        corrections = _corrections(connection) if memory is not None else {}
    before, last = since.hash, since.seq
    of = read_head(connection).seq
    for seq, hash_, row in islice(_rows_one_by_one(connection, since.seq), most):
        if seq % _PAGE == 0:
            tell(seq, of, "checking the chain of facts")
        if seq != last + 1:
            gap = f"fact {last + 1} is" if seq == last + 2 else f"facts {last + 1} to {seq - 1} are"
            faults.append(f"{gap} missing")
        if row is None:
            faults.append(f"fact {seq} cannot be read")
        elif seq == last + 1 and link(before, seq, row.received, row.body) != hash_:
            faults.append(f"fact {seq} is not what was recorded: its hash does not fit")
        elif seq == last + 1:
            stored = _read(row, named, faults)
            if stored is not None and not faults and memory is not None:
                derive(_as_corrected(stored, corrections), memory)
        before, last = hash_, seq
        if anchor is not None and anchor.seq == seq and not before.startswith(anchor.hash):
            faults.append(f"fact {seq} has another hash than the head written down earlier")
    head = read_head(connection)
    reached = most is None or last - since.seq < most
    if reached and (last, before) != (head.seq, head.hash):
        faults.append(f"the chain ends at fact {last} and should end at fact {head.seq}")
    if anchor is not None and anchor.seq > last:
        faults.append(f"fact {anchor.seq} of the head written down earlier is missing")
    return named, Head(last, before)


def _rows_one_by_one(connection: Connection, last: int) -> Iterator[tuple[int, bytes, Any]]:
    """Number, hash and row of each fact; no row where damage left nothing that can be read."""
    while True:
        here = FACTS.c.seq > last
        order = select(FACTS).where(here).order_by(FACTS.c.seq).limit(_PAGE)
        try:
            with opening.said_plainly():
                page = [(row.seq, row) for row in connection.execute(order)]
        except DamagedError:
            seqs = select(FACTS.c.seq).where(here).order_by(FACTS.c.seq).limit(_PAGE)
            page = [(seq, _one(connection, seq)) for seq in connection.execute(seqs).scalars()]
        for seq, row in page:
            fits = row is not None and (
                isinstance(row.body, str)
                and isinstance(row.hash, bytes)
                and isinstance(row.received, datetime)
            )
            yield seq, row.hash if fits else FIRST_HASH, row if fits else None
        if len(page) < _PAGE:
            return
        last = page[-1][0]


def _one(connection: Connection, seq: int) -> Any:
    try:
        with opening.said_plainly():
            return connection.execute(select(FACTS).where(FACTS.c.seq == seq)).first()
    except DamagedError:
        return None


def _read(row: Any, named: dict[str, int], faults: list[str]) -> Stored | None:
    """The fact; a fault where a column says something else than its JSON, which is hashed."""
    try:
        fact = read_back(row.body)
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
        row = connection.execute(select(CONTENTS).where(CONTENTS.c.digest == digest)).first()
        data = None
        if row is not None and isinstance(row.data, bytes) and row.media_type in MEDIA_TYPES:
            data = unpack(row.data, row.packed)
        fits = data is not None and row is not None and len(data) == row.size
        if data is None or not fits or hashlib.sha256(data).hexdigest() != digest:
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
        try:
            with opening.said_plainly():
                kept_rows = rows(kind, connection.execute(select(table)))
        except DamagedError:
            faults.append(f"present state of {table.name} cannot be read; {_REBUILD}")
            continue
        there = {key_of(row): row for row in kept_rows}
        should = memory.rows(kind)
        for key in there.keys() | should.keys():
            if there.get(key) != should.get(key):
                label = ", ".join(f"{n} {k}" for n, k in zip(KEYS[kind], key, strict=True))
                faults.append(f"present state of {table.name} ({label}) {_UNLIKE}")
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
    events = (Fact.from_json(body).what for body in connection.execute(query).scalars())
    return {event.corrects: event for event in events if isinstance(event, Correction)}


def _as_corrected(stored: Stored, corrections: dict[UUID, Correction]) -> Stored:
    correction = corrections.get(stored.fact.id)
    return stored if correction is None else stored.amended(correction)
