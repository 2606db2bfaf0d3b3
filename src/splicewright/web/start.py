"""The app's start: which register, how it is reached, and who is let in first."""

from __future__ import annotations

import contextlib
import gc
import importlib
import ipaddress
import json
import os
import signal
import socket
import ssl
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from functools import partial
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
    import uvicorn
    from starlette.types import ASGIApp

    from splicewright.store.progress import Tell

PORT = 8750
"""Where it listens unless told otherwise."""
_OWN = "register.sqlite"
"""The user's own register, in the data folder."""
GRACE = 4.0
"""How long answers under way may take once it is told to stop [s]."""
_LOADED = ("scipy.optimize", "scipy.special")
"""What the first fit takes half a second to load; a server loads it before anybody waits."""
_M_ARENA_MAX, _ARENAS = -8, 2
"""Of glibc's `mallopt`; and heaps that threads share: each keeps what was freed in it."""


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
    place = _place(where, site)
    if not where and (site is not None or place != data_folder() / _OWN):
        site = site or example_site()
        make_example(Path(place), site)
        say(f"Example site, invented: {site.name}. Its register: {place}")
    elif not where:
        say(f"Register: {place}")
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


def _place(where: str, site: Path | None) -> str | Path:
    """Where the register lies, as `opened` finds it."""
    from splicewright.store.database.opening import data_folder

    own = data_folder() / _OWN
    if where or (site is None and own.is_file()):
        return where or own
    return data_folder() / f"example-{(site or example_site()).resolve().name}.sqlite"


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
    admin_link : give a link that makes an admin even if there is one

    Raises
    ------
    InputError
        Refused: see `Reach.check` and `opened`; or the port is taken.
    """
    from splicewright.store.progress import now_and_then
    from splicewright.web.app.upgrading import Upgrading

    _share_heaps()
    reach.check()
    for named in (mail_server, push_sender):
        named()  # what cannot be used is told now, not in a worker's log
    listening = _listen(reach)
    begin = partial(_begin_beside, where, site, reach, listening) if os.name == "posix" else None
    meanwhile = Upgrading(listening, now_and_then(say), reach.certificate, reach.key, begin)
    with listening, contextlib.ExitStack() as stack:
        try:
            room = stack.enter_context(opened(where, site, reach, say, workers, meanwhile.tell))
        finally:
            meanwhile.end()
        from splicewright.web.routes import make_app

        server = _server(make_app(room), reach)
        _settle()
        url = reach.url(listening.getsockname()[1])
        link = first_link(room, url, again=admin_link)
        if link is not None:
            say(f"To become admin, open this link once, within 7 days:\n{link}")
        say(f"Open {url} (stop with Ctrl-C)")
        server.run(sockets=[listening])


def show_as_it_stands(message: str) -> None:
    """Show a register that another process brings up to date as it stood, until that one says so.

    Parameters
    ----------
    message : as `_begin_beside` writes it
    """
    from splicewright.store.sql.register import open_as_it_stands
    from splicewright.web.app.upgrading import READY, AsItStood
    from splicewright.web.routes import make_app

    given = json.loads(message)
    certificate, key = (Path(file) if file else None for file in given["files"])
    reach = Reach(certificate=certificate, key=key, **given["reach"])
    with (
        socket.socket(fileno=given["listening"]) as listening,
        open_as_it_stands(given["where"]) as register,
    ):
        at = _now()
        room = Room(
            register,
            register.accounts(),
            _now,
            reach.secure,
            any("(invented)" in s.name for s in register.sites()),
            reach.hosts,
            beyond=reach.beyond,
            before=at,
        )
        server = _server(AsItStood(make_app(room), at), reach)

        def watch() -> None:
            while not server.started:
                time.sleep(0.05)
            print(READY, flush=True)
            sys.stdin.read()  # nothing comes; it is closed in the end, or when that process is gone
            server.handle_exit(signal.SIGTERM, None)

        threading.Thread(target=watch, daemon=True).start()
        server.run(sockets=[listening])


def _begin_beside(
    where: str, site: Path | None, reach: Reach, listening: socket.socket
) -> subprocess.Popen[str]:
    """Begin a process for `show_as_it_stands`, at the same socket."""
    given = asdict(reach)
    message = {
        "where": str(_place(where, site)),
        "listening": listening.fileno(),
        "files": [str(given.pop(name) or "") for name in ("certificate", "key")],
        "reach": given,
    }
    begun = subprocess.Popen(
        [sys.executable, "-m", "splicewright.web.meanwhile"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        pass_fds=(listening.fileno(),),
    )
    assert begun.stdin is not None
    with contextlib.suppress(OSError):  # it ended already: then nobody is shown anything
        # Not as an argument: a URL may hold a password, and arguments are there for all to read.
        begun.stdin.write(json.dumps(message) + "\n")
        begun.stdin.flush()
    return begun


def _server(app: ASGIApp, reach: Reach) -> uvicorn.Server:
    import uvicorn

    class Server(uvicorn.Server):
        """Ends soon after it is told to, whatever a page still works at."""

        def handle_exit(self, sig: int, frame: FrameType | None) -> None:
            super().handle_exit(sig, frame)
            # Threads cannot be stopped, and leaving waits for them. What was acknowledged is on
            # the disk; workers end when this process does, and their tasks are taken up again.
            last = threading.Timer(GRACE, os._exit, (0,))
            last.daemon = True
            last.start()

    return Server(
        uvicorn.Config(
            app,
            log_level="warning",
            access_log=False,  # it would hold the secrets of invitations
            server_header=False,
            proxy_headers=reach.behind_proxy,
            ssl_certfile=reach.certificate,
            ssl_keyfile=reach.key,
        )
    )


def _share_heaps() -> None:
    """Keep forty threads from holding a heap each, where the system's C library can be told to."""
    if sys.platform == "linux":
        import ctypes

        with contextlib.suppress(OSError, AttributeError):  # another library: it has no such thing
            ctypes.CDLL(None).mallopt(_M_ARENA_MAX, _ARENAS)


def _settle() -> None:
    """Load what first visits would wait for, and take all that is there out of collections.

    A full collection looks at every object that may go, 200,000 of them the app's own, and every
    page waits meanwhile: 0.13 s of a core each time, several times in ten seconds under load.
    """
    for name in _LOADED:
        importlib.import_module(name)
    gc.collect()
    gc.freeze()


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
