"""The app's start: which register, how it is reached, and who is let in first."""

from __future__ import annotations

import contextlib
import ipaddress
import os
import socket
import ssl
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from splicewright.actions.notices import mail_server
from splicewright.background.notices import push_sender
from splicewright.errors import Fault, InputError
from splicewright.store import PersonRole
from splicewright.web.app.room import Room

if TYPE_CHECKING:
    from splicewright.store.progress import Tell

PORT = 8750
"""Where it listens unless told otherwise."""
GRACE = 4.0
"""How long answers under way may take once it is told to stop [s]."""


@dataclass(frozen=True, slots=True)
class Reach:
    """How people reach the app.

    host, port : where it listens; port 0 takes any that is free
    certificate, key : files for HTTPS by itself
    behind_proxy : a proxy in front does HTTPS, and hands on what it was asked
    address : what people type, such as https://belts.example.org; empty takes host and port
    """

    host: str = "127.0.0.1"
    port: int = PORT
    certificate: Path | None = None
    key: Path | None = None
    behind_proxy: bool = False
    address: str = ""

    @property
    def secure(self) -> bool:
        """Whether what goes over the network is encrypted."""
        return self.certificate is not None or self.behind_proxy

    def check(self) -> None:
        """Refuse what would send passwords in the clear.

        Raises
        ------
        InputError
            Beyond this machine without HTTPS, or files for HTTPS that cannot be used.
        """
        faults = []
        if (self.certificate is None) != (self.key is None):
            say = "go together: the certificate's file and its key's"
            faults.append(Fault("--tls-certificate, --tls-key", say))
        elif self.certificate is not None and self.key is not None:
            faults += _tls_faults(self.certificate, self.key)
        if not self.secure and not is_loopback(self.host):
            say = (
                f"{self.host} can be reached from other machines, and passwords would cross the "
                "network in the clear; give --tls-certificate and --tls-key, or say "
                "--behind-proxy if a proxy in front does HTTPS"
            )
            faults.append(Fault("--host", say))
        split = urlsplit(self.address)
        if self.address and (
            split.scheme not in {"http", "https"}
            or not split.hostname
            or split.path not in {"/", ""}
        ):
            say = f'"{self.address}" cannot be used; accepted is like https://belts.example.org'
            faults.append(Fault("--address", say))
        if faults:
            raise InputError(*faults)

    def url(self, port: int) -> str:
        """What people type to reach it."""
        if self.address:
            return self.address.rstrip("/")
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{'https' if self.certificate is not None else 'http'}://{host}:{port}"

    @property
    def beyond(self) -> bool:
        """Whether other machines reach it: directly, by a proxy, or under a name of its own."""
        return self.behind_proxy or bool(self.address) or not is_loopback(self.host)

    @property
    def hosts(self) -> frozenset[str]:
        """Names under which it answers; empty for any.

        Without HTTPS a page elsewhere could otherwise be served under a name that leads here.
        """
        if self.address:
            return frozenset({urlsplit(self.address).hostname or "", "localhost", "127.0.0.1"})
        return frozenset() if self.secure else frozenset({"localhost", "127.0.0.1", "[::1]"})


def is_loopback(host: str) -> bool:
    """Whether only this machine reaches it."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


@contextlib.contextmanager
def opened(
    where: str,
    site: Path | None,
    reach: Reach,
    say: Callable[[str], None],
    workers: int = 0,
    tell: Tell | None = None,
) -> Iterator[Room]:
    """Open the register, or the invented example site.

    Parameters
    ----------
    where : file or URL of the register; empty takes the one in the data folder where there is
        one, else the example
    site : folder of an example site; its register lies in the data folder, made when missing
    reach : how the app is reached
    say : tells the console what was opened
    workers : processes that do tasks while it is open
    tell : is told how far an upgrade is, in place of `say`

    Raises
    ------
    InputError
        Both a register and a site, or one that cannot be opened.
    """
    from splicewright.background.processes import workers_beside
    from splicewright.background.queue import Queue
    from splicewright.background.requests import Background
    from splicewright.store.database.opening import data_folder
    from splicewright.store.progress import now_and_then
    from splicewright.store.sql.register import open_register

    if where and site is not None:
        raise InputError(Fault("--site", "and --register cannot go together; give one of them"))
    own = data_folder() / "register.sqlite"
    place: str | Path = where
    if not where and (site is not None or not own.is_file()):
        site = site or example_site()
        place = data_folder() / f"example-{site.resolve().name}.sqlite"
        make_example(place, site)
        say(f"Example site, invented: {site.name}. Its register: {place}")
    elif not where:
        place = own
        say(f"Register: {own}")
    with open_register(place, tell=tell or now_and_then(say)) as register:
        invented = any("(invented)" in s.name for s in register.sites())
        queue = Queue(place)
        background = Background(register.tasks(), queue)
        with contextlib.closing(queue), workers_beside(place, workers):
            yield Room(
                register,
                register.accounts(),
                _now,
                reach.secure,
                invented or site is not None,
                reach.hosts,
                background,
                reach.beyond,
                register.hooks(),
                register.incoming(),
                mail=register.mail_wishes(),
                push=push_sender(),
            )


def example_site() -> Path:
    """The folder of the example site: beside the package, or in a checkout of the project."""
    package = Path(__file__).parents[1]
    for folder in (package / "example_site", package.parents[1] / "examples" / "karst-hollow"):
        if folder.is_dir():
            return folder
    raise InputError(
        Fault("--site", "the example site is not here; give its folder, or --register")
    )


def make_example(place: Path, site: Path) -> None:
    """Make an example register where there is none; whole, or not at all."""
    from splicewright.actions.example_site import open_example
    from splicewright.store.sql.register import open_register

    if place.is_file():
        return
    begun = place.with_suffix(".begun")
    for left in place.parent.glob(f"{begun.name}*"):
        left.unlink()
    with open_register(begun) as register:
        open_example(register, site, now=_now())
    begun.rename(place)


def first_link(room: Room, url: str, *, again: bool) -> str | None:
    """A one-time link that makes an admin, while there is none; `again` gives one anyway."""
    admins = [
        a for a in room.accounts.accounts() if a.role is PersonRole.ADMIN and a.closed is None
    ]
    if admins and not again:
        return None
    secret = room.accounts.invite("Admin", PersonRole.ADMIN, None)
    return f"{url}/join/{secret}"


def serve(
    where: str,
    site: Path | None,
    reach: Reach,
    say: Callable[[str], None],
    *,
    admin_link: bool = False,
    workers: int = 1,
) -> None:
    """Serve until stopped.

    Parameters
    ----------
    where, site : the register, as in `opened`
    reach : how people reach it
    say : writes a line to the console
    admin_link : give a link that makes an admin even if there is one
    workers : processes beside it that do tasks

    Raises
    ------
    InputError
        Refused: see `Reach.check` and `opened`; or the port is taken.
    """
    from splicewright.store.progress import now_and_then
    from splicewright.web.app.upgrading import Upgrading

    reach.check()
    for named in (mail_server, push_sender):
        named()  # what cannot be used is told now, not in a worker's log
    listening = _listen(reach)
    meanwhile = Upgrading(listening, now_and_then(say), reach.certificate, reach.key)
    with listening, opened(where, site, reach, say, workers, meanwhile.tell) as room:
        meanwhile.end()
        import uvicorn

        from splicewright.web.routes import make_app

        class Server(uvicorn.Server):
            """Ends soon after it is told to, whatever a page still works at."""

            def handle_exit(self, sig: int, frame: FrameType | None) -> None:
                super().handle_exit(sig, frame)
                # Threads cannot be stopped, and leaving waits for them. What was acknowledged is on
                # the disk; workers end when this process does, and their tasks are taken up again.
                last = threading.Timer(GRACE, os._exit, (0,))
                last.daemon = True
                last.start()

        url = reach.url(listening.getsockname()[1])
        config = uvicorn.Config(
            make_app(room),
            log_level="warning",
            access_log=False,  # it would hold the secrets of invitations
            server_header=False,
            proxy_headers=reach.behind_proxy,
            ssl_certfile=reach.certificate,
            ssl_keyfile=reach.key,
        )
        link = first_link(room, url, again=admin_link)
        if link is not None:
            say(f"To become admin, open this link once, within 7 days:\n{link}")
        say(f"Open {url} (stop with Ctrl-C)")
        Server(config).run(sockets=[listening])


def _listen(reach: Reach) -> socket.socket:
    family = socket.AF_INET6 if ":" in reach.host else socket.AF_INET
    listening = socket.socket(family)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((reach.host, reach.port))
        listening.listen(256)  # who opens the address at once waits, and is not turned away
    except (OSError, OverflowError) as error:
        listening.close()
        reason = getattr(error, "strerror", None) or str(error)
        say = f"{reach.host}:{reach.port} cannot be listened on: {reason}"
        raise InputError(Fault("--port", say)) from None
    return listening


def _tls_faults(certificate: Path, key: Path) -> list[Fault]:
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate, key, "")
    except ssl.SSLError as error:
        reason = error.reason or "no PEM files"
        say = f"{certificate.name} and {key.name} cannot be used together: {reason}"
        return [Fault("--tls-certificate, --tls-key", say)]
    except OSError as error:
        say = f"cannot be read: {error.strerror}"
        return [Fault("--tls-certificate, --tls-key", say)]
    return []


def _now() -> datetime:
    return datetime.now(UTC)
