"""Fleet, forecasts, the first decision and the shutdown, as served and in a browser."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from uuid import UUID, uuid4

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect
from python_calamine import CalamineWorkbook

from planned import SITE
from splicewright.actions.shutdown.question import CHOOSE
from splicewright.quantities import Kind, Record, assumed
from splicewright.store import Correction, Fact, State, Stream
from splicewright.store.facts.facts import to_data
from splicewright.store.facts.joint_facts import JointRemoved, Mode, ReadingTaken, WearLimitSet
from splicewright.store.sql.register import SqlRegister
from web.conftest import START, csrf_of, enter
from web.looking import axe, fits, picture, small_targets
from web.planned import plan_on_incline

Enter = Callable[[str], TestClient]
SHUTDOWN = SITE / "history" / "incline-shutdown.toml"
CHOICE = {
    "window": "16 h", "crew": "6", "gang": "3", "until": "2026-12-01", "each": "20 h",
    "opening": "4 h", "failure": "900000", "renewal": "6000", "power_share": "70 %",
}  # fmt: skip
PLACE = {
    "name": "incline, tear", "window": "12 h", "strength_needed": "45 %", "belt_spare": "2 ft 6 in",
    "belt_in_stock": "12 m", "stop_cost_per_hour": "1 500", "failure_cost": "40000",
    "until": "3000 h",
}  # fmt: skip
WAYS = {
    "repair": ("3 h", "400", "30 %", "2500 h", "1.2", "", "", ""),
    "remake": ("6 h", "1800", "55 %", "9000 h", "2.4", "0.6 m", "", ""),
    "insert": ("11 h", "5200", "55 %", "8000 h", "2.4", "6 m", "6 m", "1"),
    "replace": ("36 h", "90000", "55 %", "12000 h", "2.6", "", "", ""),
}
_FIELDS = ("time", "cost", "kept_strength", "scale", "shape", "belt_taken", "belt_let_in",
           "joints_more")  # fmt: skip


@pytest.fixture
def register(example_register: SqlRegister) -> SqlRegister:
    """The invented site with its past."""
    return example_register


def incline(register: SqlRegister) -> UUID:
    return next(c.conveyor for c in register.conveyors() if c.name == "K2 incline")


def decided(csrf: str, **changed: str) -> dict[str, str]:
    typed = PLACE | {"csrf": csrf, "act": "show"}
    for way, values in WAYS.items():
        typed |= {f"{way}.on": "yes"}
        typed |= {f"{way}.{n}": v for n, v in zip(_FIELDS, values, strict=True)}
    return typed | changed


def test_the_fleet_tells_what_is_due_and_why(signed_in: Enter, register: SqlRegister) -> None:
    client = signed_in("viewer")
    page = client.get("/fleet")
    assert page.status_code == 200
    assert "must not run" in page.text
    assert "next planned stop is not given: taken to be in 28 days" in page.text
    first = re.search(r'<ol class="lines">\s*<li>.*?state (\w*)">([\w ]+)<', page.text, re.S)
    assert first is not None
    assert first.groups() == ("bad", "now")
    table = client.get("/fleet.xlsx?until=2026-08-01")
    rows = CalamineWorkbook.from_filelike(io.BytesIO(table.content)).get_sheet_by_index(0)
    cells = rows.to_python()
    assert cells[0][0] == "urgency"
    assert cells[1][0] == "now"
    running = register.joints(states=(State.RUNNING, State.SUSPENDED))
    assert sum(str(row[1]).startswith("joint ") for row in cells) == len(running)
    assert client.get("/fleet.pdf").content.startswith(b"%PDF")
    assert b"<svg" in client.get("/fleet/fleet-years.svg").content
    assert client.get("/fleet/fleet-months.svg").status_code == 404


def test_what_cannot_be_asked_is_said(signed_in: Enter) -> None:
    client = signed_in("viewer")
    for query, said in (
        ("until=yesterday", "is no day; write it like 2026-05-04"),
        ("until=2020-01-01", "is not after today"),
        ("stop_cost=-4", "is no amount; accepted is a number of zero or more"),
        ("failure_cost=nan", "is no amount"),
    ):
        page = client.get(f"/fleet?{query}")
        assert page.status_code == 422
        assert said in page.text
        assert client.get(f"/fleet.xlsx?{query}").status_code == 422
    assert client.get("/fleet.exe").status_code == 404


def test_a_fact_more_changes_the_fleet_at_once(signed_in: Enter, register: SqlRegister) -> None:
    client = signed_in("viewer")
    before = client.get("/fleet").text
    joint = next(j for j in register.joints(states=(State.RUNNING,)) if j.label == "K2-3")
    assert "joint K2-3<" in before
    gone = JointRemoved(joint.joint, Mode.PULL_OUT)
    register.append(Fact(uuid4(), START, "Ada Example", gone))
    after = client.get("/fleet").text
    assert "joint K2-3<" not in after
    assert "pull-out" in after


def test_a_new_reading_moves_the_forecast_of_wear(signed_in: Enter, register: SqlRegister) -> None:
    client = signed_in("crew")
    conveyor = incline(register)
    where = f"/conveyors/{conveyor}/forecast"
    before = client.get(where).text
    told = re.search(r"Carry cover middle</h3>\s*<p><b>([^<]+)</b>", before)
    assert told is not None
    assert "worn out at" in told[1].lower()
    sent = {"csrf": csrf_of(client), "what": "carry cover middle", "value": "1/8 in"}
    done = client.post(f"/conveyors/{conveyor}/readings", data=sent)
    assert done.status_code == 303
    after = client.get(done.headers["location"]).text
    assert "forecast below includes it" in after
    again = re.search(r"Carry cover middle</h3>\s*<p><b>([^<]+)</b>", after)
    assert again is not None
    assert again[1] != told[1]
    last = register.facts_about(conveyor)[-1].what
    assert isinstance(last, ReadingTaken)
    assert (last.measure, last.typed) == (Kind.LENGTH, "1/8 in")
    assert last.value == pytest.approx(3.175e-3)
    for end in ("wear-1.svg", "wear.pdf", "life.pdf", "life.svg"):
        assert client.get(f"{where}/{end}").status_code == 200, end
    assert client.get(f"{where}/wear-99.svg").status_code == 404


def test_bad_readings_are_refused_and_nothing_is_kept(
    signed_in: Enter, register: SqlRegister
) -> None:
    client, conveyor = signed_in("crew"), incline(register)
    head = register.head()
    for typed, said in (
        ({"what": "cover", "value": "three"}, "is no reading; accepted is such as 5.6 mm"),
        ({"what": "cover", "value": "-3 mm"}, "is below zero"),
        ({"what": " ", "value": "3 mm"}, "is empty; name the place"),
        ({"what": "cover", "value": "3 mm", "joint": str(uuid4())}, "is no joint in this belt"),
    ):
        sent = {"csrf": csrf_of(client)} | typed
        page = client.post(f"/conveyors/{conveyor}/readings", data=sent)
        assert page.status_code == 422
        assert said in page.text
    assert register.head() == head
    viewer = signed_in("viewer")
    sent = {"csrf": csrf_of(viewer), "what": "cover", "value": "3 mm"}
    assert viewer.post(f"/conveyors/{conveyor}/readings", data=sent).status_code == 403
    assert "Record a reading" not in viewer.get(f"/conveyors/{conveyor}/forecast").text
    assert viewer.get(f"/conveyors/{uuid4()}/forecast").status_code == 404


def test_a_lead_sets_the_limits_of_wear(signed_in: Enter, register: SqlRegister) -> None:
    lead, crew, conveyor = signed_in("lead"), signed_in("crew"), incline(register)
    joint = next(j for j in register.joints(conveyor, (State.RUNNING,)) if j.label == "K2-2")
    where = f"/conveyors/{conveyor}/limits"
    assert "site rule (invented)" in crew.get(where).text  # the belt's, told to everybody
    assert "Set a limit" not in crew.get(where).text
    typed = {"at": str(joint.joint), "place": "hinge pin", "limit": "3/32 in", "new": "0 mm",
             "source": "maker's instruction, page 12"}  # fmt: skip
    assert crew.post(where, data=typed | {"csrf": csrf_of(crew)}).status_code == 403
    refused = lead.post(where, data=typed | {"limit": "3", "csrf": csrf_of(lead)})
    assert refused.status_code == 422
    assert "has no unit" in refused.text and 'value="hinge pin"' in refused.text
    assert lead.post(where, data=typed | {"csrf": csrf_of(lead)}).status_code == 303
    page = crew.get(f"/joints/{joint.joint}").text
    assert "<b>hinge pin</b> worn out at 3/32 in (2.4 mm), 0 mm when new" in page
    assert "maker&#39;s instruction, page 12; set by Lead Example" in page
    said = {"what": "hinge pin", "value": "0.4 mm", "joint": str(joint.joint)}
    said["csrf"] = csrf_of(crew)
    assert crew.post(f"/conveyors/{conveyor}/readings", data=said).status_code == 303
    told = crew.get(f"/joints/{joint.joint}/forecast").text
    assert "Worn out at 2.4 mm, maker&#39;s instruction, page 12." in told
    fact = register.facts_about(joint.joint)[-2].fact
    assert isinstance(fact.what, WearLimitSet)
    # A crew's phone cannot take it back by a correction either.
    undo = Fact(uuid4(), START, "-", Correction(Stream.JOINT, joint.joint, fact.id, None, "no"))
    for sender, verdict in ((crew, 422), (lead, 200)):
        account = sender.get("/me").text.partition('name="account" content="')[2][:36]
        sent = {"account": account, "facts": [to_data(undo)]}
        got = sender.post("/sync", json=sent, headers={"origin": "http://testserver"}).json()
        assert got["outcomes"][0]["status"] == verdict, got
    assert "None is set for this joint." in crew.get(f"/joints/{joint.joint}").text
    assert "withdrew an earlier entry: no" in crew.get(f"/joints/{joint.joint}").text
    # The page takes one back with a reason.
    back = re.findall(rf'action="({where}/[\w-]+/withdraw)"', lead.get(where).text)
    assert lead.post(back[0], data={"csrf": csrf_of(lead)}).status_code == 422
    done = lead.post(back[0], data={"csrf": csrf_of(lead), "why": "of another belt"})
    assert done.status_code == 303
    left = re.findall(rf'action="({where}/[\w-]+/withdraw)"', lead.get(where).text)
    assert len(left) == len(back) - 1
    assert lead.post(back[0], data={"csrf": csrf_of(lead), "why": "again"}).status_code == 404
    assert register.verify().faults == ()


def test_meter_readings_are_the_meters(signed_in: Enter, register: SqlRegister) -> None:
    client, conveyor = signed_in("crew"), incline(register)
    sent = {"csrf": csrf_of(client), "value": "18000 h"}
    assert client.post(f"/conveyors/{conveyor}/readings", data=sent).status_code == 303
    last = register.facts_about(conveyor)[-1].what
    assert isinstance(last, ReadingTaken)
    assert (last.measure, last.what, last.value) == (Kind.RUN_TIME, "meter", 18000 * 3600.0)


def test_one_joint_tells_what_is_left_of_it(signed_in: Enter, register: SqlRegister) -> None:
    client = signed_in("viewer")
    joint = next(j for j in register.joints(states=(State.RUNNING,)) if j.label == "K2-2")
    page = client.get(f"/joints/{joint.joint}/forecast").text
    assert "<dt>Chance of failure</dt>" in page
    assert "renew due" in page
    assert f'href="/joints/{joint.joint}/forecast"' in client.get(f"/joints/{joint.joint}").text


def test_the_first_decision_typed_on_the_page(signed_in: Enter, register: SqlRegister) -> None:
    client = signed_in("viewer")
    page = client.post("/decide", data=decided(csrf_of(client)))
    assert page.status_code == 200
    # the same place as examples/karst-hollow/history/flat-torn-place.toml
    assert "Re-make the joint first." in page.text
    assert "The first option stays first if a failure costs half or double." in page.text
    assert "Takes 36 h, the window is 12 h" in page.text
    sheet = client.post("/decide", data=decided(csrf_of(client), act="pdf"))
    assert sheet.content.startswith(b"%PDF")
    for changed, said in (
        ({"window": ""}, "Time available</a>: is missing"),
        ({"remake.time": "six"}, "Re-make the joint: Stop it takes"),
        ({"failure_cost": "much"}, "is no amount"),
        ({"remake.scale": "300 kt"}, "counts mass carried"),
        ({"name": '"]\n[x'}, "Re-make the joint"),
    ):
        told = client.post("/decide", data=decided(csrf_of(client), **changed))
        assert said in told.text, changed
    learnt = client.get(f"/conveyors/{incline(register)}/decide")
    assert "K2 incline" in learnt.text


def test_joints_for_a_shutdown_and_tasks_in_a_file(signed_in: Enter, register: SqlRegister) -> None:
    client = signed_in("viewer")
    page = client.get("/shutdown", params=CHOICE)
    assert page.status_code == 200
    assert "crew hours" in page.text
    assert "data:image/svg+xml" in page.text
    assert "if a failure costs half" in page.text.lower()
    assert client.get("/shutdown.pdf", params=CHOICE).content.startswith(b"%PDF")
    short = client.get("/shutdown", params={"window": "16 h", "crew": "many"})
    assert short.status_code == 422
    assert "is no number of people" in short.text
    sent = {"csrf": csrf_of(client)}
    fits_ = client.post("/shutdown", data=sent, files={"file": ("x.toml", SHUTDOWN.read_bytes())})
    assert fits_.status_code == 200
    assert "Done within 12 h with a chance of" in fits_.text
    assert "times from past jobs on file" in fits_.text.lower()
    wrong = client.post("/shutdown", data=sent, files={"file": ("x.toml", b"[shutdown]\n")})
    assert wrong.status_code == 422
    assert "is missing" in wrong.text


def test_planned_jobs_side_by_side(signed_in: Enter, register: SqlRegister) -> None:
    client = signed_in("viewer")
    there = client.get("/shutdown").text.count('name="job"')
    first, second = (plan_on_incline(register, label).job for label in ("N1", "N2"))
    asked: dict[str, str | list[str]] = {
        "job": [str(first), str(second)], "window": "20 h", "crew": "6", "clamps": "1",
    }  # fmt: skip
    page = client.get("/shutdown/jobs", params=asked)
    assert page.status_code == 200
    assert "Done within 20 h with a chance of" in page.text
    assert "N2: Acceptance check" in page.text
    assert "1 of 2 clamp sets that the jobs need" in page.text
    assert "With one more set of clamps: " in page.text
    assert page.text.count('name="job"') == there + 2
    assert page.text.count(" checked>") == 2
    assert client.get("/shutdown/jobs.pdf", params=asked).content.startswith(b"%PDF")
    few = client.get("/shutdown/jobs", params=asked | {"crew": "1"})
    assert few.status_code == 422
    assert "N1 is planned for 3, but 1 are there" in few.text
    refused: list[dict[str, str | list[str]]] = [
        {"job": "x"}, {"job": str(uuid4())}, {"job": []}, {"window": ""},
    ]  # fmt: skip
    for wrong in refused:
        assert client.get("/shutdown/jobs", params=asked | wrong).status_code == 422
    assert client.get("/shutdown/jobs.pdf", params=asked | {"job": "x"}).status_code == 422


def _looked_at(page: Page, name: str) -> None:
    axe(page)
    fits(page)
    assert small_targets(page) == []
    picture(page, name)


def _every(register: SqlRegister) -> dict[str, str]:
    conveyor = incline(register)
    joint = next(j for j in register.joints(states=(State.RUNNING,)) if j.label == "K2-2")
    query = "&".join(f"{k}={v.replace(' ', '+')}" for k, v in CHOICE.items())
    planned = [plan_on_incline(register, label).job for label in ("N1", "N2")]
    jobs = "&".join([*(f"job={job}" for job in planned), "window=20+h&crew=6&clamps=1"])
    return {
        "fleet": "/fleet?stop_cost=1500&failure_cost=8000",
        "forecast": f"/conveyors/{conveyor}/forecast",
        "joint-forecast": f"/joints/{joint.joint}/forecast",
        "decide": f"/conveyors/{conveyor}/decide",
        "shutdown": f"/shutdown?{query}",
        "shutdown-jobs": f"/shutdown/jobs?{jobs}",
    }


def test_every_page_on_a_phone(phone: Page, register: SqlRegister) -> None:
    enter(phone, "crew")
    for name, path in _every(register).items():
        phone.goto(path)
        _looked_at(phone, f"{name}-phone")
        phone.set_viewport_size({"width": 360, "height": 740})
        fits(phone)
        phone.set_viewport_size({"width": 390, "height": 844})


def test_every_page_on_a_desk(desk: Page, register: SqlRegister) -> None:
    enter(desk, "lead")
    for name, path in _every(register).items():
        desk.goto(path)
        _looked_at(desk, f"{name}-desk")


def test_a_crew_reads_types_and_decides_on_a_phone(
    phone: Page, register: SqlRegister, tmp_path: Path
) -> None:
    enter(phone, "crew")
    phone.goto(f"/conveyors/{incline(register)}/forecast")
    phone.get_by_label("What was read").fill("4.1 mm")
    phone.get_by_label("Where").fill("carry cover left")
    phone.get_by_role("button", name="Record it").click()
    expect(phone.get_by_role("status")).to_contain_text("forecast below includes it")
    phone.goto("/decide")
    for name, value in decided("").items():
        if name not in {"csrf", "act"} and not name.endswith(".on"):
            phone.locator(f'[name="{name}"]').fill(value)
    phone.get_by_role("button", name="Compare").click()
    expect(phone.locator("#answer")).to_contain_text("Re-make the joint first.")
    _looked_at(phone, "decide-answer-phone")
    phone.goto("/shutdown")
    phone.get_by_label("Shutdown file (TOML)").set_input_files(SHUTDOWN)
    phone.get_by_role("button", name="Try it").click()
    expect(phone.locator("#answer")).to_contain_text("Done within 12 h")
    _looked_at(phone, "shutdown-answer-phone")


def test_numbers_of_a_page_are_explained_as_soon_as_an_answer_keeps_its_worksheet(
    signed_in: Enter, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No page knows of a subject's worksheet: what the answer keeps is shown."""
    client = signed_in("viewer")
    whole = client.get("/shutdown", params=CHOICE).text
    assert re.search(r"How each of \d+ numbers came about", whole)
    assert 'id="why/choice.saving"' in whole and 'id="why/finish.chance"' in whole
    kept = assumed("cost.failure", "cost of a failure", 900000.0, Kind.RATIO, "as stated", (1, 1e6))
    explained = replace(CHOOSE, record=lambda study: Record((kept,)))
    monkeypatch.setattr("splicewright.web.shutdown.CHOOSE", explained)
    told = client.get("/shutdown", params=CHOICE).text
    assert "How each number came about" in told
    assert 'id="why/cost.failure"' in told and "as stated" in told
