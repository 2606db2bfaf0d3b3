"""Static files as they are sent: smaller, and the same to a browser."""

from __future__ import annotations

import gzip
import re

import brotli
import pytest
from fastapi.testclient import TestClient
from starlette.types import Receive, Scope, Send

from splicewright.web.app.packing import SMALLEST, Packing
from splicewright.web.app.rendering import BUNDLES, STATIC, static, static_bytes

OURS = sorted({part for parts in BUNDLES.values() for part in parts if "vendor" not in part})


@pytest.mark.parametrize("name", OURS)
def test_no_text_of_a_script_goes_over_lines(name: str) -> None:
    """Else taking away its indents, or a line that begins like a comment, would change it."""
    within = False
    for number, line in enumerate((STATIC / name).read_text("utf-8").splitlines(), 1):
        assert not line.rstrip().endswith("\\"), (name, number)
        if line.count("`") % 2 == 0:
            continue
        # A template may go on only within an expression, where blanks mean nothing.
        assert within or re.search(r"`[^`]*\$\{[^}`]*$", line), (name, number)
        within = not within
    assert not within


@pytest.mark.parametrize("name", OURS)
def test_no_text_of_a_script_looks_like_a_comment(name: str) -> None:
    """Else taking away comments behind a line would cut it: before each, all quotes are closed."""
    for number, line in enumerate((STATIC / name).read_text("utf-8").splitlines(), 1):
        before, found, _ = line.partition(" // ")
        plain = re.sub(r"\\.|/[^/]+/[a-z]*(?=[.,;)])", "", before)
        assert not found or all(plain.count(quote) % 2 == 0 for quote in "\"'`"), (name, number)


@pytest.mark.parametrize("name", [*BUNDLES, "splicewright.css", "push-phone.js"])
def test_a_file_is_sent_packed_to_who_takes_it_so(client: TestClient, name: str) -> None:
    """Brotli where it is taken (RFC 9110, 12.5.3: weights), unpacked by the library itself."""
    whole = static_bytes(name)
    for asked, how, unpack in (
        ("gzip", "gzip", gzip.decompress),
        ("gzip, deflate, br, zstd", "br", brotli.decompress),
        ("br;q=0, gzip;q=0.5", "gzip", gzip.decompress),
        ("br;q=0.1", "br", brotli.decompress),
        ("identity", "", bytes),
        ("brotli", "", bytes),
    ):
        with client.stream("GET", static(name), headers={"Accept-Encoding": asked}) as answer:
            sent = b"".join(answer.iter_raw())
        assert answer.headers.get("content-encoding", "") == how, asked
        assert unpack(sent) == whole
        assert answer.headers["vary"] == "Accept-Encoding"
        assert "immutable" in answer.headers["cache-control"]
        assert int(answer.headers["content-length"]) == len(sent)


@pytest.mark.parametrize("length", [599, 600, 200_000])
@pytest.mark.parametrize("how", ["br", "gzip"])
def test_an_answer_is_packed_whole_or_in_pieces(length: int, how: str) -> None:
    text = (b"belt out and in, plate %d. " * 10_000)[:length]

    async def app(scope: Scope, receive: Receive, send: Send) -> None:
        pieces = [text] if scope["path"] == "/whole" else [text[:500], text[500:]]
        await send({"type": "http.response.start", "status": 200, "headers": []})
        for piece in pieces:
            more = piece is not pieces[-1]
            await send({"type": "http.response.body", "body": piece, "more_body": more})

    client = TestClient(Packing(app, minimum_size=SMALLEST))
    for path in ("/whole", "/pieces"):
        with client.stream("GET", path, headers={"Accept-Encoding": how}) as answer:
            sent = b"".join(answer.iter_raw())
        packed = answer.headers.get("content-encoding")
        assert packed == (None if path == "/whole" and length < SMALLEST else how)
        unpack = {"br": brotli.decompress, "gzip": gzip.decompress}[how] if packed else bytes
        assert unpack(sent) == text
