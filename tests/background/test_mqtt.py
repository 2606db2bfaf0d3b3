"""The listener, at a broker of this file that speaks MQTT 3.1.1 as the standard has it."""

from __future__ import annotations

import socket
import struct
import threading
from collections.abc import Iterator
from contextlib import suppress
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from depth import PATIENCE, ended
from splicewright.actions.incoming import Taken, keep_mapping
from splicewright.background.mqtt import Listener, listen, split_broker
from splicewright.errors import InputError
from splicewright.store import CONSOLE, BusyError, PersonRole, Scope
from splicewright.store.facts.joint_facts import ReadingTaken
from splicewright.store.sql.register import SqlRegister, open_register
from store.making import Clock, Plant

MAPPING = b"""
site = "Karst Hollow (invented)"

[[value]]
topic = "k2/hours"
conveyor = "K2"
unit = "h"
field = "v"
id = "id"
every = "0 s"
"""


class Broker:
    """A broker of one listener, by MQTT 3.1.1 (OASIS, sections 3.1 to 3.14): what is sent to it at
    QoS 1 and not acknowledged is sent again when it connects again."""

    def __init__(self) -> None:
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.url = f"mqtt://127.0.0.1:{self._listening.getsockname()[1]}"
        self._open: dict[int, tuple[str, str]] = {}
        self._there: socket.socket | None = None
        self._next = 0
        self.asked: list[str] = []
        self.acknowledged: list[int] = []
        self.first = threading.Event()
        self._thread = threading.Thread(target=self._serve)
        self._thread.start()

    def send(self, topic: str, text: str) -> int:
        """Send a message to whoever listens; gives its number."""
        self._next += 1
        self._open[self._next] = (topic, text)
        if self._there is not None:
            self._publish(self._next, again=False)
        return self._next

    def close(self) -> None:
        self._listening.shutdown(socket.SHUT_RDWR)
        self._listening.close()
        if self._there is not None:  # a listener that did not hang up, unless it just does
            with suppress(OSError):
                self._there.shutdown(socket.SHUT_RDWR)
        ended(self._thread)

    def _publish(self, number: int, *, again: bool) -> None:
        topic, text = self._open[number]
        body = struct.pack(">H", len(topic)) + topic.encode() + struct.pack(">H", number)
        body += text.encode()
        assert self._there is not None
        self._there.sendall(bytes([0x3A if again else 0x32, len(body)]) + body)

    def _serve(self) -> None:
        while True:
            try:
                there, _ = self._listening.accept()
            except OSError:
                return
            # A listener that hangs up in the middle of a packet comes again, as to any broker.
            with there, there.makefile("rb") as read, suppress(ConnectionError):
                self._there = there
                while head := read.read(1):
                    left = read.read(1)[0]
                    assert left < 128, "longer than any packet of these tests"
                    body = read.read(left)
                    if head[0] >> 4 == 14:  # DISCONNECT
                        break
                    self._answer(there, head[0] >> 4, body)
            self._there = None

    def _answer(self, there: socket.socket, packet: int, body: bytes) -> None:
        if packet == 1:  # CONNECT
            there.sendall(b"\x20\x02\x00\x00")
            for number in sorted(self._open):
                self._publish(number, again=True)
        elif packet == 8:  # SUBSCRIBE
            length = struct.unpack(">H", body[2:4])[0]
            self.asked.append(body[4 : 4 + length].decode())
            there.sendall(b"\x90\x03" + body[:2] + b"\x01")
        elif packet == 4:  # PUBACK
            number = struct.unpack(">H", body)[0]
            self._open.pop(number, None)
            self.acknowledged.append(number)
            self.first.set()
        elif packet == 12:  # PINGREQ
            there.sendall(b"\xd0\x00")


@pytest.fixture
def broker() -> Iterator[Broker]:
    made = Broker()
    yield made
    made.close()


@pytest.fixture
def plant(register: SqlRegister) -> Plant:
    made = Plant(Clock())
    made.begin(register)
    keep_mapping(register, register.incoming(), CONSOLE, MAPPING, "m.toml")
    return made


@pytest.fixture
def register(tmp_path: Path) -> Iterator[SqlRegister]:
    with open_register(tmp_path / "register.sqlite", clock=Clock()) as opened:
        yield opened


@pytest.fixture
def key(register: SqlRegister) -> str:
    """A token of a crew account, for recording."""
    accounts = register.accounts(hash_memory=64)
    accounts.accept(
        accounts.invite("Ada Example", PersonRole.ADMIN, None), "ada", "three wet rocks"
    )
    secret = accounts.invite("Logger", PersonRole.CREW, None)
    account = accounts.accept(secret, "logger", "three wet stones")
    until = Clock()() + timedelta(days=9)
    return accounts.make_token(account.account, "plant", {Scope.RECORD}, until, None)


class _Watched(Listener):
    """Tells what became of each message."""

    def __init__(self, register: SqlRegister, key: str) -> None:
        super().__init__(register, key, Clock())
        self.became: list[str] = []
        self.busy = 0
        self.more = threading.Condition()

    def take(self, topic: str, payload: bytes) -> list[Taken]:
        if self.busy:
            self.busy -= 1
            self._say("busy")
            msg = "the register is busy"
            raise BusyError(msg)
        found = super().take(topic, payload)
        self._say(found[0].verdict)
        return found

    def _say(self, word: str) -> None:
        with self.more:
            self.became.append(word)
            self.more.notify_all()

    def wait_for(self, number: int) -> list[str]:
        with self.more:
            self.more.wait_for(lambda: len(self.became) >= number, PATIENCE)
        return self.became


@pytest.fixture
def listening(register: SqlRegister, plant: Plant, key: str, broker: Broker) -> Iterator[_Watched]:
    watched, ready, ended = _Watched(register, key), threading.Event(), list[Any]()

    def run() -> None:
        try:
            listen(watched, broker.url, ready=lambda topics: ready.set() if topics else None)
        except InputError as error:
            ended.append(error)

    thread = threading.Thread(target=run)
    thread.start()
    assert ready.wait(PATIENCE)
    yield watched
    watched.stop()
    thread.join(PATIENCE)


def readings(register: SqlRegister, plant: Plant) -> list[tuple[str, str]]:
    facts = register.facts_about(plant.conveyor)
    return [(s.fact.by, s.fact.what.typed) for s in facts if isinstance(s.fact.what, ReadingTaken)]


def test_messages_of_a_broker_are_recorded_once_as_the_key(  # type: ignore[no-untyped-def]
    register, plant, listening, broker
) -> None:
    broker.send("k2/hours", '{"v": 3420, "id": 1}')
    broker.send("k2/hours", '{"v": 3420, "id": 1}')
    broker.send("k2/hours", "broken")
    broker.send("k2/hours", '{"v": 3421, "id": 2}')
    assert listening.wait_for(4) == ["recorded", "already", "refused", "recorded"]
    assert readings(register, plant) == [("Logger", "3420 h"), ("Logger", "3421 h")]
    (line,) = register.incoming().faults(CONSOLE, plant.site)
    assert line.sentence.startswith("message: is no JSON")
    assert broker.asked == ["k2/hours"]


def test_what_met_a_busy_register_is_sent_again(  # type: ignore[no-untyped-def]
    register, plant, listening, broker, monkeypatch
) -> None:
    monkeypatch.setattr("splicewright.background.mqtt._PAUSE", 0.01)
    listening.busy = 5  # as often as it is tried: then the broker is to send it again
    first = broker.send("k2/hours", '{"v": 3420, "id": 1}')
    assert listening.wait_for(6) == ["busy"] * 5 + ["recorded"]
    broker.send("k2/hours", '{"v": 3421, "id": 2}')
    assert listening.wait_for(7)[6:] == ["recorded"]
    assert broker.first.wait(PATIENCE)
    assert broker.acknowledged[0] == first
    assert readings(register, plant) == [("Logger", "3420 h"), ("Logger", "3421 h")]


def test_a_revoked_key_records_nothing_more(  # type: ignore[no-untyped-def]
    register, plant, listening, broker
) -> None:
    accounts = register.accounts()
    (token,) = accounts.tokens()
    accounts.end_token(token.token, None)
    broker.send("k2/hours", '{"v": 3420, "id": 1}')
    assert listening.over.wait(PATIENCE)
    assert "works no more" in listening.failure
    assert readings(register, plant) == []


@pytest.mark.parametrize(
    ("address", "password", "message"),
    [
        ("http://broker", False, "is no address"),
        ("mqtts://", False, "is no address"),
        ("mqtts://broker:99999", False, "is no address"),
        ("mqtts://ada:x@broker", False, "holds a name"),
        ("mqtt://broker.example", True, "in the clear"),
    ],
)
def test_an_address_of_a_broker_that_cannot_be(address: str, password: bool, message: str) -> None:
    with pytest.raises(InputError, match=message):
        split_broker(address, with_password=password)


def test_addresses_of_brokers() -> None:
    assert split_broker("mqtts://broker", with_password=True) == ("broker", 8883, True)
    assert split_broker("mqtt://localhost:1884/", with_password=True) == ("localhost", 1884, False)
    assert split_broker("mqtt://broker", with_password=False) == ("broker", 1883, False)


def test_without_a_key_or_a_broker_it_is_one_sentence(
    register: SqlRegister, plant: Plant, key: str
) -> None:
    with pytest.raises(InputError, match="works no more, or never did"):
        listen(Listener(register, "nothing"), "mqtt://127.0.0.1:9")
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    with pytest.raises(InputError, match="cannot be reached"):
        listen(Listener(register, key, Clock()), f"mqtt://127.0.0.1:{port}")
