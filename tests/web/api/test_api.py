"""The API: what programs may, what they get, and what they are told when they may not."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import jsonschema
import pytest
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient
from PIL import Image

from planned import SITE
from splicewright.store import Account, Scope
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.authority import MAY_RUN
from splicewright.store.sql.register import SqlRegister
from splicewright.web.api import background, hooks, incoming, plans, questions, tables
from splicewright.web.api import facts as api_facts
from splicewright.web.api import register as api_register
from splicewright.web.api.caller import NeedsScope
from web.calling import API, Office, calling, contract, fits_problem
from web.conftest import Clock, csrf_of, sign_in

FLAT = (SITE / "conveyors" / "flat.toml").read_text("utf-8")
RANGES = [f.read_text("utf-8") for f in sorted((SITE / "fasteners").glob("*.toml"))]
WORK = (SITE / "jobs" / "flat-torn-belt.toml").read_text("utf-8")


@pytest.fixture
def office(
    register: SqlRegister, accounts: SqlAccounts, clock: Clock, tmp_path: Path
) -> Iterator[Office]:
    made = Office(register, accounts, clock, tmp_path / "register.sqlite")
    yield made
    made.queue.close()


@pytest.fixture
def admin(office: Office, people: dict[str, Account]) -> Iterator[TestClient]:
    with calling(office.app, office.key(people["admin"], Scope.ADMIN)) as client:
        yield client


def conveyor_called(client: TestClient, name: str) -> dict[str, Any]:
    found = client.get(f"{API}/conveyors").json()
    chosen: dict[str, Any] = next(c for c in found if c["name"].startswith(name))
    return chosen


def fact(kind: str, what: dict[str, Any], **other: Any) -> dict[str, Any]:
    at = "2026-05-04T06:00:00+00:00"
    return {"format": 1, "id": str(uuid4()), "at": at, "kind": kind, "what": what} | other


def moved(site: str, count: float = 1.0, **other: Any) -> dict[str, Any]:
    what = {"site": site, "item": "bolt", "count": count, "why": "test", "job": None}
    return fact("stock moved", what, **other)


def test_every_route_asks_for_a_scope() -> None:
    parts = (api_register, api_facts, tables, plans, questions, background, hooks, incoming)
    routes = [r for part in parts for r in part.router.routes if isinstance(r, APIRoute)]
    assert len(routes) == sum(len(p) for p in contract()["paths"].values()) > 25
    for route in routes:
        asks = [d.call for d in route.dependant.dependencies if isinstance(d.call, NeedsScope)]
        assert len(asks) == 1, route.path
        if set(route.methods or ()) & {"POST", "PUT", "DELETE"}:
            assert asks[0].scope is not Scope.READ, route.path


def test_the_description_is_served_and_whole(office: Office) -> None:
    with calling(office.app) as client:
        described = client.get(f"{API}/openapi.json").json()
    assert described["openapi"].startswith("3.1")
    text = json.dumps(described)
    assert "ValidationError" not in text
    for name in set(text.split('"#/components/schemas/')[1:]):
        assert name.split('"')[0] in described["components"]["schemas"]
    for path, routes in described["paths"].items():
        for method, route in routes.items():
            assert route["summary"] and route["description"], (method, path)
            assert route["security"] == [{"token": []}]


def test_who_may_what(office: Office, people: dict[str, Account]) -> None:
    keys = {
        "read": office.key(people["crew"], Scope.READ),
        "record": office.key(people["crew"], Scope.RECORD),
        "none of it": "sw_no-such-key",
    }
    with calling(office.app) as client:
        refused = client.get(f"{API}/sites")
    assert refused.status_code == 401
    assert refused.headers["www-authenticate"] == "Bearer"
    assert fits_problem(refused.json())
    with calling(office.app, keys["none of it"]) as client:
        assert client.get(f"{API}/sites").status_code == 401
    with calling(office.app, keys["read"]) as client:
        site = client.get(f"{API}/sites").json()[0]["site"]
        said = client.post(f"{API}/facts", json={"facts": [moved(site)]})
        assert said.status_code == 403
        assert said.headers["content-type"] == "application/problem+json"
        assert said.json()["detail"] == (
            'this needs the scope "record" and an account that is crew or more'
        )
    with calling(office.app, keys["record"]) as client:
        assert client.get(f"{API}/sites").status_code == 403
        assert client.post(f"{API}/facts", json={"facts": [moved(site)]}).status_code == 200


def test_a_key_never_does_more_than_its_account(office: Office, people: dict[str, Account]) -> None:
    key = office.key(people["lead"], Scope.READ, Scope.RECORD, Scope.PLAN)
    from splicewright.store import PersonRole

    office.accounts.change_role(people["lead"].account, PersonRole.VIEWER, None)
    with calling(office.app, key) as client:
        site = client.get(f"{API}/sites").json()[0]["site"]
        assert client.post(f"{API}/facts", json={"facts": [moved(site)]}).status_code == 403
    office.accounts.close_account(people["lead"].account, None)
    with calling(office.app, key) as client:
        assert client.get(f"{API}/sites").status_code == 401


def test_a_key_ends_and_is_revoked(
    office: Office, people: dict[str, Account], clock: Clock
) -> None:
    key = office.key(people["viewer"], Scope.READ)
    with calling(office.app, key) as client:
        assert client.get(f"{API}/sites").status_code == 200
        clock.pass_(days=31)
        assert client.get(f"{API}/sites").status_code == 401
    other = office.key(people["viewer"], Scope.READ)
    with calling(office.app, other) as client:
        assert client.get(f"{API}/sites").status_code == 200
        last = office.accounts.tokens()[0]
        assert last.used == clock.now
        office.accounts.end_token(last.token, None)
        assert client.get(f"{API}/sites").status_code == 401


def test_facts_are_recorded_once_as_their_account(
    admin: TestClient, people: dict[str, Account]
) -> None:
    site = admin.get(f"{API}/sites").json()[0]["site"]
    head = admin.get(f"{API}/facts").json()["head"]
    sent = {"facts": [moved(site, 4.0), moved(site, -1.0)]}
    first = admin.post(f"{API}/facts", json=sent).json()["outcomes"]
    assert [o["verdict"] for o in first] == ["recorded", "recorded"]
    again = admin.post(f"{API}/facts", json=sent).json()["outcomes"]
    assert [o["verdict"] for o in again] == ["already", "already"]
    assert [o["seq"] for o in first] == [o["seq"] for o in again]
    assert admin.get(f"{API}/sites/{site}/stock").json() == [
        {"site": site, "item": "bolt", "count": 3.0}
    ]
    there = admin.get(f"{API}/facts", params={"since": head}).json()
    assert [f["fact"]["by"] for f in there["facts"]] == ["Admin Example"] * 2
    assert {f["fact"]["person"] for f in there["facts"]} == {str(people["admin"].account)}
    assert there["next"] == there["head"] == head + 2
    other = {"facts": [sent["facts"][0] | {"at": "2026-05-05T06:00:00+00:00"}]}
    assert admin.post(f"{API}/facts", json=other).json()["outcomes"][0]["verdict"] == "conflict"


def test_one_bad_fact_holds_up_no_other(admin: TestClient) -> None:
    site = admin.get(f"{API}/sites").json()[0]["site"]
    good, bad, odd = moved(site), moved(site, by="Somebody Else"), {"id": 5}
    unknown = moved(str(uuid4()))
    said = admin.post(f"{API}/facts", json={"facts": [bad, good, odd, unknown]}).json()["outcomes"]
    assert [o["verdict"] for o in said] == ["refused", "recorded", "refused", "refused"]
    assert said[0]["faults"][0] == {
        "field": "by", "sentence": "is somebody else; accepted is 'Admin Example', or nothing",
        "accepted": "'Admin Example', or nothing", "file": "", "line": None,
    }  # fmt: skip
    assert said[2]["id"] is None


def test_a_program_signs_nothing_and_makes_nobody_admin(
    office: Office, people: dict[str, Account]
) -> None:
    job = {"job": str(uuid4()), "step": "isolate", "statement": "locked out"}
    person = {"person": str(uuid4()), "name": "Mallory Invented", "role": "admin"}
    sneaked = {"of": "person", "about": str(uuid4()), "corrects": str(uuid4()), "kind": None,
               "instead": None, "why": "x"}  # fmt: skip
    site = {"site": str(uuid4()), "name": "X"}
    facts = [fact("hold point signed", job), fact("person added", person),
             fact("correction", sneaked), fact("site added", site)]  # fmt: skip
    key = office.key(people["admin"], Scope.RECORD)
    with calling(office.app, key) as client:
        said = client.post(f"{API}/facts", json={"facts": facts}).json()["outcomes"]
    assert [o["faults"][0]["sentence"] for o in said] == [
        '"hold point signed" is a signature; accepted is a person who signs at a page',
        'people and their roles need the scope "admin"',
        'people and their roles need the scope "admin"',
        '"site added" needs the scope "plan"',
    ]


def test_that_a_joint_may_run_is_for_a_lead(office: Office, people: dict[str, Account]) -> None:
    for role, refused in (("crew", True), ("lead", False)):
        with calling(office.app, office.key(people[role], Scope.READ, Scope.RECORD)) as client:
            said = {"joint": str(uuid4()), "inspection": str(uuid4()), "can_run": True}
            sent = {"facts": [fact("inspection closed", said)]}
            (outcome,) = client.post(f"{API}/facts", json=sent).json()["outcomes"]
        told = [fault["sentence"] for fault in outcome["faults"]]
        assert (told == [MAY_RUN]) == refused, outcome


def test_a_page_may_call_with_its_session(office: Office, people: dict[str, Account]) -> None:
    with calling(office.app) as client:
        sign_in(client, "crew")
        site = client.get(f"{API}/sites").json()[0]["site"]
        sent = {"facts": [moved(site)]}
        assert client.post(f"{API}/facts", json=sent).status_code == 403
        headers = {"X-CSRF": csrf_of(client)}
        said = client.post(f"{API}/facts", json=sent, headers=headers)
        assert said.json()["outcomes"][0]["verdict"] == "recorded"
        # What happens at other sites is refused before it comes here.
        foreign = headers | {"Origin": "https://elsewhere.example", "Sec-Fetch-Site": "cross-site"}
        assert client.post(f"{API}/facts", json=sent, headers=foreign).status_code == 403


def test_seen_versions_are_held(admin: TestClient) -> None:
    site = admin.get(f"{API}/sites").json()[0]["site"]
    admin.post(f"{API}/facts", json={"facts": [moved(site)]})
    said = admin.post(f"{API}/facts", json={"facts": [moved(site)], "seen": {site: 1}}).json()
    assert said["outcomes"][0]["verdict"] == "conflict"


def test_following_the_register(admin: TestClient) -> None:
    site = admin.get(f"{API}/sites").json()[0]["site"]
    admin.post(f"{API}/facts", json={"facts": [moved(site) for _ in range(30)]})
    since, found = 0, []
    while True:
        page = admin.get(f"{API}/facts", params={"since": since, "limit": 7}).json()
        if not page["facts"]:
            break
        found += [f["seq"] for f in page["facts"]]
        assert page["next"] > since
        since = page["next"]
    assert found == list(range(1, page["head"] + 1))
    some = admin.get(f"{API}/facts", params={"kind": ["site added"]}).json()
    assert {f["fact"]["kind"] for f in some["facts"]} == {"site added"}
    assert some["next"] == some["head"]
    odd = admin.get(f"{API}/facts", params={"kind": "no such kind"})
    assert odd.status_code == 422
    assert "accepted is belt piece placed" in odd.json()["faults"][0]["sentence"]


def _photograph() -> bytes:
    """A JPEG with the place where it was taken, and the camera."""
    picture, exif, made = Image.new("RGB", (64, 48), "brown"), Image.Exif(), BytesIO()
    exif[0x010F] = "Invented cameras"
    exif.get_ifd(0x8825).update({1: "N", 2: (47.0, 3.0, 9.0)})
    picture.save(made, "JPEG", exif=exif)
    return made.getvalue()


def test_contents_are_what_they_are_said_to_be(admin: TestClient) -> None:
    photo, jpeg = _photograph(), {"content-type": "image/jpeg"}
    sent = hashlib.sha256(photo).hexdigest()
    first = admin.put(f"{API}/contents/{sent}", content=photo, headers=jpeg).json()
    for content in (photo, admin.get(f"{API}/contents/{first['digest']}").content):
        digest = hashlib.sha256(content).hexdigest()
        again = admin.put(f"{API}/contents/{digest}", content=content, headers=jpeg)
        assert again.json() == first  # what is kept is not written anew once more
    got = admin.get(f"{API}/contents/{first['digest']}")
    assert first == {"digest": hashlib.sha256(got.content).hexdigest(), "media_type": "image/jpeg",
                     "size": len(got.content)}  # fmt: skip
    # Position and camera, as EXIF (CIPA DC-008) has them, are gone.
    assert Image.open(BytesIO(photo)).getexif() and not Image.open(BytesIO(got.content)).getexif()
    assert b"Invented" in photo and b"Invented" not in got.content
    junk = b"\xff\xd8\xff\xe0" + b"invented" * 100
    assert got.headers["content-type"] == "image/jpeg"
    assert got.headers["content-security-policy"] == "default-src 'none'; sandbox"
    assert got.headers["content-disposition"].startswith("attachment")
    other = hashlib.sha256(b"x").hexdigest()
    for digest, data, kind, said in (
        (other, photo, "image/jpeg", "accepted is the digest of the very bytes sent"),
        (hashlib.sha256(b"<svg/>").hexdigest(), b"<svg/>", "image/png", "cannot be decoded"),
        (hashlib.sha256(junk).hexdigest(), junk, "image/jpeg", "cannot be decoded"),
        (hashlib.sha256(b"<svg/>").hexdigest(), b"<svg/>", "image/svg+xml", "is not kept"),
        (hashlib.sha256(b"{}").hexdigest(), b"{}", "application/json", "is no plan of format 2"),
        (hashlib.sha256(b"a=").hexdigest(), b"a=", "application/toml", "is not valid TOML"),
    ):
        refused = admin.put(
            f"{API}/contents/{digest}", content=data, headers={"content-type": kind}
        )
        assert refused.status_code == 422
        assert said in str(refused.json()["faults"])
    assert admin.get(f"{API}/contents/{other}").status_code == 404


def test_conveyor_files_in_versions(admin: TestClient) -> None:
    flat = conveyor_called(admin, "K1")
    path = f"{API}/conveyors/{flat['conveyor']}"
    assert admin.get(f"{path}/file").text == FLAT
    same = admin.put(f"{path}/file", json={"toml": FLAT}).json()
    assert (same["new"], same["version"]) == (False, 1)
    changed = FLAT + "\n# measured anew\n"
    assert admin.put(f"{path}/file", json={"toml": changed}).json()["version"] == 2
    assert admin.get(f"{path}/file").text == changed
    assert admin.get(f"{path}/file", params={"version": 1}).text == FLAT
    assert [v["version"] for v in admin.get(f"{path}/versions").json()] == [1, 2]
    other = (SITE / "conveyors" / "incline.toml").read_text("utf-8")
    refused = admin.put(f"{path}/file", json={"toml": other})
    assert refused.status_code == 422
    assert refused.json()["faults"][0]["field"] == "conveyor.name"
    wrong = admin.post(f"{API}/conveyors", json={"toml": "[conveyor]\nname = 5\n"})
    assert wrong.status_code == 422
    assert {f["file"] for f in wrong.json()["faults"]} == {"conveyor.toml"}
    assert 2 in {f["line"] for f in wrong.json()["faults"]}


def test_a_plan_as_the_command_line_makes_it(admin: TestClient) -> None:
    from splicewright.actions.plan.plan import plan_joint

    flat = conveyor_called(admin, "K1")
    sent = {"conveyor": flat["conveyor"], "work": WORK, "fasteners": RANGES}
    made = admin.post(f"{API}/plan", json=sent)
    assert made.status_code == 200
    ranges = tuple(sorted((SITE / "fasteners").glob("*.toml")))
    ours = plan_joint(
        SITE / "conveyors" / "flat.toml", SITE / "jobs" / "flat-torn-belt.toml", ranges
    )
    assert made.json() == json.loads(ours.to_json())
    bare = admin.post(f"{API}/plan", json={"conveyor": flat["conveyor"]})
    assert bare.status_code == 200
    wrong = admin.post(f"{API}/plan", json=sent | {"work": "[work]\nnot_a_key = 1\n"})
    assert wrong.status_code == 422
    assert {f["file"] for f in wrong.json()["faults"]} == {"work.toml"}
    assert admin.post(f"{API}/plan", json={"conveyor": str(uuid4())}).status_code == 404


def test_an_inspection_is_judged_and_reads_no_file(admin: TestClient, tmp_path: Path) -> None:
    typed = (SITE / "inspections" / "typed-in.toml").read_text("utf-8")
    made = admin.post(f"{API}/assess", json={"inspection": typed})
    assert made.status_code == 200
    assert made.json()["plates"] and made.json()["decision"]
    named = (SITE / "inspections" / "flat-worn-pin.toml").read_text("utf-8")
    refused = admin.post(f"{API}/assess", json={"inspection": named})
    assert refused.status_code == 422
    assert refused.json()["faults"][0]["field"] == "inspection.plan"
    assert refused.json()["faults"][0]["accepted"].startswith("a joint whose plan is recorded")


def test_belt_at_rest_square_and_tension_are_asked_as_on_the_command_line(
    admin: TestClient,
) -> None:
    conveyor = (SITE / "conveyors" / "incline.toml").read_text("utf-8")
    rest = admin.post(f"{API}/at-rest", json={"conveyor": conveyor})
    assert rest.status_code == 200, rest.text
    assert rest.json()["invented"] and rest.json()["answer"]["ratings"]
    keys = {e.get("key") or e["figure"]["key"] for e in rest.json()["worksheet"]}
    assert any(key.startswith("at_rest.") for key in keys)
    sag = {"conveyor": conveyor, "sag": "14 mm", "span": "3 m"}
    pulls = admin.post(f"{API}/at-rest", json=sag).json()["answer"]["take_up"]
    assert 0 <= pulls["least"] < pulls["largest"]
    alone = admin.post(f"{API}/at-rest", json={"conveyor": conveyor, "sag": "14 mm"})
    assert alone.status_code == 422 and alone.json()["faults"][0]["field"] == "span"
    told = admin.post(f"{API}/tension", json={"conveyor": conveyor, "rating": "90 N/mm"})
    assert told.status_code == 200, told.text
    assert told.json()["answer"]["study"]["conveyor"]["name"] == "K2 incline"
    stations = [["1 m", "10 mm"], ["3 m", "30 mm"], ["6 m", "60 mm"]]
    squared = admin.post(f"{API}/square", json={"width": "1000 mm", "stations": stations})
    assert squared.status_code == 200, squared.text
    # All three lie on a line of 10 mm a metre, worked by hand.
    assert squared.json()["answer"]["figures"]["squaring.slope"] == pytest.approx(0.01)
    two = admin.post(f"{API}/square", json={"width": "1000 mm", "stations": stations[:2]})
    assert two.status_code == 422 and two.json()["faults"][0]["field"] == "stations"
    named = '[squaring]\nname = "x"\nwidth = "1 m"\nplan = "../../etc/plan.json"\n' + "".join(
        f'[[stations]]\nat = "{at}"\nmidpoint = "{off}"\n' for at, off in stations
    )
    refused = admin.post(f"{API}/square", json={"measured": named})
    assert refused.status_code == 422 and refused.json()["faults"][0]["field"] == "squaring.plan"


def test_wear_and_life_of_posted_tables(admin: TestClient) -> None:
    readings = (SITE / "history" / "incline-wear.csv").read_text("utf-8")
    worn = admin.post(f"{API}/wear", json={"readings": readings, "today": "2026-11-01"})
    assert worn.status_code == 200, worn.text
    assert worn.json()["invented"]
    assert sum(p["chance_first"] for p in worn.json()["places"]) == pytest.approx(1.0, abs=0.01)
    lives = (SITE / "history" / "joint-lives.csv").read_text("utf-8")
    lasting = admin.post(f"{API}/life", json={"lives": lives, "next": "2000 h"})
    assert lasting.status_code == 200, lasting.text
    assert lasting.json()["failures"] > 0 and lasting.json()["words"]
    for answer in (worn, lasting):  # what explains them comes with them
        assert all(line["figure"]["key"] for line in answer.json()["worksheet"] if "text" in line)
        assert len(answer.json()["worksheet"]) > 20
    wrong = admin.post(f"{API}/wear", json={"readings": "when,what\n1,2\n"})
    assert wrong.status_code == 422
    assert wrong.json()["faults"][0]["file"] == "readings.csv"


@pytest.mark.parametrize("question", ["wear", "life", "when", "stock", "shutdown", "fleet"])
def test_a_question_reads_the_register_only_for_a_key_that_may(
    office: Office, people: dict[str, Account], question: str
) -> None:
    """A key of scope plan judges what it sends; the register is read with scope read beside it."""
    more = {"when": {"planned": 1, "failure": "5"}, "shutdown": {"window": "8 h", "crew": 4}}
    body = more.get(question, {})
    with calling(office.app, office.key(people["lead"], Scope.PLAN)) as client:
        refused = client.post(f"{API}/{question}", json=body)
    assert refused.status_code == 403
    assert 'needs the scope "read"' in refused.json()["detail"]
    with calling(office.app, office.key(people["lead"], Scope.PLAN, Scope.READ)) as client:
        assert client.post(f"{API}/{question}", json=body).status_code in {200, 422}


def test_questions_are_answered_as_the_commands_do(admin: TestClient) -> None:
    def text(name: str) -> str:
        return (SITE / "history" / name).read_text("utf-8")

    asked: dict[str, dict[str, object]] = {
        "when": {"planned": "6 000", "failure": 40000, "look": 250, "every": "4000 h",
                 "delay": "600 h", "lives": text("joint-lives.csv")},
        "stock": {"items": text("stock-items.csv"), "lives": text("joint-lives.csv"),
                  "use_a_day": "16 h"},
        "shutdown": {"tasks": text("incline-shutdown.toml")},
        "choose": {"joints": text("incline-renewals.csv"), "window": "12 h", "crew": 6},
        "decide": {"options": text("flat-torn-place.toml")},
        "fleet": {"stop_cost": 1500},
    }  # fmt: skip
    for question, body in asked.items():
        told = admin.post(f"{API}/{question}", json=body)
        assert told.status_code == 200, (question, told.text)
        assert told.json()["words"] and told.json()["answer"], question
    lines = admin.post(f"{API}/when", json=asked["when"]).json()["worksheet"]
    assert "interval.best" in {e["figure"]["key"] for e in lines if "figure" in e}
    wrong = admin.post(f"{API}/when", json={"planned": "much"})
    faults = {f["field"]: f["accepted"] for f in wrong.json()["faults"]}
    assert faults == {"planned": "a number of zero or more, such as 40000", "failure": ""}


def test_joints_page_by_page(admin: TestClient) -> None:
    flat = conveyor_called(admin, "K1")
    planned = [
        fact("joint planned", {"joint": str(uuid4()), "conveyor": flat["conveyor"],
                               "label": f"J{n // 2}"})
        for n in range(9)
    ]  # fmt: skip
    said = admin.post(f"{API}/facts", json={"facts": planned}).json()["outcomes"]
    assert {o["verdict"] for o in said} == {"recorded"}
    found, after = [], ""
    for _ in range(10):
        page = admin.get(f"{API}/joints", params={"limit": 2, "after": after}).json()
        found += [j["joint"] for j in page["joints"]]
        after = page["next"]
        if after is None:
            break
    assert sorted(found) == sorted(p["what"]["joint"] for p in planned)
    assert admin.get(f"{API}/joints/{found[0]}").json()["state"] == "planned"
    some = admin.get(f"{API}/joints", params={"state": ["running", "built"]}).json()
    assert some == {"joints": [], "next": None}
    for odd in ("x", "WyJ4Il0=", "bm8="):
        refused = admin.get(f"{API}/joints", params={"after": odd})
        assert refused.status_code == 422
        assert refused.json()["faults"][0]["accepted"] == "`next` of the page before"


def test_the_rest_of_the_register(admin: TestClient, clock: Clock) -> None:
    flat = conveyor_called(admin, "K1")
    belt, joint, job = (str(uuid4()) for _ in range(3))
    at = clock.now.isoformat()
    facts = [
        fact("belt placed", {"belt": belt, "conveyor": flat["conveyor"], "name": "belt",
                             "length": 120.0}),
        fact("belt piece placed", {"belt": belt, "piece": str(uuid4()), "name": "first",
                                   "start": 0.0, "length": 120.0}),
        fact("damage found", {"belt": belt, "damage": str(uuid4()), "place": 5.0, "length": 0.3,
                              "grade": "watch"}),
        fact("joint planned", {"joint": joint, "conveyor": flat["conveyor"], "label": "J1",
                               "belt": belt, "place": 10.0, "inspect_after": 86400.0}),
        fact("joint put to work", {"joint": joint}),
        fact("job opened", {"job": job, "conveyor": flat["conveyor"], "name": "renew J1"}),
        fact("reading taken", {"of": "joint", "about": joint, "what": "pin", "measure": "length",
                               "value": 0.012, "typed": "12 mm"}, at=at),
    ]  # fmt: skip
    said = admin.post(f"{API}/facts", json={"facts": facts}).json()["outcomes"]
    assert {o["verdict"] for o in said} == {"recorded"}, said
    assert admin.get(f"{API}/conveyors/{flat['conveyor']}/belts").json()[0]["length"] == 120.0
    assert admin.get(f"{API}/belts/{belt}/pieces").json()[0]["name"] == "first"
    assert admin.get(f"{API}/belts/{belt}/damage").json()[0]["grade"] == "watch"
    assert admin.get(f"{API}/jobs").json()[0]["name"] == "renew J1"
    assert admin.get(f"{API}/jobs/{job}").json()["closed"] is None
    reading = admin.get(f"{API}/readings", params={"about": joint}).json()[0]
    assert (reading["value"], reading["typed"], reading["by"]) == (0.012, "12 mm", "Admin Example")
    assert admin.get(f"{API}/due").json() == []
    soon = admin.get(f"{API}/due", params={"days": 2}).json()
    assert [(d["label"], d["task"]) for d in soon] == [("J1", "inspect")]
    late = (clock.now + timedelta(days=2)).isoformat()
    assert admin.get(f"{API}/due", params={"before": late}).json() == soon
    assert admin.get(f"{API}/people").status_code == 200
    for path in (f"joints/{uuid4()}", f"sites/{uuid4()}", f"jobs/{uuid4()}", "nothing"):
        refused = admin.get(f"{API}/{path}")
        assert refused.status_code == 404
        assert fits_problem(refused.json())


def test_every_answer_fits_its_description(admin: TestClient) -> None:
    described = admin.get(f"{API}/openapi.json").json()
    for path in ("sites", "conveyors", "joints", "jobs", "people", "due", "facts", "background"):
        answer = admin.get(f"{API}/{path}").json()
        told = described["paths"][f"/{path}"]["get"]["responses"]["200"]["content"]
        schema = told["application/json"]["schema"] | {"components": described["components"]}
        jsonschema.validate(answer, schema)


def test_a_body_that_is_too_large(admin: TestClient) -> None:
    refused = admin.post(f"{API}/facts", content=b" " * 2_000_001)
    assert refused.status_code == 413
    assert fits_problem(refused.json())

    def pieces() -> Iterator[bytes]:
        for _ in range(30):
            yield b" " * 100_000

    refused = admin.post(f"{API}/facts", content=pieces())
    assert refused.status_code == 413


def test_the_table_of_joints_goes_on_where_it_ended(admin: TestClient) -> None:
    conveyor = admin.get(f"{API}/conveyors").json()[0]["conveyor"]
    planned = [{"joint": str(uuid4()), "conveyor": conveyor, "label": f"T{n}"} for n in range(5)]
    sent = {"facts": [fact("joint planned", what) for what in planned]}
    assert admin.post(f"{API}/facts", json=sent).status_code == 200
    whole = admin.get(f"{API}/tables/joints")
    assert whole.headers["content-type"] == "text/csv; charset=utf-8"
    assert whole.headers["x-next"] == whole.headers["x-head"]
    rows = whole.text.splitlines()
    assert len(rows) > 5
    assert rows[0].startswith("fact,changed,joint,label,")
    parts, since = [rows[0]], 0
    while since < int(whole.headers["x-head"]):
        query = {"since": str(since), "limit": "2"}
        part = admin.get(f"{API}/tables/joints", params=query)
        parts += part.text.splitlines()[1:]
        since = int(part.headers["x-next"])
    assert parts == rows
    packed = admin.get(f"{API}/tables/joints", params={"format": "parquet"})
    assert packed.content[:4] == packed.content[-4:] == b"PAR1"  # as the format's own text says
