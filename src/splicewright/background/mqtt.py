"""Listening to a broker (MQTT 3.1.1): the one place that knows paho.

Each message is taken by the mappings of the sites that the key opens, and acknowledged only when
it was recorded or put down as wrong, so that one which met a busy register is sent again. The key
is asked for at each message: once it is revoked, or its account closed, nothing more is recorded.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit
from uuid import UUID

from splicewright.actions.incoming import Taken, take_message, values_of
from splicewright.errors import Fault, InputError, SplicewrightError
from splicewright.store import Actor, BusyError, FullError
from splicewright.store.sql.register import SqlRegister

if TYPE_CHECKING:
    from paho.mqtt.client import Client, MQTTMessage

DEVICE = "mqtt"
_LOOK_AGAIN = 10.0
"""How often it is looked whether a mapping changed [s]."""
_TRIES, _PAUSE = 5, 1.0
_LOG = logging.getLogger(__name__)


class Listener:
    """Takes messages of a broker as one key.

    Parameters
    ----------
    key : a token; its account, scopes and sites are those of what is recorded
    """

    def __init__(
        self,
        register: SqlRegister,
        key: str,
        clock: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        self._register, self._key, self._clock = register, key, clock
        self._incoming = register.incoming()
        self._accounts = register.accounts()
        self.over = threading.Event()
        self.failure = ""

    def actor(self) -> Actor:
        """Who records, as they may now.

        Raises
        ------
        InputError
            The key does not work.
        """
        key = self._accounts.key(self._key)
        if key is None:
            say = "works no more, or never did; accepted is a token with the scope record"
            raise InputError(Fault("SPLICEWRIGHT_TOKEN", say))
        account = key.account
        return Actor(account.account, account.name, account.role, key.token.scopes, sites=key.sites)

    def topics(self) -> Mapping[str, tuple[UUID, ...]]:
        """What is listened to, and for which sites."""
        register = self._register.said_by(self.actor())
        by_topic: dict[str, tuple[UUID, ...]] = {}
        for site in register.sites():
            for topic in values_of(self._incoming, site.site):
                by_topic[topic] = (*by_topic.get(topic, ()), site.site)
        return by_topic

    def take(self, topic: str, payload: bytes) -> list[Taken]:
        """Take a message for each site that maps it.

        Raises
        ------
        InputError
            The key does not work any more.
        BusyError, FullError
            The register takes nothing now.
        """
        actor = self.actor()
        register = self._register.said_by(actor)
        return [
            take_message(
                register,
                self._incoming,
                actor,
                site,
                topic,
                payload,
                now=self._clock(),
                device=DEVICE,
            )
            for site in self.topics().get(topic, ())
        ]

    def stop(self, failure: str = "") -> None:
        """Stop listening."""
        self.failure = self.failure or failure
        self.over.set()


def listen(
    listener: Listener,
    broker: str,
    *,
    name: str = "splicewright",
    user: str = "",
    password: str = "",
    ready: Callable[[int], None] = lambda _: None,
) -> None:
    """Listen until the listener is stopped.

    Parameters
    ----------
    broker : mqtts://HOST[:PORT], or mqtt:// on this machine and where no password is sent
    name : by which the broker knows this listener, so that it keeps messages while it is away
    user, password : for the broker
    ready : is told the number of topics each time they were asked for

    Raises
    ------
    InputError
        The address cannot be used, the broker refuses, or the key works no more.
    """
    from paho.mqtt.client import Client, MQTTv311
    from paho.mqtt.enums import CallbackAPIVersion

    host, port, secure = split_broker(broker, with_password=bool(user or password))
    client = Client(
        CallbackAPIVersion.VERSION2,
        client_id=name,
        clean_session=False,
        protocol=MQTTv311,
        manual_ack=True,
    )
    if secure:
        client.tls_set()
    if user or password:
        client.username_pw_set(user, password)
    client.reconnect_delay_set(1, 60)
    asked: set[str] = set()

    def subscribe() -> None:
        topics = listener.topics()
        for topic in sorted(asked - set(topics)):
            client.unsubscribe(topic)
        for topic in sorted(set(topics) - asked):
            client.subscribe(topic, qos=1)
        asked.clear()
        asked.update(topics)
        ready(len(asked))

    def connected(_: Client, __: Any, flags: Any, reason: Any, properties: Any) -> None:
        if reason.is_failure:
            _LOG.warning("the broker refused: %s", reason)
            if "authori" in str(reason).lower() or "password" in str(reason).lower():
                listener.stop(f"the broker refused: {reason}")
            return
        asked.clear()
        _guarded(listener, subscribe)

    def message(_: Client, __: Any, sent: MQTTMessage) -> None:
        if _guarded(listener, lambda: _take(listener, sent)):
            client.ack(sent.mid, sent.qos)
        elif not listener.over.is_set():
            client.reconnect()  # what was not acknowledged is sent again

    client.on_connect, client.on_message = connected, message
    listener.actor()
    try:
        client.connect(host, port, keepalive=60)
    except OSError as error:
        say = f"{host}:{port} cannot be reached: {error.strerror or error}"
        raise InputError(Fault("--broker", say)) from None
    client.loop_start()
    try:
        while not listener.over.wait(_LOOK_AGAIN):
            if client.is_connected():
                _guarded(listener, subscribe)
    finally:
        client.disconnect()
        client.loop_stop()
    if listener.failure:
        raise InputError(Fault("", listener.failure))


def split_broker(broker: str, *, with_password: bool) -> tuple[str, int, bool]:
    """Host, port and whether by TLS.

    Raises
    ------
    InputError
        No such address, or one that would send a password in the clear.
    """
    accepted = "accepted is mqtts://HOST or mqtts://HOST:PORT"
    try:
        split = urlsplit(broker)
        port = split.port
    except ValueError:
        raise InputError(Fault("--broker", f"{broker[:80]!r} is no address; {accepted}")) from None
    if split.scheme not in {"mqtt", "mqtts"} or not split.hostname or split.path not in {"", "/"}:
        raise InputError(Fault("--broker", f"{broker[:80]!r} is no address; {accepted}"))
    if split.username is not None:
        say = "holds a name; give it by --user, the password by SPLICEWRIGHT_MQTT_PASSWORD"
        raise InputError(Fault("--broker", say))
    secure = split.scheme == "mqtts"
    if not secure and with_password and split.hostname not in {"localhost", "127.0.0.1", "::1"}:
        say = f"the password would cross the network in the clear; {accepted}"
        raise InputError(Fault("--broker", say))
    return split.hostname, port or (8883 if secure else 1883), secure


def _take(listener: Listener, sent: MQTTMessage) -> None:
    for left in reversed(range(_TRIES)):
        try:
            for taken in listener.take(sent.topic, bytes(sent.payload)):
                if taken.verdict == "refused":
                    _LOG.warning("%s: %s", sent.topic, taken.sentence)
            return
        except (BusyError, FullError):
            if not left:
                raise
            time.sleep(_PAUSE)


def _guarded(listener: Listener, do: Callable[[], None]) -> bool:
    """Do it in the client's thread, which must not die; whether it was done."""
    try:
        do()
    except InputError as error:
        listener.stop(str(error))
    except SplicewrightError as error:
        _LOG.warning("not now: %s", error)
    except Exception:
        _LOG.exception("unexpected error; the message is sent again")
    else:
        return True
    return False
