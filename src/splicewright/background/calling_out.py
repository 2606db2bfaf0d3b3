"""Calls to addresses that somebody named: where they lead is looked at before each call.

The name is resolved here and the call goes to the very address that was looked at, so that a name
which leads elsewhere a moment later gains nothing. Redirects are not followed; no proxy of the
environment is asked.
"""

from __future__ import annotations

import http.client
import ipaddress
import socket
import ssl
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from splicewright.errors import InputError
from splicewright.store.hooks import split_url

PATIENCE = 10.0
"""For one step of a call [s]; a whole call takes at most half as long again."""
_Address = ipaddress.IPv4Address | ipaddress.IPv6Address
_NAT64 = ipaddress.ip_network("64:ff9b::/96")


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of a call.

    status : of the answer, 0 when there was none
    failure : why it did not succeed, one sentence; empty when it did
    wait : to be left alone for so long, as the answer asks [s]
    """

    status: int
    failure: str = ""
    wait: float = 0.0


def post(
    url: str, body: bytes, headers: Mapping[str, str], *, private: bool, patience: float = PATIENCE
) -> Answer:
    """Send a body; every failure is an answer.

    Parameters
    ----------
    private : whether addresses of the own network may be called; those of one link (where machines
        of a data centre ask for their own keys) are never
    patience : see `PATIENCE` [s]
    """
    try:
        split = split_url(url, private=private)
        host, port = split.hostname or "", split.port or (443 if split.scheme == "https" else 80)
    except InputError as error:
        return Answer(0, f"the address {error.faults[0].sentence}")
    try:
        addresses = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError):
        return Answer(0, f"{host} leads nowhere: the name is not known here")
    places = list(dict.fromkeys(entry[4][0] for entry in addresses))
    for place in places:
        why = refused(ipaddress.ip_address(str(place).partition("%")[0]), private=private)
        if why:
            return Answer(0, f"{host} leads to {place}, {why}")
    target = f"{split.path or '/'}{'?' + split.query if split.query else ''}"
    call = _Call(host, port, [str(p) for p in places], split.scheme == "https", patience)
    # A timeout counts from byte to byte; whoever drips bytes is cut off as well.
    cut_off = threading.Timer(1.5 * patience, call.cut)
    cut_off.daemon = True
    cut_off.start()
    try:
        call.request("POST", target, body, dict(headers))
        with call.getresponse() as answer:
            if call.was_cut:  # what was there by then looks like a whole answer
                raise TimeoutError
            return _answer_of(answer.status, answer.headers.get("Retry-After", ""))
    except ssl.SSLError as error:
        return Answer(0, f"{host} was not trusted: {error.reason or 'no TLS'}")
    except TimeoutError:
        return Answer(0, f"{host} gave no answer in {patience:g} s")
    except (OSError, http.client.HTTPException) as error:
        reason = getattr(error, "strerror", None) or type(error).__name__
        return Answer(0, f"{host} could not be reached: {reason}")
    finally:
        cut_off.cancel()
        call.close()


def refused(address: _Address, *, private: bool) -> str:
    """Why an address is not called; empty when it may be."""
    for inner in _inside(address):
        if inner.is_link_local or inner.is_multicast or inner.is_unspecified:
            return "which no hook may call"
        if not private and not inner.is_global:
            return "an address of the own network; an admin may allow that for a hook"
    return ""


def _inside(address: _Address) -> list[_Address]:
    """The address, and those of version 4 that it may stand for."""
    addresses = [address]
    if isinstance(address, ipaddress.IPv6Address):
        if address.ipv4_mapped is not None:
            return [address.ipv4_mapped]
        if address.sixtofour is not None:
            addresses.append(address.sixtofour)
        if address.teredo is not None:
            addresses += address.teredo
        if address in _NAT64:
            addresses.append(ipaddress.IPv4Address(int(address) & 0xFFFFFFFF))
    return addresses


def _answer_of(status: int, retry_after: str) -> Answer:
    if 200 <= status < 300:
        return Answer(status)
    wait = float(retry_after) if retry_after.isascii() and retry_after.isdigit() else 0.0
    if 300 <= status < 400:
        return Answer(status, f"it answered {status}: redirects are not followed")
    return Answer(status, f"it answered {status}", wait)


class _Call(http.client.HTTPConnection):
    """A connection to one of the addresses that were looked at; certificates are of the name."""

    def __init__(
        self, host: str, port: int, places: Sequence[str], secure: bool, patience: float
    ) -> None:
        super().__init__(host, port, timeout=patience)
        self._places, self._secure = places, secure
        self.was_cut = False
        if secure:
            self.default_port = 443  # tells what to leave out of Host

    def connect(self) -> None:
        """Connect to the first that answers, by TLS for the name where it is https."""
        for left, place in zip(reversed(range(len(self._places))), self._places, strict=True):
            try:
                self.sock = socket.create_connection((place, self.port), self.timeout)
                break
            except OSError:
                if not left:
                    raise
        if self._secure:
            trust = ssl.create_default_context()
            # The handshake after it is ours to cut: whoever drips bytes there holds up nothing.
            sock = trust.wrap_socket(
                self.sock, server_hostname=self.host, do_handshake_on_connect=False
            )
            self.sock = sock
            sock.do_handshake()

    def cut(self) -> None:
        """End it, whatever it is at."""
        self.was_cut = True
        there = self.sock
        if there is not None:
            try:
                there.shutdown(socket.SHUT_RDWR)
            except OSError:
                return
