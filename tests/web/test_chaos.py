"""Kill, fill, lock and set back the real server: what it acknowledged is there, once."""

from __future__ import annotations

import base64
import contextlib
import io
import sqlite3
import threading
import time
import zipfile
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path
from typing import Any, Self
from uuid import UUID, uuid4

import httpx2
import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, expect

from depth import PATIENCE, ended, sized
from planned import SITE
from splicewright.actions.conveyor.record import record_conveyor
from splicewright.actions.plan.plan import plan_joint
from splicewright.actions.plan.record import record_plan
from splicewright.background.queue import Queue
from splicewright.background.requests import Background, ask_fleet, ask_import, ask_import_again
from splicewright.background.worker import Worker
from splicewright.store import Account, Scope
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.background import TaskState
from splicewright.store.facts.plant_facts import StockMoved
from splicewright.store.sql.register import SqlRegister, open_register
from store.conftest import migrated, postgres, postgres_url, server
from store.making import Server
from web.calling import API, Office, calling, fits_problem
from web.conftest import PASSWORD, START, Clock, csrf_of, enter, sign_in
from web.processes import (
    Phones,
    free_port,
    held_by_another,
    kill,
    numbers,
    prepare,
    sent,
    serving,
    set_clock,
    small_disk,
    until_over,
    working,
)
from web.working import THICKNESS, bar, on_the_phone, wait_sent, waiting, write

__all__ = ["migrated", "postgres", "postgres_url", "server"]
WRITES = sized(160, deep=1000)
PLANNED = (("flat", "flat-torn-belt"), ("shuttle", "shuttle-new-belt"))


def there_once(url: str, phones: Phones, site: UUID, writes: int) -> None:
    """All that was sent is there, each once, and the chain holds."""
    assert phones.refused == []
    assert sorted(phones.acknowledged) == list(range(writes))
    with open_register(url) as register:
        assert sorted(numbers(register)) == list(range(writes))
        assert register.stock(site)[0].count == float(writes)
        assert register.verify().faults == ()


def test_kill_in_the_middle_of_many_writes(tmp_path: Path) -> None:
    url, port = f"sqlite:///{tmp_path / 'register.sqlite'}", free_port()
    site, key = prepare(url)
    with serving(url, port) as first:
        phones = Phones(f"http://127.0.0.1:{port}", key, site, WRITES)
        phones.wait_for(WRITES // 4)
        before = set(phones.acknowledged)
        kill(first)
    with open_register(url) as register:
        there = numbers(register)
    assert before <= set(there)
    assert len(there) == len(set(there)) < WRITES
    with serving(url, port):
        phones.finish()
    there_once(url, phones, site, WRITES)


def test_a_full_disk(tmp_path: Path, record_property: Callable[[str, object], None]) -> None:
    """A disk of its own runs full under the server, and gets room again while it runs.

    Where this user may mount nothing, no file may grow beyond a size instead, and room is made by
    starting anew.
    """
    with small_disk(tmp_path) as disk:
        record_property("disk", "a tmpfs of its own" if disk.real else "a limit on file sizes")
        path, port = disk.folder / "register.sqlite", free_port()
        site, key = prepare(str(path))
        limit = 0 if disk.real else path.stat().st_size + 150_000
        headers = {"Authorization": f"Bearer {key}"}
        with (
            serving(str(path), port, limit=limit) as server,
            httpx2.Client(base_url=f"http://127.0.0.1:{port}", headers=headers) as client,
            httpx2.Client(base_url=f"http://127.0.0.1:{port}") as page,
        ):
            assert sign_in(page, "ada").status_code == 303
            if disk.real:
                disk.fill(leave=250_000)
            acknowledged = _until_refused(client, site)
            by_page = _page_until_refused(page, site)
            assert client.get(f"{API}/sites").status_code == 200  # reading goes on
            assert page.get("/").status_code == 200
            assert server.poll() is None
            if disk.real:
                disk.make_room()
                _goes_on(client, site, acknowledged)
        if not disk.real:
            with (
                serving(str(path), port),
                httpx2.Client(base_url=f"http://127.0.0.1:{port}", headers=headers) as client,
            ):
                _goes_on(client, site, acknowledged)
        with open_register(path) as register:
            whats = [s.what for s in register.facts_since(0, 100_000, ("stock moved",))]
            ours = [w for w in whats if isinstance(w, StockMoved) and w.item == "bolt"]
            assert len({w.why for w in ours}) == len(ours) == len(acknowledged) + 5
            assert len(whats) - len(ours) == by_page
            assert register.verify().faults == ()


def _until_refused(client: httpx2.Client, site: UUID) -> list[int]:
    """Write until the disk takes nothing more; what was acknowledged before."""
    acknowledged: list[int] = []
    for number in range(5000):
        answer = client.post(f"{API}/facts", json={"facts": [sent(number, site)]})
        if answer.status_code != 200:
            assert answer.status_code == 507
            assert "nothing was recorded; make room" in answer.json()["detail"]
            assert fits_problem(answer.json())
            break
        acknowledged.append(number)
    assert acknowledged and len(acknowledged) < 5000
    return acknowledged


def _page_until_refused(page: httpx2.Client, site: UUID) -> int:
    """The same by the form of a page; how often it was taken before it was refused."""
    for taken in range(40):
        sent = {"csrf": csrf_of(page), "id": str(uuid4()), "item": "nut", "how": "in", "count": "1"}
        answer = page.post(f"/sites/{site}/stock", data=sent)
        if answer.status_code != 303:
            assert answer.status_code == 507, answer.text
            assert "Not recorded" in answer.text
            assert "nothing was recorded; make room" in answer.text
            return taken
    raise AssertionError(taken)


def _goes_on(client: httpx2.Client, site: UUID, acknowledged: list[int]) -> None:
    """With room again everything acknowledged is there, and more is taken."""
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
            assert client.get(f"{API}/conveyors").status_code == 200  # reading goes on
            assert page.get("/").status_code == 200
            ended(*many)
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


def test_locked_by_another_process_while_it_is_served(tmp_path: Path, browser: Browser) -> None:
    """Longer than the server waits: programs and pages are told so, a phone keeps what it wrote."""
    path, port = tmp_path / "register.sqlite", free_port()
    site, key = prepare(str(path))
    with open_register(path, check=False) as register:
        job = UUID(_planned(register, "flat", "flat-torn-belt"))
    address = f"http://127.0.0.1:{port}"
    headers = {"Authorization": f"Bearer {key}"}
    with (
        serving(str(path), port, busy=sized(2, deep=10)),
        httpx2.Client(base_url=address, headers=headers, timeout=PATIENCE) as program,
        httpx2.Client(base_url=address, timeout=PATIENCE) as person,
        contextlib.closing(browser.new_context(base_url=address)) as context,
        ThreadPoolExecutor(2) as hands,
    ):
        phone = context.new_page()
        enter(phone, "ada")
        phone.goto(f"/jobs/{job}")
        on_the_phone(phone)
        with held_by_another(path):
            fact = {"facts": [sent(0, site)]}
            refused = hands.submit(program.post, f"{API}/facts", json=fact)
            form = hands.submit(sign_in, person, "ada")
            write(phone, "measure", THICKNESS, "12.5")
            expect(bar(phone)).to_contain_text("waits")
            assert program.get(f"{API}/conveyors").status_code == 200  # reading goes on
            told, page = refused.result(PATIENCE), form.result(PATIENCE)
            assert len(waiting(phone)) == 1
        assert told.status_code == page.status_code == 503
        assert fits_problem(told.json())
        for said in (told.json()["detail"], page.text):
            assert "try again" in said
        assert told.headers["retry-after"] == page.headers["retry-after"] == "5"
        assert PASSWORD not in page.text
        wait_sent(phone)  # by itself, once the register takes it
        assert sign_in(person, "ada").status_code == 303
        done = program.post(f"{API}/facts", json=fact).json()["outcomes"]
        assert done[0]["verdict"] == "recorded"
    with open_register(path) as register:
        kinds = [s.fact.kind for s in register.facts_about(job)]
        assert kinds == ["job opened", "value recorded"]
        assert register.verify().faults == ()


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
        asked = ask_fleet(office.background, 86400.0, by="Ada Example")
        assert office.background.tasks.take(asked.task, "a worker") is not None
        clock.now -= timedelta(days=1)
        assert asked.task in office.background.tasks.unattended()
        clock.now += timedelta(days=402)
        assert send(2) == first + 2
    assert register.verify().faults == ()
    office.queue.close()


def test_the_clock_of_a_served_process_is_set_back_in_the_middle(tmp_path: Path) -> None:
    url, port, clock = f"sqlite:///{tmp_path / 'register.sqlite'}", free_port(), tmp_path / "clock"
    set_clock(clock)
    site, key = prepare(url)
    address = f"http://127.0.0.1:{port}"
    with serving(url, port, clock=clock):
        phones = Phones(address, key, site, 120)
        phones.wait_for(40)
        set_clock(clock, days=-400)
        with open_register(url) as register:
            before = register.facts_since(0)
        phones.finish()
        assert sorted(phones.acknowledged) == list(range(120))
        set_clock(clock, days=-10)
        phones = Phones(address, key, site, 140)  # all of them again, and some more
        phones.finish()
    there_once(url, phones, site, 140)
    with open_register(url) as register:
        after = register.facts_since(0)
    # What was there stands where it stood, with its hash; what came later comes later, whatever
    # the clock said, and each hash is chained to the one before.
    assert after[: len(before)] == before
    assert [s.seq for s in after] == list(range(1, len(after) + 1))
    days = [round((after[0].received - s.received) / timedelta(days=1)) for s in after]
    assert (days[0], max(days), days[-1]) == (0, 400, 10)


def test_postgresql_is_restarted_in_the_middle(server: Server, postgres_url: str) -> None:
    port, writes = free_port(), sized(120, deep=400)
    site, key = prepare(postgres_url)
    with serving(postgres_url, port):
        phones = Phones(f"http://127.0.0.1:{port}", key, site, writes)
        phones.wait_for(writes // 4)
        server.crash()
        phones.finish()
    there_once(postgres_url, phones, site, writes)


def _table(rows: int) -> bytes:
    lines = [f"Karst Hollow (invented),bolt,{n % 9 + 1},2026-01-05,row {n}" for n in range(rows)]
    return "\n".join(["site,item,count,when,why", *lines]).encode()


def test_a_worker_is_killed_in_the_middle(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'register.sqlite'}"
    site, _ = prepare(url)
    rows = sized(2000, deep=6000)
    queue = Queue(url)
    with open_register(url) as register:
        background = Background(register.tasks(1.0), queue)
        looked = ask_import(background, "stock", "stock.csv", _table(rows), by="Ada Example")
        Worker(register, queue).work(looked.task)
        seen = background.tasks.task(looked.task)
        assert seen is not None and seen.state is TaskState.DONE, seen
        asked = ask_import_again(background, seen, by="Ada Example")
        with working(url) as first:
            while register.version(site) < 500 and first.poll() is None:
                time.sleep(0.005)
            kill(first)
        half = background.tasks.task(asked.task)
        assert half is not None and half.state is TaskState.RUNNING
        assert 0 < len(register.facts_since(0, 100_000, ("stock moved",))) < rows
        with working(url):
            [done] = until_over(background.tasks, [asked.task])
        assert done.state is TaskState.DONE, done
        assert done.take == 2
        assert done.answer["recorded"] + done.answer["already"] == rows
        assert len(register.facts_since(0, 100_000, ("stock moved",))) == rows
        assert register.stock(site)[0].count == sum(n % 9 + 1 for n in range(rows))
        assert register.verify().faults == ()
    queue.close()


def test_two_hosts_of_two_on_one_database(postgres_url: str) -> None:
    """Two web processes and two workers at once: long work that finishes, each done once.

    One worker is killed in the middle of an import; the other takes it up again.
    """
    site, key = prepare(postgres_url)
    rows = 6000  # so many that it is surely seen under way, on a fast machine too
    with open_register(postgres_url) as register:
        jobs = [_planned(register, *of) for of in PLANNED]
    ports = (free_port(), free_port())
    with (
        contextlib.ExitStack() as close, ThreadPoolExecutor(4) as hands,
        open_register(postgres_url, check=False) as register,
    ):  # fmt: skip
        # All four come up at once, as hosts do after a power cut.
        opened = [working(postgres_url), working(postgres_url)]
        opened += [serving(postgres_url, port) for port in ports]
        one, two, *_ = hands.map(close.enter_context, opened)
        workers = {one.pid: one, two.pid: two}
        hosts = [close.enter_context(_Host(port, key)) for port in ports]
        bundle, look, apply = (str(uuid4()) for _ in range(3))
        # Both hosts are asked the same, as a phone does that lost the answer of the first.
        content = base64.b64encode(_table(rows)).decode("ascii")
        table = {"table": "stock", "name": "stock.csv", "content": content, "id": look}
        for host in hosts:
            host.ask("bundle", {"jobs": jobs, "id": bundle})
            host.ask("import", table)
        looked = hosts[1].watch(look)
        assert looked["answer"]["rows"] == rows and looked["answer"]["refused"] == 0
        assert register.stock(site) == ()  # it only looked
        for host in hosts:
            host.ask(f"{look}/apply", {"id": apply})
        by_then = hosts[1].watch(apply, until=lambda e: e["state"] == "running" and e["share"])
        assert 0 < by_then["share"] < 1 and by_then["step"]
        until = time.monotonic() + PATIENCE
        while not register.facts_since(0, 1, ("stock moved",)):
            assert time.monotonic() < until, "the import never recorded its first row"
            time.sleep(0.005)  # it looks at all rows before it records the first
        kill(workers[_worker_of(register, UUID(apply))])
        phones = [Phones(host.address, key, site, 60, clients=2) for host in hosts]
        done = hosts[1].watch(apply)
        packed = hosts[0].watch(bundle)
        for each in phones:  # crews went on meanwhile, each fact sent to both hosts
            each.finish()
            assert each.refused == []
        assert done["state"] == packed["state"] == "done", (done, packed)
        assert done["answer"]["recorded"] + done["answer"]["already"] == rows
        assert done["answer"]["already"] > 0  # what the killed one had recorded stands, once
        assert len(packed["answer"]["packs"]) == 2
        files = [host.result(bundle) for host in hosts]
        assert files[0] == files[1]
        assert len(zipfile.ZipFile(io.BytesIO(files[0])).namelist()) > 20
        takes = {str(i): t for i, _, t in _tasks(register)}
        # The bundle may have been in the killed one's hands too; the look was not.
        assert takes[apply] == 2 and takes[look] == 1 and takes[bundle] in {1, 2}
        assert len(takes) == 3
        imported = register.facts_since(0, 100_000, ("stock moved",))
        assert len(imported) == rows + 60
        bolts = sum(n % 9 + 1 for n in range(rows)) + 60
        assert register.stock(site)[0].count == bolts
        assert register.verify().faults == ()


def _planned(register: SqlRegister, conveyor: str, job: str) -> str:
    """The job of a plan of the invented site, recorded."""
    file = SITE / "conveyors" / f"{conveyor}.toml"
    there = record_conveyor(register, file, by="Ada Example", now=START)
    plan = plan_joint(file, SITE / "jobs" / f"{job}.toml")
    made = record_plan(
        register, plan, conveyor=there.conveyor, label=conveyor, by="Ada Example", now=START
    )
    return str(made.job)


class _Host:
    """One of the web processes, called as a program does."""

    def __init__(self, port: int, key: str) -> None:
        self.address = f"http://127.0.0.1:{port}"
        headers = {"Authorization": f"Bearer {key}"}
        self._client = httpx2.Client(
            base_url=f"{self.address}{API}/background", headers=headers, timeout=PATIENCE
        )

    def ask(self, what: str, sent: Mapping[str, object]) -> None:
        answer = self._client.post(f"/{what}", json=sent)
        assert answer.status_code == 202, answer.text

    def watch(
        self, task: str, until: Callable[[dict[str, Any]], object] = lambda e: e["ended"],
    ) -> dict[str, Any]:  # fmt: skip
        """The task as this process tells it, once that is true."""
        deadline = time.monotonic() + PATIENCE
        while time.monotonic() < deadline:
            told: dict[str, Any] = self._client.get(f"/{task}").json()
            if until(told):
                return told
            assert told["ended"] is None, told
            time.sleep(0.03)
        raise AssertionError(told)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._client.close()

    def result(self, task: str) -> bytes:
        return self._client.get(f"/{task}/result").content


def _tasks(register: SqlRegister) -> list[tuple[UUID, str, int]]:
    """Id, worker and take number of every task."""
    from sqlalchemy import text

    asked = text("SELECT errand, worker, take FROM errands")
    with register._engine.connect() as connection:
        return [(UUID(str(row[0])), row[1], row[2]) for row in connection.execute(asked)]


def _worker_of(register: SqlRegister, task: UUID) -> int:
    """Process id of the worker that has it."""
    [who] = [worker for id, worker, _ in _tasks(register) if id == task]
    return int(who.rpartition(" ")[2])
