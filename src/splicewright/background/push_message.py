"""One message for one browser: encrypted (RFC 8291), with the proof of who sends it (RFC 8292).

The push service between carries it and can read only where it goes, its size and its urgency.
"""

from __future__ import annotations

import base64
import json
import secrets
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ec import (
        EllipticCurvePrivateKey,
        EllipticCurvePublicKey,
    )

LARGEST = 3993
"""Longest text that every push service carries: 4096 byte encrypted (RFC 8291, 4) [byte]."""
_RECORD = 4096
_LASTS = 12 * 3600
"""A token is good for so long; push services take no more than a day (RFC 8292, 2) [s]."""


def private_key(secret: bytes) -> EllipticCurvePrivateKey:
    """The private key of a number, 32 byte."""
    from cryptography.hazmat.primitives.asymmetric import ec

    return ec.derive_private_key(int.from_bytes(secret), ec.SECP256R1())


def public_key(point: bytes) -> EllipticCurvePublicKey:
    """The public key of a point, as browsers give it: uncompressed, 65 byte.

    Raises
    ------
    ValueError
        It is no point of the curve P-256.
    """
    from cryptography.hazmat.primitives.asymmetric import ec

    return ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), point)


def point_of(key: EllipticCurvePrivateKey) -> bytes:
    """The public key of a private one, as browsers want it."""
    from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

    return key.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)


def encrypted(
    text: bytes,
    browser: bytes,
    shared: bytes,
    *,
    sender: EllipticCurvePrivateKey | None = None,
    salt: bytes | None = None,
) -> bytes:
    """A message that only the browser reads, as content coding aes128gcm (RFC 8188), one record.

    Parameters
    ----------
    text : not longer than `LARGEST`
    browser, shared : the browser's public key and its secret of 16 byte
    sender, salt : drawn anew for each message; given only to repeat a published example
    """
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.ciphers.aead import AESGCM

    assert len(text) <= LARGEST
    sender = sender or ec.generate_private_key(ec.SECP256R1())
    salt = salt or secrets.token_bytes(16)
    point = point_of(sender)
    agreed = sender.exchange(ec.ECDH(), public_key(browser))
    material = _derived(shared, agreed, b"WebPush: info\0" + browser + point, 32)
    key = _derived(salt, material, b"Content-Encoding: aes128gcm\0", 16)
    nonce = _derived(salt, material, b"Content-Encoding: nonce\0", 12)
    header = salt + _RECORD.to_bytes(4) + len(point).to_bytes(1) + point
    # The octet 2 ends the text of the last record.
    return header + AESGCM(key).encrypt(nonce, text + b"\2", None)


def authorization(endpoint: str, contact: str, key: EllipticCurvePrivateKey, now: float) -> str:
    """The header by which a push service knows who sends: a token signed with ES256 (RFC 8292).

    Parameters
    ----------
    endpoint : of the push service; contact : `mailto:` or `https:` of who keeps this server
    now : seconds since 1970
    """
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature

    split = urlsplit(endpoint)
    claims = {"aud": f"{split.scheme}://{split.netloc}", "exp": int(now) + _LASTS, "sub": contact}
    token = f"{_json({'typ': 'JWT', 'alg': 'ES256'})}.{_json(claims)}"
    # JSON Web Signatures hold both numbers side by side (RFC 7518, 3.4), not the DER of X.509.
    r, s = decode_dss_signature(key.sign(token.encode("ascii"), ec.ECDSA(hashes.SHA256())))
    return f"vapid t={token}.{plain64(r.to_bytes(32) + s.to_bytes(32))}, k={plain64(point_of(key))}"


def plain64(data: bytes) -> str:
    """Base64 for addresses, without padding (RFC 7515, 2)."""
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode("ascii")


def from_plain64(text: str) -> bytes:
    """What base64 for addresses says.

    Raises
    ------
    ValueError
        It says nothing.
    """
    padded = text + "=" * (-len(text) % 4)
    return base64.b64decode(padded.encode("ascii"), b"-_", validate=True)


def _json(claims: dict[str, object]) -> str:
    return plain64(json.dumps(claims, separators=(",", ":")).encode())


def _derived(salt: bytes, material: bytes, about: bytes, length: int) -> bytes:
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.kdf.hkdf import HKDF

    return HKDF(hashes.SHA256(), length, salt, about).derive(material)
