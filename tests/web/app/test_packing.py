"""How answers are packed: what a browser takes is what it gets (RFC 9110, 12.4.2, 12.5.3)."""

from __future__ import annotations

import pytest

from splicewright.web.app.packing import takes


@pytest.mark.parametrize(
    ("accepted", "way"),
    [
        ("gzip, deflate, br, zstd", "br"),
        ("gzip", "gzip"),
        ("", ""),
        ("identity", ""),
        ("br;q=0, gzip;q=1.0", "gzip"),
        ("br;q=0.0, gzip", "gzip"),
        ("br; q=0.000, gzip; q=0", ""),
        ("br;q=0.001, gzip;q=0.5", "br"),
        ("BR", "br"),
    ],
)
def test_what_is_taken(accepted: str, way: str) -> None:
    headers = [(b"accept-encoding", accepted.encode())] if accepted else []
    assert takes({"headers": headers}) == way
