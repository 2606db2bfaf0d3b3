"""A question of the whole of a large register: handed to the background, answered in its words."""

from __future__ import annotations

import html
import io
import json
import re
import signal
import subprocess
import sys
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from depth import PATIENCE, next_line
from splicewright.actions.planner import PlannerAsked, see_planner
from splicewright.background import questions
from splicewright.background.queue import Queue
from splicewright.background.requests import Background, ask_question
from splicewright.sheets.reports.planner import planner_report
from splicewright.store import Account, Scope
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.background import TaskState
from splicewright.store.sql.register import SqlRegister, open_register
from web.calling import API, Office, calling
from web.conftest import START, Clock, enter
from web.looking import axe, fits, picture, small_targets


@pytest.fixture
def register(example_register: SqlRegister, monkeypatch: pytest.MonkeyPatch) -> SqlRegister:
    """A register with a past that counts as large."""
    monkeypatch.setattr(questions, "LARGE", 10)
    return example_register


@pytest.fixture
def office(
    register: SqlRegister, accounts: SqlAccounts, clock: Clock, tmp_path: Path
) -> Iterator[Office]:
    made = Office(register, accounts, clock, tmp_path / "example.sqlite")
    yield made
    made.queue.close()


@pytest.fixture
def app(office: Office) -> FastAPI:
    return office.app


def _sent(page: str) -> tuple[str, dict[str, str]]:
    """Where the form of a long question leads, and what it sends."""
    found = re.search(r'<form class="card" id="long" method="post" action="([^"]+)">(.*?)</form>',
                      page, re.DOTALL)  # fmt: skip
    assert found is not None
    fields = re.findall(r'name="([^"]+)" value="([^"]*)"', found[2])
    return found[1], {name: html.unescape(value) for name, value in fields}


def test_from_the_page_to_the_answer(
    office: Office, register: SqlRegister, signed_in: Callable[[str], TestClient]
) -> None:
    crew = signed_in("crew")
    page = crew.get("/planner?planned_cost=3000&failure_cost=24000&use=time").text
    assert "takes minutes" in page and "<h2>Now</h2>" not in page
    place, sent = _sent(page)
    first, again = (crew.post(place, data=sent) for _ in range(2))  # a double click
    assert first.status_code == 303 and first.headers["location"] == again.headers["location"]
    office.work()
    told = html.unescape(crew.get(first.headers["location"]).text)
    asked = PlannerAsked(planned_cost=3000, failure_cost=24000, use="time")
    document = planner_report(see_planner(register, START, asked))
    parts = [*document.answer, *document.cautions, *(n.value for n in document.numbers)]
    for section in document.sections:
        parts += [section.title, *section.points, *(one.says for one in section.listed)]
        parts += [cell.partition(" (")[0] for row in section.table for cell in row]
    assert {part for part in parts if part not in told} == set()
    assert "Invented site and data" in told
    packed = crew.get(f"{first.headers['location']}/result")
    with zipfile.ZipFile(io.BytesIO(packed.content)) as archive:
        assert {"planner/planner.pdf", "planner/planner.json"} <= set(archive.namelist())
        json.loads(archive.read("planner/planner.json"))


def test_every_page_that_would_read_the_whole_register(
    register: SqlRegister, signed_in: Callable[[str], TestClient], office: Office
) -> None:
    crew, viewer = signed_in("crew"), signed_in("viewer")
    conveyor = register.conveyors()[0].conveyor
    interval = f"/conveyors/{conveyor}/inspection-interval"
    for path in (
        "/planner", "/fleet?use=time", f"{interval}?of=all+joints", f"{interval}?of=all+belts",
        "/shutdown?window=12+h&crew=6&until=2027-05-01&each=20+h&renewal=3000&failure=24000",
    ):  # fmt: skip
        assert "can ask for it" in viewer.get(path).text, path
        place, sent = _sent(crew.get(path).text)
        asked = crew.post(place, data=sent)
        assert asked.status_code == 303, (path, asked.text)
        office.work()
        done = crew.get(asked.headers["location"]).text
        assert "Report and all numbers" in done, (path, done)
    for path in ("/fleet", interval, f"{interval}?of=belts", f"/conveyors/{conveyor}/forecast"):
        assert 'id="long"' not in crew.get(path).text, path
    for path in (
        "/planner.pdf",
        "/fleet.pdf?use=time",
        "/shutdown.pdf?window=12+h&crew=6&until=2027-05-01&each=20+h&renewal=3000&failure=24000",
    ):
        refused = crew.get(path)
        assert refused.status_code == 422 and "background task" in refused.text, path


def test_one_conveyor_reads_nothing_of_the_others(
    register: SqlRegister, signed_in: Callable[[str], TestClient], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Fault found: the page of one conveyor read all inspections of a million facts, for 89 s."""

    def read_all(*_: object) -> None:
        msg = "the whole register was read"
        raise AssertionError(msg)

    monkeypatch.setattr(SqlRegister, "facts_since", read_all)
    crew = signed_in("crew")
    for there in register.conveyors():
        at = f"/conveyors/{there.conveyor}"
        for of in ("joints", "belts"):
            assert crew.get(f"{at}/inspection-interval?of={of}").status_code == 200
        for page in ("limits", "belt"):
            assert crew.get(f"{at}/{page}").status_code in {200, 403}, page


def test_by_api(office: Office, people: dict[str, Account]) -> None:
    key = office.key(people["lead"], Scope.PLAN, Scope.READ)
    with calling(office.app, key) as program:
        refused = program.post(f"{API}/planner", json={})
        assert refused.status_code == 422 and "background task" in refused.text
        asked: dict[str, Any] = {"question": "planner", "asked": {"until": "2030-01-01"}}
        made = program.post(f"{API}/background/question", json=asked)
        assert made.status_code == 202, made.text
        office.work()
        done = program.get(f"{API}/background/{made.json()['task']}").json()
        assert done["state"] == "done" and done["answer"]["words"], done
        for wrong, said in (
            ({"question": "nothing"}, "accepted is choose, fleet"),
            ({"question": "planner", "asked": {"until": "soon"}}, "soon"),
            ({"question": "planner", "asked": {"color": 1}}, "is not asked here"),
            ({"question": "when", "asked": {"lives": "/etc/passwd"}}, "is not asked here"),
        ):
            answer = program.post(f"{API}/background/question", json=wrong)
            assert answer.status_code == 422 and said in answer.text, answer.text
    read_only = office.key(people["lead"], Scope.PLAN)
    with calling(office.app, read_only) as program:
        assert program.post(f"{API}/background/question", json=asked).status_code == 403


def test_it_stops_when_it_is_cancelled(
    office: Office, signed_in: Callable[[str], TestClient], monkeypatch: pytest.MonkeyPatch
) -> None:
    crew = signed_in("crew")
    place, sent = _sent(crew.get("/planner").text)
    task = crew.post(place, data=sent).headers["location"]
    tasks, read = office.background.tasks, SqlRegister.facts_since
    monkeypatch.setattr("splicewright.background.worker._TOLD_EVERY", 0.0)

    def cancelled_meanwhile(*given: Any, **named: Any) -> Any:
        tasks.cancel(UUID(task.rpartition("/")[2]))
        return read(*given, **named)

    monkeypatch.setattr(SqlRegister, "facts_since", cancelled_meanwhile)
    office.work()
    assert "Cancelled at: " in crew.get(task).text
    found = tasks.task(UUID(task.rpartition("/")[2]))
    assert found is not None and found.state is TaskState.CANCELLED and not found.has_result


_ENDLESS = """
import sys
from splicewright.background import questions
from splicewright.background.worker import run_worker
endless = lambda: all(n == 0 for n in iter(int, 1))  # at work, as a question is, not asleep
questions.work_question = lambda *a: (print("asked", flush=True), endless())
run_worker(sys.argv[1], while_parent=len(sys.argv) > 2)
"""


@pytest.mark.parametrize("how", ["told to end", "its server was killed"])
def test_a_worker_ends_and_gives_the_question_back(tmp_path: Path, how: str) -> None:
    """A question without end holds no worker: told to end it does, and the next one takes it.

    Fault found: beside a thread at work, tidying up took nine seconds after it was given back.
    """
    path = tmp_path / "register.sqlite"
    with open_register(path) as register:
        background = Background(register.tasks(), Queue(path))
        words = [
            sys.executable,
            "-c",
            _ENDLESS,
            str(path),
            *(["beside"] if "server" in how else []),
        ]
        with subprocess.Popen(
            words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        ) as worker:
            assert worker.stdin is not None and worker.stdout is not None
            task = ask_question(background, "planner", {}, by="Ada Example", id=uuid4()).task
            assert next_line(worker) == "asked\n"
            if how == "told to end":
                worker.send_signal(signal.SIGTERM)
            else:
                worker.stdin.close()
            worker.wait(timeout=PATIENCE)
        found = background.tasks.task(task)
        assert found is not None and found.state is TaskState.WAITING
        background.queue.close()


def test_on_a_phone_and_a_desk(phone: Page, desk: Page, office: Office) -> None:
    for page, name in ((phone, "phone"), (desk, "desk")):
        enter(page, "crew")
        page.goto("/planner?planned_cost=3000&failure_cost=24000&use=time")
        axe(page)
        fits(page)
        assert not small_targets(page)
        picture(page, f"long-question-{name}")
        page.get_by_role("button", name="Work it out").click()
        expect(page.locator("#now")).to_contain_text("waiting")
        office.work()
        expect(page.locator("#now")).to_contain_text("Report and all numbers")
        axe(page)
        fits(page)
        assert not small_targets(page)
        picture(page, f"long-answer-{name}")
