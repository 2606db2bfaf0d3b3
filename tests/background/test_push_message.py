"""Messages to phones against published examples: RFC 8291 (encryption), RFC 8292 (who sends)."""

from __future__ import annotations

import json
from typing import Any

import pytest
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature
from hypothesis import given, settings
from hypothesis import strategies as st

from background.phone import Browser
from depth import examples
from splicewright.background.push_message import (
    LARGEST,
    authorization,
    encrypted,
    from_plain64,
    plain64,
    point_of,
    private_key,
    public_key,
)

# RFC 8291, section 5 and appendix A; line breaks of the text taken out.
TEXT = b"When I grow up, I want to be a watermelon"
SENDER = "yfWPiYE-n46HLnH0KqZOF1fJJU3MYrct3AELtAQ-oRw"
SENDER_POINT = (
    "BP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A8"
)
BROWSER = "q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94"
BROWSER_POINT = (
    "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4"
)
SALT, SHARED = "DGv6ra1nlYgDCS1FRnbzlw", "BTBZMqHH6r4Tts7J_aSIgg"
BODY = (
    "DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27ml"
    "mlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A_yl95bQpu6cVPT"
    "pK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qulcy4a-fN"
)
# RFC 8292, section 2.4: token and key of the example.
TOKEN = (
    "eyJ0eXAiOiJKV1QiLCJhbGciOiJFUzI1NiJ9.eyJhdWQiOiJodHRwczovL3"
    "B1c2guZXhhbXBsZS5uZXQiLCJleHAiOjE0NTM1MjM3NjgsInN1YiI6Im1ha"
    "Wx0bzpwdXNoQGV4YW1wbGUuY29tIn0.i3CYb7t4xfxCDquptFOepC9GAu_H"
    "LGkMlMuCGSK2rpiUfnK9ojFwDXb1JrErtmysazNjjvW2L9OkSSHzvoD1oA"
)
TOKEN_KEY = (
    "BA1Hxzyi1RUM1b5wjxsn7nGxAszw2u61m164i3MrAIxHF6YK5h4SDYic-dRuU_RCPCfA5aq9ojSwk5Y2EmClBPs"
)


def claims(token: str, key: str) -> dict[str, Any]:
    """What a token says, once its signature was found right (RFC 7515, RFC 7518 3.4)."""
    head, said, signature = token.split(".")
    raw = from_plain64(signature)
    assert len(raw) == 64
    pair = encode_dss_signature(int.from_bytes(raw[:32]), int.from_bytes(raw[32:]))
    signed = f"{head}.{said}".encode()
    public_key(from_plain64(key)).verify(pair, signed, ec.ECDSA(hashes.SHA256()))
    assert json.loads(from_plain64(head)) == {"typ": "JWT", "alg": "ES256"}
    found: dict[str, Any] = json.loads(from_plain64(said))
    return found


def test_the_published_message() -> None:
    """RFC 8291, section 5: byte for byte."""
    sender = private_key(from_plain64(SENDER))
    assert plain64(point_of(sender)) == SENDER_POINT
    made = encrypted(
        TEXT, from_plain64(BROWSER_POINT), from_plain64(SHARED), sender=sender,
        salt=from_plain64(SALT),
    )  # fmt: skip
    assert plain64(made) == BODY
    assert Browser(private_key(from_plain64(BROWSER)), from_plain64(SHARED)).read(made) == TEXT


@settings(max_examples=examples(20), deadline=None)
@given(text=st.binary(max_size=LARGEST))
def test_only_its_browser_reads_a_message(text: bytes) -> None:
    browser = Browser.new()
    made = encrypted(text, browser.point, browser.shared)
    assert browser.read(made) == text
    assert len(made) <= 4096 and (len(text) < 8 or text not in made)
    # Salt and sender are drawn anew: the same message never looks the same.
    assert encrypted(text, browser.point, browser.shared) != made
    with pytest.raises(ValueError, match="not for this browser"):
        Browser.new().read(made)


def test_who_sends() -> None:
    """RFC 8292, section 2.4: this test's own reader takes the published token, then ours."""
    assert claims(TOKEN, TOKEN_KEY) == {
        "aud": "https://push.example.net", "exp": 1453523768, "sub": "mailto:push@example.com",
    }  # fmt: skip
    key = ec.generate_private_key(ec.SECP256R1())
    endpoint, now = "https://push.example.net:8443/p/one?two", 1453500000.7
    word, _, rest = authorization(endpoint, "mailto:b@site.example", key, now).partition(" ")
    given_ = dict(part.strip().split("=", 1) for part in rest.split(","))
    assert word == "vapid" and given_["k"] == plain64(point_of(key))
    told = claims(given_["t"], given_["k"])
    # Section 2: the origin of the address, and not longer than a day.
    assert told["aud"] == "https://push.example.net:8443" and told["sub"] == "mailto:b@site.example"
    assert now < told["exp"] <= now + 24 * 3600
    with pytest.raises(InvalidSignature):
        claims(given_["t"], TOKEN_KEY)


@pytest.mark.parametrize("point", [b"", b"\4" + bytes(64), bytes(65)])
def test_a_key_that_is_none(point: bytes) -> None:
    with pytest.raises(ValueError):
        public_key(point)
