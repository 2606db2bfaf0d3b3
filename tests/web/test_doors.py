"""Hooks and incoming values at every door: page, API, command line, with one outcome."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from uuid import uuid4

import pytest
from click.testing import CliRunner
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from splicewright.background.calling_out import Answer
from splicewright.background.hooks import deliver
from splicewright.cli import main
from splicewright.store import CONSOLE, Account, Scope
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.facts.joint_facts import ReadingTaken
from splicewright.store.sql.register import SqlRegister
from web.calling import API, Office, calling, fits_problem
from web.conftest import Clock, csrf_of, enter
from web.looking import axe, fits, picture, small_targets

SignedIn = Callable[[str], TestClient]
MAPPING = """site = "{site}"

[[value]]
topic = "k2/hours"
conveyor = "{conveyor}"
unit = "h"
every = "0 s"
"""


@pytest.fixture
def office(
    register: SqlRegister, accounts: SqlAccounts, clock: Clock, tmp_path: Path
) -> Iterator[Office]:
    made = Office(register, accounts, clock, tmp_path / "register.sqlite")
    yield made
    made.queue.close()


@pytest.fixture
def mapping(register: SqlRegister) -> str:
    site = register.sites()[0]
    conveyor = register.conveyors(site.site)[0]
    return MAPPING.format(site=site.name, conveyor=conveyor.name)


def run(register: SqlRegister, tmp_path: Path, *words: str) -> tuple[int, str]:
    where = ["--register", str(tmp_path / "register.sqlite")]
    done = CliRunner().invoke(main, [*words, *where])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.output


def test_an_admin_makes_and_follows_a_hook_on_its_page(
    register: SqlRegister, signed_in: SignedIn, clock: Clock
) -> None:
    admin = signed_in("admin")
    sent = {"csrf": csrf_of(admin), "label": "to the plant", "url": "https://127.0.0.1/x"}
    page = admin.post("/hooks", data=sent | {"since": "0"})
    assert page.status_code == 200 and "whsec_" in page.text
    again = admin.post("/hooks", data=sent)
    assert again.status_code == 422 and "is the name of a hook that works" in again.text
    assert "whsec_" not in admin.get("/hooks").text
    (hook,) = register.hooks().all(CONSOLE)
    where = f"/hooks/{hook.hook}"
    refusal = Answer(400, "it answered 400")
    for _ in range(3):
        deliver(register, register.hooks(), "w", clock, send=lambda *_, **__: refusal, turn=0.0)
        clock.pass_(hours=1)
    text = admin.get(where).text
    assert "Send them again" in text and "it answered 400" in text
    form = {"csrf": csrf_of(admin)}
    assert admin.post(f"{where}/again", data=form).status_code == 303
    assert "to be sent again" in admin.get(where).text
    assert "whsec_" in admin.post(f"{where}/secret", data=form).text
    assert admin.post(f"{where}/replay", data=form | {"since": "-1"}).status_code == 422
    assert admin.post(f"{where}/replay", data=form | {"since": "1"}).status_code == 303
    assert register.hooks().all(CONSOLE)[0].seq == 1
    assert admin.post(f"{where}/end", data=form).status_code == 303
    assert "ended" in admin.get("/hooks").text
    assert admin.post(f"{where}/end", data=form).status_code == 422
    assert admin.get(f"/hooks/{uuid4()}").status_code == 404
    assert signed_in("lead").get("/hooks").status_code == 403


def test_a_program_keeps_hooks_by_the_api(office: Office, people: dict[str, Account]) -> None:
    key = office.key(people["admin"], Scope.ADMIN)
    with calling(office.app, key) as program:
        sent = {"label": "x", "url": "https://receiver.example.org/", "kinds": ["joint built"]}
        made = program.post(f"{API}/hooks", json=sent)
        assert made.status_code == 201
        body = made.json()
        assert body["secret"].startswith("whsec_")
        assert body["seq"] == office.register.head().seq
        (listed,) = program.get(f"{API}/hooks").json()
        assert listed == {k: v for k, v in body.items() if k != "secret"}
        where = f"{API}/hooks/{body['hook']}"
        assert program.post(f"{where}/secret").json()["secret"] != body["secret"]
        assert program.post(f"{where}/replay", json={"since": 3}).json()["seq"] == 3
        assert program.get(f"{where}/letters").json() == {"letters": [], "next": None}
        assert program.delete(where).json()["ended"] is not None
        refused = program.post(f"{API}/hooks", json=sent | {"url": "http://example.org/"})
        assert refused.status_code == 422 and fits_problem(refused.json())
        assert refused.json()["faults"][0]["field"] == "url"
    for scopes in ({Scope.PLAN, Scope.RECORD}, {Scope.READ}):
        with calling(office.app, office.key(people["lead"], *scopes)) as program:
            assert program.get(f"{API}/hooks").status_code == 403


def test_hooks_are_kept_from_the_command_line(register: SqlRegister, tmp_path: Path) -> None:
    words = ["make", "--label", "x", "--url", "http://127.0.0.1/", "--own-network", "--json"]
    code, out = run(register, tmp_path, "register", "hooks", *words)
    made = json.loads(out)
    assert code == 0 and made["secret"].startswith("whsec_")
    hook = made["hook"]
    for words_, said in (
        (["list"], "at fact"),
        (["letters", hook], "0 dead letters"),
        (["again", hook], "0 dead letters are sent again"),
        (["replay", hook, "--since", "2"], "tells again from fact 3 on"),
        (["new-secret", hook], "whsec_"),
        (["end", hook], "ended"),
    ):
        code, out = run(register, tmp_path, "register", "hooks", *words_)
        assert code == 0 and said in out, out
    code, out = run(register, tmp_path, "register", "hooks", "end", hook)
    assert code == 2 and "has ended; make a new one" in out


def test_values_come_in_by_the_api_under_the_senders_authority(
    office: Office, people: dict[str, Account], mapping: str
) -> None:
    site = office.register.sites()[0].site
    where = f"{API}/incoming/{site}"
    with calling(office.app, office.key(people["admin"], Scope.ADMIN)) as admin:
        kept = admin.put(f"{where}/mapping", json={"file": mapping})
        assert kept.status_code == 200 and kept.json()["mapping"] == mapping
        broken = admin.put(f"{where}/mapping", json={"file": mapping.replace('"h"', '"V"')})
        assert broken.status_code == 422
        assert (broken.json()["faults"][0]["file"], broken.json()["faults"][0]["line"]) == (
            "file",
            6,
        )
    messages = [
        {"topic": "k2/hours", "payload": 3420, "id": "a"},
        {"topic": "k2/hours", "payload": "3421", "id": "b"},
        {"topic": "k2/hours", "payload": 3420, "id": "a"},
        {"topic": "k9/hours", "payload": 1},
    ]
    with calling(office.app, office.key(people["crew"], Scope.RECORD)) as program:
        told = program.post(where, json={"messages": messages})
        assert told.status_code == 200
        assert [o["verdict"] for o in told.json()["outcomes"]] == [
            "recorded", "recorded", "already", "refused",
        ]  # fmt: skip
        assert program.get(where).status_code == 403
        assert (
            program.post(f"{API}/incoming/{uuid4()}", json={"messages": messages}).status_code
            == 404
        )
    facts = office.register.facts_since(0, 10_000, ["reading taken"])
    new = [s.fact for s in facts if s.fact.device == "api"]
    assert [f.what.typed for f in new if isinstance(f.what, ReadingTaken)] == ["3420 h", "3421 h"]
    assert {f.person for f in new} == {people["crew"].account}
    with calling(office.app, office.key(people["admin"], Scope.ADMIN)) as admin:
        body = admin.get(where).json()
        assert [w["topic"] for w in body["wrong"]] == ["k9/hours"]
        assert body["last"][0]["typed"] == "3421 h"
        assert admin.delete(f"{where}/wrong").json()["wrong"] == []


def test_mappings_are_kept_on_the_page_and_from_the_command_line(
    register: SqlRegister, signed_in: SignedIn, mapping: str, tmp_path: Path
) -> None:
    admin = signed_in("admin")
    assert "No mapping is kept" in admin.get("/incoming").text
    file = {"file": ("m.toml", mapping.encode(), "application/toml")}
    bad = {"file": ("m.toml", mapping.replace("topic", "topik").encode(), "application/toml")}
    form = {"csrf": csrf_of(admin)}
    answer = admin.post("/incoming", data=form, files=bad)
    assert answer.status_code == 422 and "topik" in answer.text
    assert admin.post("/incoming", data=form, files=file).status_code == 303
    site = register.sites()[0]
    assert admin.get(f"/incoming/{site.site}/mapping.toml").text == mapping
    register.incoming().note_fault(site.site, "k9/hours", "topic: is not <mapped>")
    assert "is not &lt;mapped&gt;" in admin.get("/incoming").text
    assert admin.post(f"/incoming/{site.site}/clear", data=form).status_code == 303
    assert "What was wrong" not in admin.get("/incoming").text
    assert admin.post(f"/incoming/{uuid4()}/clear", data=form).status_code == 404
    assert signed_in("lead").get("/incoming").status_code == 403
    (tmp_path / "m.toml").write_text(mapping, "utf-8")
    code, out = run(register, tmp_path, "register", "incoming", "map", str(tmp_path / "m.toml"))
    assert (code, out) == (0, "m.toml: 1 values are mapped.\n")
    register.incoming().note_fault(site.site, "k9/hours", "is wrong")
    code, out = run(register, tmp_path, "register", "incoming", "show", site.name)
    assert code == 0 and "! k9/hours: is wrong (1 times" in out
    code, out = run(register, tmp_path, "register", "incoming", "forget", str(site.site))
    assert (code, out) == (0, "Cleared.\n")


def test_how_the_pages_look(
    phone: Page, desk: Page, register: SqlRegister, clock: Clock, mapping: str
) -> None:
    from splicewright.actions.incoming import keep_mapping

    hooks, incoming, site = register.hooks(), register.incoming(), register.sites()[0].site
    hook, _ = hooks.make(CONSOLE, "Maintenance system", "https://receiver.example.org/f", since=0)
    refusal = Answer(422, "it answered 422")
    for _ in range(3):
        deliver(register, hooks, "w", clock, send=lambda *_, **__: refusal)
        clock.pass_(hours=1)
    keep_mapping(register, incoming, CONSOLE, mapping.encode(), "m.toml")
    incoming.note_recorded(site, "plant/k2/run-hours", clock(), "3420.5 h")
    incoming.note_fault(site, "plant/k9/run-hours", "topic: is not in the mapping of this site")
    for page, name in ((phone, "phone"), (desk, "desk")):
        enter(page, "admin")
        for what, title in (
            ("hooks", "Hooks"),
            (f"hooks/{hook.hook}", "Maintenance system"),
            ("incoming", "Incoming values"),
        ):
            page.goto(f"/{what}")
            expect(page.get_by_role("heading", level=1)).to_have_text(title)
            axe(page)
            fits(page)
            assert small_targets(page) == []
            picture(page, f"{what.partition('/')[0]}{'-one' if '/' in what else ''}-{name}")
