"""Time stamps of the end of the chain by an authority elsewhere (RFC 3161).

Stamped is one line of text, NUMBER:HASH as `backup` and `verify` print it, so that any program that
knows the standard checks it too.
"""

from __future__ import annotations

import urllib.error
import urllib.request
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from splicewright.actions.register.witness import Confirmed, confirm_witness
from splicewright.errors import Fault, InputError, OutputError

if TYPE_CHECKING:
    from splicewright.store import Register

PATIENCE = 30.0
"""An authority that says nothing for so long is given up [s]."""
_LARGEST = 1 << 20


@dataclass(frozen=True, slots=True)
class Stamped:
    """A stamp that holds: of which line, and when it was made by the authority's clock."""

    head: str
    at: datetime


def stamp_head(register: Register, to: Path, authority: str) -> Stamped:
    """Have the end of the chain stamped; writes `to` with its line and `to`.tsr with the answer.

    Raises InputError: that is no address of an authority. Raises OutputError: it gave no stamp of
    this line, or the files cannot be written.
    """
    if urlsplit(authority).scheme not in {"https", "http"} or not urlsplit(authority).hostname:
        say = f"{authority[:80]!r} is no address; accepted is such as https://stamps.example.org/"
        raise InputError(Fault("authority", say))
    answer = to.with_name(f"{to.name}.tsr")
    for path in (to, answer):
        if path.exists():
            msg = f"{path.name} is already there; it was not touched"
            raise OutputError(msg)
    line = f"{register.head()}\n"
    raw, at = _ask(authority, line.encode())
    try:
        to.write_text(line, "utf-8")
        answer.write_bytes(raw)
    except OSError as error:
        msg = f"{to.name} cannot be written: {error.strerror}"
        raise OutputError(msg) from None
    return Stamped(line.strip(), at)


def check_stamp(register: Register, stamped: Path, trusted: Path) -> tuple[Stamped, Confirmed]:
    """Whether a stamp was made by somebody trusted, and whether its line stands in the register.

    stamped : the file with the line; the answer lies beside it, its name ending in .tsr
    trusted : certificates (PEM) of the authority, or of who vouches for it
    Raises InputError: a file cannot be read, or the stamp is not of this line by one that is
    trusted.
    """
    from cryptography.x509 import load_pem_x509_certificates
    from rfc3161_client import VerificationError, VerifierBuilder, decode_timestamp_response

    line, raw = _read(stamped), _read(stamped.with_name(f"{stamped.name}.tsr"))
    try:
        certificates = load_pem_x509_certificates(_read(trusted))
    except ValueError:
        say = "holds no certificate; accepted is a file of certificates, .pem"
        raise InputError(Fault("", say, trusted.name)) from None
    verifier = VerifierBuilder(roots=list(certificates)).build()
    try:
        answer = decode_timestamp_response(raw)
        verifier.verify_message(answer, line)
    except (VerificationError, ValueError) as error:
        say = f"is no stamp of {stamped.name} by one that is trusted: {error}"
        raise InputError(Fault("", say, f"{stamped.name}.tsr")) from None
    text = line.decode("utf-8", "replace").strip()
    at = answer.tst_info.gen_time
    return Stamped(text, at), confirm_witness(register, text)


def _ask(authority: str, line: bytes) -> tuple[bytes, datetime]:
    """The authority's answer for these bytes, and its moment; who it is, is checked later."""
    from rfc3161_client import PKIStatus, TimestampRequestBuilder, decode_timestamp_response

    asked = TimestampRequestBuilder().data(line).nonce(nonce=True).build()
    request = urllib.request.Request(
        authority, asked.as_bytes(), {"Content-Type": "application/timestamp-query"}
    )
    try:
        with urllib.request.urlopen(request, timeout=PATIENCE) as answered:
            raw: bytes = answered.read(_LARGEST)
    except (OSError, ValueError) as error:
        reason: Any = error.reason if isinstance(error, urllib.error.URLError) else error
        msg = f"{authority} gave no stamp: {reason}"
        raise OutputError(msg) from None
    try:
        answer = decode_timestamp_response(raw)
        refused = PKIStatus(answer.status) is not PKIStatus.GRANTED
        stamp = None if refused else answer.tst_info
    except ValueError as error:
        # The library takes what stands in the order of DER only; some authorities do not sort.
        why = " ".join(str(error).split())[:200]
        msg = f"{authority} gave no stamp: its answer is none of RFC 3161 that can be read ({why})"
        raise OutputError(msg) from None
    if stamp is None:
        status = ", ".join(answer.status_string) or "no reason given"
        msg = f"{authority} refused to give a stamp: {status}"
        raise OutputError(msg)
    same = stamp.message_imprint.message == asked.message_imprint.message
    if not same or stamp.nonce != asked.nonce:
        msg = f"{authority} gave a stamp of something else, or an earlier one"
        raise OutputError(msg)
    return raw, stamp.gen_time


def _read(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(_LARGEST)
    except OSError as error:
        say = f"cannot be read: {error.strerror}"
        raise InputError(Fault("", say, path.name)) from None
