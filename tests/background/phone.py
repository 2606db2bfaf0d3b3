"""A browser that is told by web push, written from its side of RFC 8188 and RFC 8291.

Its keys are derived by HMAC as RFC 5869 writes it, not by the library that the sender uses.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import secrets
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat


@dataclass(frozen=True)
class Browser:
    """key : private; shared : the secret of 16 byte that it gives with its public key"""

    key: ec.EllipticCurvePrivateKey
    shared: bytes

    @classmethod
    def new(cls) -> Browser:
        return cls(ec.generate_private_key(ec.SECP256R1()), secrets.token_bytes(16))

    @property
    def point(self) -> bytes:
        public = self.key.public_key()
        return public.public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)

    def read(self, body: bytes) -> bytes:
        """The text of a message of one record.

        Raises
        ------
        ValueError
            It is not for this browser.
        """
        salt, size, length = body[:16], int.from_bytes(body[16:20]), body[20]
        sender, sealed = body[21 : 21 + length], body[21 + length :]
        assert size >= 18 and len(sealed) <= size
        theirs = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), sender)
        about = b"WebPush: info\0" + self.point + sender
        material = _derived(self.shared, self.key.exchange(ec.ECDH(), theirs), about, 32)
        key = _derived(salt, material, b"Content-Encoding: aes128gcm\0", 16)
        nonce = _derived(salt, material, b"Content-Encoding: nonce\0", 12)
        try:
            text = AESGCM(key).decrypt(nonce, sealed, None)
        except InvalidTag:
            raise ValueError("not for this browser") from None
        text = text.rstrip(b"\0")
        assert text.endswith(b"\2")
        return text[:-1]

    def message(self, body: bytes) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(self.read(body))
        return found


def _derived(salt: bytes, material: bytes, about: bytes, length: int) -> bytes:
    """HKDF-SHA-256 (RFC 5869, 2.2 and 2.3) of one block."""
    drawn = hmac.new(salt, material, hashlib.sha256).digest()
    return hmac.new(drawn, about + b"\1", hashlib.sha256).digest()[:length]


class PushService(ThreadingHTTPServer):
    """A push service on this machine: keeps what it was given, answers as it is told."""

    daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), _Taking)
        self.answers: list[tuple[int, dict[str, str]]] = []
        self.got: list[tuple[str, dict[str, str], bytes]] = []

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.server_address[1]}/push"


class _Taking(BaseHTTPRequestHandler):
    server: PushService

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["Content-Length"]))
        headers = {name.lower(): value for name, value in self.headers.items()}
        self.server.got.append((self.path, headers, body))
        status, more = self.server.answers.pop(0) if self.server.answers else (201, {})
        self.send_response(status)
        for name, value in more.items():
            self.send_header(name, value)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, format: str, *args: object) -> None:
        pass
