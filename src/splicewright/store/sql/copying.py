"""Copies of the whole register: JSON lines, and SQLite's own online backup.

A dump has a first line with counts and the head, then a line for each content (base64), then a
line for each fact in order, with its number, moment of arrival and hash. Loaded into an empty
register it gives the same chain.
"""

from __future__ import annotations

import base64
import binascii
import contextlib
import hashlib
import json
import os
import sqlite3
import tempfile
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, func, insert, select, update

from splicewright.errors import Fault, InputError, OutputError
from splicewright.store.database import opening
from splicewright.store.database.schema import CONTENTS, FACTS, REGISTER
from splicewright.store.facts.facts import FIRST_HASH, Fact, Stored, link, microseconds
from splicewright.store.register import LARGEST_CONTENT, MEDIA_TYPES, Head
from splicewright.store.sql.appending import fact_values
from splicewright.store.sql.contents import content_values, unpack

DUMP_FORMAT = 1
_PAGE = 1000
_LONGEST_LINE = 2 * LARGEST_CONTENT


def dump(connection: Connection) -> Iterator[str]:
    """The whole register as JSON lines, without line ends."""
    from splicewright.store.sql.verifying import read_head, read_rows

    digests = list(
        connection.execute(select(CONTENTS.c.digest).order_by(CONTENTS.c.digest)).scalars()
    )
    head = read_head(connection)
    yield _line(
        {
            "splicewright": "register",
            "format": DUMP_FORMAT,
            "facts": head.seq,
            "contents": len(digests),
            "head": str(head),
        }
    )
    for digest in digests:
        row = connection.execute(select(CONTENTS).where(CONTENTS.c.digest == digest)).one()
        data = unpack(row.data, row.packed)
        encoded = base64.b64encode(data or b"").decode("ascii")
        yield _line({"content": digest, "media_type": row.media_type, "data": encoded})
    for row in read_rows(connection):
        arrived = microseconds(row.received)
        hash_ = bytes(row.hash).hex()
        # The body goes in as it is: it is canonical, and its bytes are what the hash covers.
        yield f'{{"seq":{row.seq},"received":{arrived},"hash":"{hash_}","fact":{row.body}}}'


def load(connection: Connection, lines: Iterable[str]) -> Head:
    """Fill an empty register from a dump; see `Register.load`."""
    from splicewright.store.sql.verifying import rebuild

    connection.execute(select(REGISTER.c.seq).with_for_update())
    for table in (FACTS, CONTENTS):
        if connection.execute(select(func.count()).select_from(table)).scalar():
            raise InputError(Fault("register", "is not empty; a dump is loaded into an empty one"))
    numbered = enumerate(lines, 1)
    first = next(numbered, None)
    claim = _read_header(first[1] if first is not None else "")
    loading = _Loading(connection)
    for number, line in numbered:
        if line.strip():
            loading.take(number, line)
    loading.flush()
    head = Head(loading.seq, loading.hash)
    if (loading.seq, loading.contents, str(head)) != claim:
        say = (
            f"the dump is cut off or altered: it says {claim[0]} facts and {claim[1]} contents and "
            f"holds {loading.seq} and {loading.contents}"
        )
        raise InputError(Fault("", say))
    connection.execute(update(REGISTER).values(seq=head.seq, hash=head.hash))
    rebuild(connection)
    return head


class _Loading:
    """Takes the lines of a dump in order and inserts them a page at a time."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._facts: list[dict[str, object]] = []
        self._digests: set[str] = set()
        self.seq, self.hash = 0, FIRST_HASH

    @property
    def contents(self) -> int:
        """How many contents were taken."""
        return len(self._digests)

    def take(self, number: int, line: str) -> None:
        """Take one line."""
        data = _read_line(number, line)
        if "content" in data:
            self._content(number, data)
        else:
            self._fact(number, data)
        if len(self._facts) >= _PAGE:
            self.flush()

    def flush(self) -> None:
        """Insert what is waiting."""
        if self._facts:
            self._connection.execute(insert(FACTS), self._facts)
            self._facts = []

    def _content(self, number: int, data: dict[str, Any]) -> None:
        if str(data["content"]) in self._digests:
            raise _wrong(number, "the content is there twice")
        try:
            content = base64.b64decode(data["data"], validate=True)
        except (KeyError, TypeError, ValueError, binascii.Error):
            raise _wrong(number, "is no content of a dump") from None
        if hashlib.sha256(content).hexdigest() != data["content"]:
            raise _wrong(number, "the content is not what its digest says")
        media_type = data.get("media_type")
        if media_type not in MEDIA_TYPES or not 0 < len(content) <= LARGEST_CONTENT:
            raise _wrong(number, "the content is of a type or size that is not kept")
        values = content_values(str(data["content"]), str(media_type), content)
        self._connection.execute(insert(CONTENTS), [values])
        self._digests.add(str(data["content"]))

    def _fact(self, number: int, data: dict[str, Any]) -> None:
        try:
            seq, arrived, hash_ = data["seq"], data["received"], bytes.fromhex(data["hash"])
            received = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=arrived)
            body = json.dumps(
                data["fact"], sort_keys=True, separators=(",", ":"), ensure_ascii=False
            )
        except (KeyError, TypeError, ValueError, OverflowError):
            raise _wrong(number, "is no fact of a dump") from None
        if seq != self.seq + 1:
            raise _wrong(number, f"fact {self.seq + 1} is missing")
        if link(self.hash, seq, received, body) != hash_:
            raise _wrong(number, f"fact {seq} is not what was recorded: its hash does not fit")
        try:
            fact = Fact.from_json(body)
        except InputError as error:
            raise _wrong(number, f"fact {seq} cannot be read: {error}") from None
        self._facts.append(fact_values(Stored(seq, received, hash_, fact), body))
        self.seq, self.hash = seq, hash_


def back_up(engine: Engine, to: Path) -> Head:
    """Write a whole copy to a new file: SQLite's own from SQLite, a dump from PostgreSQL."""
    if to.exists():
        msg = f"{to.name} is already there; it was not touched"
        raise OutputError(msg)
    fresh: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=f".{to.name}.", dir=to.absolute().parent)
        fresh = Path(name)  # made by mkstemp for its owner only
        os.close(handle)
        head = _copy_sqlite(engine, fresh) if engine.dialect.name == "sqlite" else None
        head = head or _write_dump(engine, fresh)
        with fresh.open("rb+") as file:
            os.fsync(file.fileno())
        # Making the name first never replaces a file, on any file system, a USB stick's too.
        os.close(os.open(to, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        fresh.replace(to)
    except FileExistsError:
        msg = f"{to.name} is already there; it was not touched"
        raise OutputError(msg) from None
    except OSError as error:
        msg = f"{to.name} cannot be written: {error.strerror}; nothing was left"
        raise OutputError(msg) from None
    except sqlite3.Error as error:
        msg = f"{to.name} cannot be written: {error}; nothing was left"
        raise OutputError(msg) from None
    finally:
        if fresh is not None:
            with contextlib.suppress(OSError):
                fresh.unlink()
    return head


def _copy_sqlite(engine: Engine, to: Path) -> Head:
    pooled = engine.raw_connection()
    copy = sqlite3.connect(to)
    try:
        source = pooled.driver_connection
        assert isinstance(source, sqlite3.Connection)
        source.backup(copy)
        copy.execute("PRAGMA journal_mode = DELETE")  # one file, nothing beside it
        if copy.execute("PRAGMA integrity_check(1)").fetchone()[0] != "ok":
            msg = f"{to.name} cannot be written: the copy is damaged, and so may the register be"
            raise OutputError(msg)
        seq, hash_ = copy.execute("SELECT seq, hash FROM register").fetchone()
    finally:
        copy.close()
        pooled.close()
    return Head(seq, hash_)


def _write_dump(engine: Engine, to: Path) -> Head:
    from splicewright.store.sql.verifying import read_head

    with opening.reading(engine) as connection, to.open("w", encoding="utf-8") as file:
        head = read_head(connection)
        for line in dump(connection):
            file.write(line + "\n")
    return head


def _read_header(line: str) -> tuple[int, int, str]:
    try:
        head = json.loads(line)
        header = head["splicewright"], head["format"], head["facts"], head["contents"], head["head"]
    except (ValueError, KeyError, TypeError, RecursionError):
        header = ("", 0, 0, 0, "")
    if header[0] != "register":
        raise InputError(Fault("", "is no dump of a register"))
    if header[1] != DUMP_FORMAT:
        say = f"is a dump of format {header[1]!r}; accepted is {DUMP_FORMAT}"
        raise InputError(Fault("", say))
    return header[2], header[3], header[4]


def _read_line(number: int, line: str) -> dict[str, Any]:
    if len(line) > _LONGEST_LINE:
        raise _wrong(number, "is longer than any line of a dump")
    try:
        data = json.loads(line)
    except (ValueError, RecursionError):
        raise _wrong(number, "is no JSON: the dump is cut off or damaged") from None
    if not isinstance(data, dict):
        raise _wrong(number, "is no line of a dump")
    return data


def _wrong(number: int, sentence: str) -> InputError:
    return InputError(Fault("", sentence, "dump", number))


def _line(data: dict[str, Any]) -> str:
    return json.dumps(data, separators=(",", ":"))
