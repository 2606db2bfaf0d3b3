"""Kill, fill, lock and set back the real server: what it acknowledged is there, once."""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from uuid import UUID, uuid4

import httpx2
import pytest
from fastapi.testclient import TestClient

from splicewright.errands import Desk, ask_fleet, ask_import, ask_import_again
from splicewright.errands.queue import Queue
from splicewright.errands.worker import Worker
from splicewright.store import Account, Scope
from splicewright.store.errands import ErrandState
from splicewright.store.kinds import Stream
from splicewright.store.sql import SqlRegister, open_register
from splicewright.store.sql_accounts import SqlAccounts
from store.conftest import migrated, postgres, postgres_url, server
from store.making import Server
from web.calling import API, Office, calling, fits_problem
from web.conftest import PASSWORD, Clock, sign_in
from web.processes import (
    Phones,
    free_port,
    kill,
    numbers,
    prepare,
    sent,
    serving,
    until_over,
    working,
)

__all__ = ["migrated", "postgres", "postgres_url", "server"]
WRITES = 1000


def there_once(url: str, phones: Phones, site: UUID, writes: int) -> None:
    """All that was sent is there, each once, and the chain holds."""
    assert phones.refused == []
    assert sorted(phones.acknowledged) == list(range(writes))
    with open_register(url) as register:
        assert sorted(numbers(register)) == list(range(writes))
        assert register.stock(site)[0].count == float(writes)
        assert register.verify().faults == ()


def test_kill_in_the_middle_of_1000_writes(tmp_path: Path) -> None:
    url, port = f"sqlite:///{tmp_path / 'register.sqlite'}", free_port()
    site, key = prepare(url)
    with serving(url, port) as first:
        phones = Phones(f"http://127.0.0.1:{port}", key, site, WRITES)
        phones.wait_for(300)
        before = set(phones.acknowledged)
        kill(first)
    with open_register(url) as register:
        there = numbers(register)
    assert before <= set(there)
    assert len(there) == len(set(there)) < WRITES
    with serving(url, port):
        phones.finish()
    there_once(url, phones, site, WRITES)


def test_a_full_disk(tmp_path: Path) -> None:
    path, port = tmp_path / "register.sqlite", free_port()
    site, key = prepare(str(path))
    headers = {"Authorization": f"Bearer {key}"}
    limit = path.stat().st_size + 150_000
    acknowledged, refused = [], None
    with (
        serving(str(path), port, limit=limit),
        httpx2.Client(base_url=f"http://127.0.0.1:{port}", headers=headers) as client,
    ):
        for number in range(2000):
            answer = client.post(f"{API}/facts", json={"facts": [sent(number, site)]})
            if answer.status_code != 200:
                refused = answer
                break
            acknowledged.append(number)
        assert refused is not None
        assert refused.status_code == 507
        assert "nothing was recorded; make room" in refused.json()["detail"]
        assert fits_problem(refused.json())
        assert client.get(f"{API}/sites").status_code == 200  # reading goes on
    with open_register(path) as register:
        assert numbers(register) == acknowledged
        assert register.verify().faults == ()
    with (
        serving(str(path), port),  # room was made
        httpx2.Client(base_url=f"http://127.0.0.1:{port}", headers=headers) as client,
    ):
        facts = [sent(number, site) for number in range(len(acknowledged) + 5)][-10:]
        done = client.post(f"{API}/facts", json={"facts": facts}).json()["outcomes"]
    assert [o["verdict"] for o in done] == ["already"] * 5 + ["recorded"] * 5


@pytest.fixture
def hurried(tmp_path: Path, clock: Clock, register: SqlRegister) -> Iterator[Office]:
    """An app over the same register that does not wait long for others."""
    path = tmp_path / "register.sqlite"
    with open_register(path, clock=clock, busy_seconds=0.3, check=False) as impatient:
        office = Office(impatient, impatient.accounts(hash_memory=64), clock, path)
        yield office
        office.queue.close()


def test_locked_for_longer_than_anybody_waits(
    hurried: Office, people: dict[str, Account], tmp_path: Path
) -> None:
    key = hurried.key(people["admin"], Scope.ADMIN)
    with calling(hurried.app, key) as client, calling(hurried.app) as page:
        site = client.get(f"{API}/sites").json()[0]["site"]
        sign_in(page, "crew")
        head = client.get(f"{API}/facts").json()["head"]
        holder = sqlite3.connect(tmp_path / "register.sqlite", isolation_level=None)
        holder.execute("BEGIN IMMEDIATE")
        try:
            for number in range(2):
                refused = client.post(f"{API}/facts", json={"facts": [sent(number, UUID(site))]})
                assert refused.status_code == 503
                assert refused.headers["retry-after"] == "5"
                assert fits_problem(refused.json())
                assert "try again" in refused.json()["detail"]
            many = [threading.Thread(target=_blocked, args=(client, site)) for _ in range(12)]
            for thread in many:
                thread.start()
            began = time.monotonic()
            assert client.get(f"{API}/conveyors").status_code == 200  # reading goes on
            assert page.get("/").status_code == 200
            assert time.monotonic() - began < 15
            for thread in many:
                thread.join()
            form = page.post("/sign-out", data={"csrf": "x"})
            assert form.status_code == 403
        finally:
            holder.execute("ROLLBACK")
            holder.close()
        assert client.get(f"{API}/facts").json()["head"] == head
        done = client.post(f"{API}/facts", json={"facts": [sent(0, UUID(site))]}).json()
        assert done["outcomes"][0]["verdict"] == "recorded"
    assert hurried.register.verify().faults == ()


def _blocked(client: TestClient, site: str) -> None:
    answer = client.post(f"{API}/facts", json={"facts": [sent(7, UUID(site))]})
    assert answer.status_code == 503


def test_a_form_while_it_is_locked(
    hurried: Office, people: dict[str, Account], tmp_path: Path
) -> None:
    with calling(hurried.app) as page:
        holder = sqlite3.connect(tmp_path / "register.sqlite", isolation_level=None)
        holder.execute("BEGIN IMMEDIATE")
        try:
            refused = sign_in(page, "crew")
        finally:
            holder.execute("ROLLBACK")
            holder.close()
        assert refused.status_code == 503
        assert refused.headers["retry-after"]
        assert PASSWORD not in refused.text
        assert sign_in(page, "crew").status_code == 303


def test_the_clock_is_set_back(
    register: SqlRegister, accounts: SqlAccounts, people: dict[str, Account], clock: Clock,
    tmp_path: Path,
) -> None:  # fmt: skip
    office = Office(register, accounts, clock, tmp_path / "register.sqlite")
    key = office.key(people["admin"], Scope.ADMIN)
    with calling(office.app, key) as client:
        site = client.get(f"{API}/sites").json()[0]["site"]

        def send(number: int) -> int:
            said = client.post(f"{API}/facts", json={"facts": [sent(number, UUID(site))]}).json()
            assert said["outcomes"][0]["verdict"] in {"recorded", "already"}
            return int(said["outcomes"][0]["seq"])

        first = send(0)
        clock.now -= timedelta(days=400)
        assert send(1) == first + 1
        assert send(0) == first
        page = client.get(f"{API}/facts", params={"since": first - 1}).json()
        assert [f["seq"] for f in page["facts"]] == [first, first + 1]
        asked = ask_fleet(office.desk, 86400.0, by="Ada Example")
        assert office.desk.errands.take(asked.errand, "a worker") is not None
        clock.now -= timedelta(days=1)
        assert asked.errand in office.desk.errands.unattended()
        clock.now += timedelta(days=402)
        assert send(2) == first + 2
    assert register.verify().faults == ()
    office.queue.close()


def test_postgresql_is_restarted_in_the_middle(server: Server, postgres_url: str) -> None:
    port = free_port()
    site, key = prepare(postgres_url)
    with serving(postgres_url, port):
        phones = Phones(f"http://127.0.0.1:{port}", key, site, 400)
        phones.wait_for(100)
        server.crash()
        phones.finish()
    there_once(postgres_url, phones, site, 400)


def _table(rows: int) -> bytes:
    lines = [f"Karst Hollow (invented),bolt,{n % 9 + 1},2026-01-05,row {n}" for n in range(rows)]
    return "\n".join(["site,item,count,when,why", *lines]).encode()


def test_a_worker_is_killed_in_the_middle(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'register.sqlite'}"
    site, _ = prepare(url)
    queue = Queue(url)
    with open_register(url) as register:
        desk = Desk(register.errands(1.0), queue)
        looked = ask_import(desk, "stock", "stock.csv", _table(6000), by="Ada Example")
        Worker(register, queue).work(looked.errand)
        seen = desk.errands.errand(looked.errand)
        assert seen is not None and seen.state is ErrandState.DONE, seen
        asked = ask_import_again(desk, seen, by="Ada Example")
        with working(url) as first:
            deadline = time.monotonic() + 15
            while register.version(site) < 500 and time.monotonic() < deadline:
                time.sleep(0.005)
            kill(first)
        half = desk.errands.errand(asked.errand)
        assert half is not None and half.state is ErrandState.RUNNING
        assert 0 < len(register.facts_since(0, 100_000, ("stock moved",))) < 6000
        with working(url):
            [done] = until_over(desk.errands, [asked.errand])
        assert done.state is ErrandState.DONE, done
        assert done.take == 2
        assert done.answer["recorded"] + done.answer["already"] == 6000
        assert len(register.facts_since(0, 100_000, ("stock moved",))) == 6000
        assert register.stock(site)[0].count == sum(n % 9 + 1 for n in range(6000))
        assert register.verify().faults == ()
    queue.close()


def test_two_servers_and_two_workers_on_one_database(postgres_url: str) -> None:
    site, key = prepare(postgres_url)
    ports = (free_port(), free_port())
    headers = {"Authorization": f"Bearer {key}"}
    with serving(postgres_url, ports[0], workers=1), serving(postgres_url, ports[1], workers=1):
        phones = [
            Phones(f"http://127.0.0.1:{port}", key, site, 60, clients=2) for port in ports
        ]  # both send the same facts
        asked: list[UUID] = []
        for number in range(6):
            id = uuid4()
            sent_ = {"id": str(id), "days": 30 + number}
            for port in ports:  # asked at both, done once
                answer = httpx2.post(
                    f"http://127.0.0.1:{port}{API}/errands/fleet", json=sent_, headers=headers,
                    timeout=15,
                )  # fmt: skip
                assert answer.status_code == 202, answer.text
            asked.append(id)
        for each in phones:
            each.finish()
        with open_register(postgres_url) as register:
            done = until_over(register.errands(), asked)
            workers = {row[0] for row in _workers(register)}
    assert [e.state for e in done] == [ErrandState.FAILED] * 6  # no joint was put to work yet
    assert {e.failure for e in done} == {
        "site: no joint was put to work there yet; nothing to forecast"
    }
    assert [e.take for e in done] == [1] * 6
    assert 1 <= len(workers) <= 2
    with open_register(postgres_url) as register:
        assert sorted(numbers(register)) == list(range(60))
        assert register.version(site) == register.head().seq
        assert {s.fact.stream for s in register.facts_since(0)} == {Stream.SITE, Stream.PERSON} - (
            {Stream.PERSON}
        )
        assert register.verify().faults == ()


def _workers(register: SqlRegister) -> list[tuple[str]]:
    from sqlalchemy import text

    with register._engine.connect() as connection:
        return [(row[0],) for row in connection.execute(text("SELECT worker FROM errands"))]
