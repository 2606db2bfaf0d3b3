"""Answers as small as the browser takes them: Brotli (RFC 7932) before gzip.

A page of a job says much of a step twice, further apart than gzip looks back: Brotli takes a fifth
less for it, and a ninth less for scripts, in the same time.
"""

from __future__ import annotations

import re

from anyio import to_thread
from starlette.middleware.gzip import GZipMiddleware, IdentityResponder
from starlette.types import Receive, Scope, Send

_NONE = re.compile(r"q=0(\.0{0,3})?")
"""A way that who asks does not take (RFC 9110, 12.4.2)."""
QUALITY, LEVEL = 6, 5
"""Of Brotli and gzip, while somebody waits: more takes several times as long for a twentieth."""
SMALLEST = 600
"""What is shorter goes as it is [byte]."""
_LONG = 128 * 1024
"""What is longer is packed beside, so that no other answer waits for it [byte]."""


def takes(scope: Scope) -> str:
    """How who asks takes an answer best: `br`, `gzip`, or empty."""
    header = b",".join(v for name, v in scope["headers"] if name == b"accept-encoding").lower()
    names = set()
    for part in header.decode("latin-1").split(","):
        name, _, weight = part.partition(";")
        if not _NONE.fullmatch(weight.replace(" ", "")):
            names.add(name.strip())
    return next((name for name in ("br", "gzip") if name in names), "")


class Packing(GZipMiddleware):
    """Packs what is worth it, in the way that who asks takes best."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] == "http" and takes(scope) == "br":
            await _Brotli(self.app, self.minimum_size)(scope, receive, send)
        else:
            await super().__call__(scope, receive, send)


class _Brotli(IdentityResponder):
    content_encoding = "br"

    async def apply_compression(self, body: bytes, *, more_body: bool) -> bytes:
        """The next piece, packed; see Starlette's own for gzip."""
        if len(body) >= _LONG:
            return await to_thread.run_sync(self._packed, body, more_body)
        return self._packed(body, more_body)

    def _packed(self, body: bytes, more_body: bool) -> bytes:
        if not hasattr(self, "_packer"):
            import brotli

            self._packer = brotli.Compressor(quality=QUALITY)
        packed: bytes = self._packer.process(body)
        packed += self._packer.flush() if more_body else self._packer.finish()
        return packed
