"""Backups into a bucket of an S3-compatible object store; each is fetched back and verified.

The library `obstore` reads where the store is and who asks from the usual variables
(`AWS_ENDPOINT_URL`, `AWS_ACCESS_KEY_ID`, `AWS_SECRET_ACCESS_KEY`, `AWS_REGION`).
"""

from __future__ import annotations

import contextlib
import os
import re
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from splicewright.actions.register.backup import back_up
from splicewright.actions.register.backup_folder import HEADS
from splicewright.errors import Fault, InputError, OutputError

if TYPE_CHECKING:
    from obstore.store import S3Store

    from splicewright.store import Head, Register

SCHEME = "s3://"
_ENDPOINTS = ("AWS_ENDPOINT_URL_S3", "AWS_ENDPOINT_URL", "AWS_ENDPOINT")
_SAID = re.compile(r"<Message>([^<]+)</Message>|HTTP error: (.+?)(?: Debug source|$)")
_PLAIN = {"localhost", "127.0.0.1", "::1"}
"""Only this machine's own is spoken to without encryption."""


class Bucket:
    """Backups under a prefix of a bucket: `s3://BUCKET/PREFIX`.

    Raises InputError: that is no such place, or the store would be spoken to without encryption.
    Raises ModuleNotFoundError: the extra is not installed.
    """

    def __init__(self, url: str) -> None:
        from obstore.store import S3Store

        split = urlsplit(url)
        if split.scheme != "s3" or not split.netloc or split.query or split.fragment:
            say = f'"{url[:80]}" is no place in a store; accepted is s3://BUCKET/PREFIX'
            raise InputError(Fault("folder", say))
        endpoint = urlsplit(next(filter(None, map(os.environ.get, _ENDPOINTS)), "https:"))
        plain = endpoint.scheme == "http"
        if plain and endpoint.hostname not in _PLAIN:
            say = (
                f"{endpoint.hostname} would be spoken to without encryption; accepted is an "
                "endpoint that begins with https://"
            )
            raise InputError(Fault("AWS_ENDPOINT_URL", say))
        self._url = url
        with self._plainly("cannot be used"):
            self._store: S3Store = S3Store(
                split.netloc,
                prefix=split.path.strip("/") or None,
                client_options={"allow_http": plain, "connect_timeout": "20s", "timeout": "10m"},
                retry_config={"max_retries": 3},
            )

    def write(self, register: Register, name: str) -> Head:
        """Write a backup beside here, then send it."""
        import obstore

        with tempfile.TemporaryDirectory(prefix="splicewright-") as folder:
            file = Path(folder) / name
            head = back_up(register, file)
            with self._plainly("took no backup; nothing was removed"):
                obstore.put(self._store, name, file)
        return head

    def fetch(self, name: str, beside: Path) -> Path:
        """What the store gives back."""
        import obstore

        there = beside / name
        with (
            self._plainly(f"did not give {name} back; nothing was removed"),
            there.open("wb") as file,
        ):
            for piece in obstore.get(self._store, name).stream():
                file.write(piece)
        return there

    def workshop(self) -> None:
        """The system's place for what is temporary."""

    def set_aside(self, name: str) -> None:
        """Rename it."""
        import obstore

        with self._plainly(f"keeps {name}, which does not hold"):
            obstore.rename(self._store, name, f"{name}.damaged")

    def names(self) -> list[str]:
        """Objects right under the prefix."""
        import obstore

        with self._plainly("cannot be listed; nothing was removed"):
            objects = obstore.list_with_delimiter(self._store)["objects"]
        return [str(one["path"]) for one in objects]

    def finish(self, line: str, removed: Sequence[str]) -> None:
        """Note it in the list of heads, then remove old ones."""
        import obstore
        from obstore.exceptions import NotFoundError

        with self._plainly("holds the backup, but its list or old backups could not be changed"):
            try:
                heads = bytes(obstore.get(self._store, HEADS).bytes())
            except (NotFoundError, FileNotFoundError):
                heads = b""
            obstore.put(self._store, HEADS, heads + line.encode())
            for name in removed:
                obstore.delete(self._store, name)

    @contextlib.contextmanager
    def _plainly(self, outcome: str) -> Iterator[None]:
        """The store's refusal as one sentence."""
        from obstore.exceptions import BaseError

        try:
            yield
        except (BaseError, OSError, ValueError) as error:
            msg = f"{self._url} {outcome}: {_why(error)}"
            raise OutputError(msg) from None


def _why(error: Exception) -> str:
    """What the store said, without what the library says around it."""
    text = " ".join(str(error).split())
    match = _SAID.search(text)
    return (match[1] or match[2]).strip() if match else text[:200]
