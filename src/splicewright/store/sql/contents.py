"""Kept contents as rows: plans and files are packed, photographs lie as they are."""

from __future__ import annotations

import zlib
from uuid import UUID

from sqlalchemy import Connection, insert, select

from splicewright.errors import Fault, InputError
from splicewright.store.database.schema import CONTENT_SENDERS, CONTENTS, REGISTER
from splicewright.store.register import LARGEST_CONTENT, MEDIA_TYPES

_TEXTS = {"application/json", "application/toml"}


def content_values(digest: str, media_type: str, data: bytes) -> dict[str, object]:
    """A content as a row of `contents`; texts are packed, they shrink to a tenth."""
    packed = media_type in _TEXTS
    stored = zlib.compress(data) if packed else data
    return {
        "digest": digest,
        "media_type": media_type,
        "size": len(data),
        "packed": packed,
        "data": stored,
    }


def unpack(data: bytes, packed: bool) -> bytes | None:
    """What was kept; None when it cannot be unpacked or is larger than what is ever kept."""
    if not packed:
        return bytes(data)
    unpacker = zlib.decompressobj()
    try:
        text = unpacker.decompress(data, LARGEST_CONTENT)
    except zlib.error:
        return None
    return text if unpacker.eof else None


def refuse_unfit(data: bytes, media_type: str) -> None:
    """Refuse what is not kept: another kind of content, nothing, or too much."""
    if media_type not in MEDIA_TYPES:
        accepted = ", ".join(MEDIA_TYPES)
        raise InputError(
            Fault("media_type", f'"{media_type}" is not kept; accepted is one of {accepted}')
        )
    if not 0 < len(data) <= LARGEST_CONTENT:
        most = LARGEST_CONTENT // 1_000_000
        raise InputError(
            Fault("", f"is {len(data)} bytes; accepted is more than 0 and up to {most} MB")
        )


def keep(connection: Connection, digest: str, media_type: str, data: bytes) -> None:
    """Keep a content unless it is there; the caller's transaction writes."""
    query = select(CONTENTS.c.digest).where(CONTENTS.c.digest == digest)
    if connection.dialect.name == "postgresql":
        # Two clients may keep the same photograph at once: the second waits here.
        connection.execute(select(REGISTER.c.seq).with_for_update())
    if connection.execute(query).first() is None:
        connection.execute(insert(CONTENTS), [content_values(digest, media_type, data)])


def note_sender(connection: Connection, digest: str, account: UUID) -> None:
    """Note who kept a content; the caller's transaction writes."""
    table = CONTENT_SENDERS
    same = (table.c.digest == digest) & (table.c.account == account)
    if connection.execute(select(table.c.digest).where(same)).first() is None:
        connection.execute(insert(table).values(digest=digest, account=account))
