"""Static files as they are sent: smaller, and the same to a browser."""

from __future__ import annotations

import gzip
import re

import pytest
from fastapi.testclient import TestClient

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


def test_a_bundle_is_sent_packed_to_who_takes_it_so(client: TestClient) -> None:
    for name in BUNDLES:
        packed = client.get(static(name), headers={"Accept-Encoding": "gzip"})
        plain = client.get(static(name), headers={"Accept-Encoding": "identity"})
        assert packed.headers["content-encoding"] == "gzip"
        assert "content-encoding" not in plain.headers
        assert packed.content == plain.content == static_bytes(name)
        assert packed.headers["vary"] == plain.headers["vary"] == "Accept-Encoding"
        assert "immutable" in packed.headers["cache-control"]
        assert int(packed.headers["content-length"]) == len(gzip.compress(plain.content, 9))
