"""From the form to the crew pack: answers, their effect, faults at fields, the recorded plan."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from html import escape
from pathlib import Path
from uuid import UUID, uuid4

import pdfplumber
import pytest
from fastapi.testclient import TestClient
from httpx2 import Response
from playwright.sync_api import Page, expect

from splicewright.actions.job.read import read_job
from splicewright.errors import InputError
from splicewright.job import JointPlan, loads_of
from splicewright.plant import JobKind
from splicewright.store import Fact, State
from splicewright.store.facts.job_facts import StepTicked
from splicewright.store.present.present import ConveyorNow
from splicewright.store.sql.register import SqlRegister
from splicewright.web.plan import loads
from web.conftest import enter
from web.looking import axe, fits, picture, small_targets
from web.planned import keep_ranges, plan_on_incline

Enter = Callable[[str], TestClient]


@pytest.fixture
def incline(register: SqlRegister) -> ConveyorNow:
    """The inclined conveyor; its site keeps the invented ranges."""
    found = next(c for c in register.conveyors() if "incline" in c.name)
    keep_ranges(register, found.site)
    return found


def _fields(page: str) -> dict[str, str | list[str]]:
    """The form as a browser would send it untouched: ticked ranges, first answers."""
    return {
        "csrf": page.partition('name="csrf" value="')[2].partition('"')[0],
        "ranges": re.findall(r'name="ranges" value="(\w+)" checked', page),
        "job": "worn joint made anew",
        "label": "J1",
        "people": "2",
    }


def _drawn(client: TestClient, where: str) -> Response:
    """A file of the pack, once it is drawn; the page tells of the drawing until then."""
    for _ in range(60):
        got = client.get(where)
        if "Drawing crew pack and dossier" not in got.text[:20_000]:
            return got
        assert got.headers["refresh"] == "2"
    raise AssertionError(where)


def test_from_the_form_to_the_crew_pack(
    signed_in: Enter, incline: ConveyorNow, register: SqlRegister
) -> None:
    client = signed_in("crew")
    where = f"/conveyors/{incline.conveyor}/plan"
    first = client.get(where)
    assert first.status_code == 200
    answers = _fields(first.text) | {
        "thickness": ["", "7/16 in", "11.2 mm", "", "11 mm"],
        "window": "8 h",
        "run": "long return",
        "distance": "60 ft",
    }
    done = client.post(where, data=answers)
    assert done.status_code == 303, done.text
    (joint,) = register.joints(incline.conveyor)
    assert (joint.label, joint.state) == ("J1", State.PLANNED)
    (job,) = register.jobs(incline.conveyor)
    assert job.joint == joint.joint
    page = client.get(done.headers["location"])
    assert "pitch 43, 11-16 mm" in page.text
    # The thickest place as typed: 11.2 mm; the thinnest 11 mm. Both are explained as measured.
    why = client.get(f"/joints/{joint.joint}/plan/why/belt.thickest")
    assert "11.2 mm" in why.text
    assert "measured" in why.text
    pack = _drawn(client, f"/joints/{joint.joint}/plan/files/crew-pack.pdf")
    assert pack.headers["content-type"] == "application/pdf"
    with pdfplumber.open(io.BytesIO(pack.content)) as pdf:
        text = pdf.pages[0].extract_text() or ""
        assert "JOINT PLAN" in text
        assert "K2 incline, joint J1" in text
    listed = client.get(f"/joints/{joint.joint}/plan/files")
    for name in ("template-leading.dxf", "joint.svg", "dossier.pdf", "plan.json"):
        assert name in listed.text
        got = client.get(f"/joints/{joint.joint}/plan/files/{name}")
        assert got.status_code == 200
        assert got.content
    assert client.get(f"/joints/{joint.joint}/plan/files/passwd").status_code == 404


def test_every_number_shown_is_explained(
    signed_in: Enter, incline: ConveyorNow, register: SqlRegister
) -> None:
    client = signed_in("lead")
    where = f"/conveyors/{incline.conveyor}/plan"
    page = client.get(client.post(where, data=_fields(client.get(where).text)).headers["location"])
    links = set(re.findall(r'href="(/joints/[^"]+/plan/why/[^"]+)"', page.text))
    assert len(links) > 10
    for link in links:
        told = client.get(link)
        assert told.status_code == 200, link
        assert "Source" in told.text or "assumed" in told.text or "from the file" in told.text
    unknown = re.sub("[^/]+$", "no.such.number", links.pop())
    assert client.get(unknown).status_code == 404


def test_all_faults_stand_at_their_fields(signed_in: Enter, incline: ConveyorNow) -> None:
    client = signed_in("crew")
    where = f"/conveyors/{incline.conveyor}/plan"
    wrong = _fields(client.get(where).text) | {
        "label": "",
        "thickness": ["", "7/16 in", "12"],
        "width": "40 furlongs",
        "people": "<b>two</b>",
        "window": "until lunch",
        "distance": "99 km",
        "kind": "glue",
        "place": "12 m",
    }
    refused = client.post(where, data=wrong)
    assert refused.status_code == 422
    shown = dict(re.findall(r'<p class="fault" id="fault-([\w-]+)">([^<]*)', refused.text))
    told = {field: text for field, text in shown.items() if text}
    assert set(told) >= {"label", "thickness-3", "width", "people", "window", "distance", "kind"}
    assert "has no unit" in told["thickness-3"]
    assert "accepted is 1 to 40" in told["people"]
    assert "<b>two</b>" not in refused.text
    # What was typed is still there.
    assert 'value="7/16 in"' in refused.text
    assert 'value="until lunch"' in refused.text


@pytest.mark.parametrize(
    ("answers", "title"),
    [
        ({"job": "emergency repair", "damage": "pin"}, "emergency repair"),
        (
            {"job": "repair along the belt", "damage": "rip", "damage_length": "1.2 m",
             "damage_width": "0 mm"},
            "",
        ),
        (
            {"job": "inspection round", "round_name": ["J1", "J2"],
             "round_behind": ["0 m", "40 m"]},
            "inspection round",
        ),
        (
            {"job": "inspection round", "round_name": ["J1", "J2"], "round_way": "foot",
             "round_behind": ["0 m", "40 m"]},
            "over 40 m, on foot",
        ),
        ({"job": "tracking trouble"}, "tracking trouble"),
    ],
)  # fmt: skip
def test_every_kind_of_job_is_asked_and_gives_its_pack(
    signed_in: Enter, incline: ConveyorNow, register: SqlRegister,
    answers: dict[str, str | list[str]], title: str,
) -> None:  # fmt: skip
    """A kind that joins nothing is recorded as a job without a joint, with its plan's steps."""
    client = signed_in("crew")
    where = f"/conveyors/{incline.conveyor}/plan"
    page = client.get(where).text
    for kind in JobKind:
        assert f'name="job" value="{kind.value}"' in page
    fields = _fields(page) | answers
    got = client.post(f"{where}/crew-pack", data=fields)
    if not title:
        assert got.status_code == 422 and "damage_width" in got.text
        return
    assert got.headers["content-type"] == "application/pdf"
    with pdfplumber.open(io.BytesIO(got.content)) as pdf:
        assert title in (pdf.pages[0].extract_text() or "")
    there = len(register.jobs())
    again = [client.post(where, data=fields | {"sent": str(sent)}) for sent in (SENT, SENT)]
    assert [r.status_code for r in again] == [303, 303]
    assert again[0].headers["location"] == again[1].headers["location"]  # sent twice, once recorded
    assert len(register.jobs()) == there + 1
    assert not register.joints(incline.conveyor)
    job = again[0].headers["location"]
    page = client.get(job).text
    view = read_job(register, UUID(job.rpartition("/")[2]))
    assert view is not None and view.plan is not None and view.joint is None
    for step in view.plan.steps:
        assert f'data-step="{step.key}"' in page
    assert client.get(f"{job}/crew-pack.pdf").content.startswith(b"%PDF")
    assert client.get(f"{job}/report.pdf").content.startswith(b"%PDF")
    # What is said of it is held against its own plan, as with a joint.
    first = next(s for s in view.plan.steps if s.hold_point is not None)
    assert "hold point of" in " ".join(view.keeps_open())
    register.append(_said(StepTicked(view.job.job, first.key)))
    with pytest.raises(InputError, match="is no step of the plan"):
        register.append(_said(StepTicked(view.job.job, "dance")))


SENT = UUID("5bb2a3f4-0000-4000-8000-000000000001")


def _said(what: StepTicked) -> Fact:
    return Fact(uuid4(), datetime(2026, 11, 20, 8, tzinfo=UTC), "Ada Example", what)


def test_what_the_kind_asks_for(signed_in: Enter, incline: ConveyorNow) -> None:
    client = signed_in("crew")
    where = f"/conveyors/{incline.conveyor}/plan/answer"
    fields = _fields(client.get(f"/conveyors/{incline.conveyor}/plan").text)
    short = client.post(where, data=fields | {"job": "belt shortened"})
    assert "more must come out than goes in" in short.text
    # A piece that was typed before another reason was chosen counts no more.
    short = client.post(
        where, data=fields | {"job": "belt shortened", "cut_out": "2 m", "insert": "9 m"}
    )
    assert "more must come out" not in short.text
    two = client.post(
        where, data=fields | {"job": "piece inserted", "cut_out": "2 m", "insert": "2 m"}
    )
    assert "2 joints to make" in two.text


def test_who_may_plan_and_where(signed_in: Enter, incline: ConveyorNow) -> None:
    viewer, crew = signed_in("viewer"), signed_in("crew")
    assert viewer.get(f"/conveyors/{incline.conveyor}/plan").status_code == 403
    assert crew.get(f"/conveyors/{uuid4()}/plan").status_code == 404
    assert crew.get(f"/joints/{uuid4()}/plan").status_code == 404
    assert crew.get("/joints/nothing/plan").status_code == 404
    assert crew.post(f"/conveyors/{incline.conveyor}/plan", data={"label": "J9"}).status_code == 403


def test_the_same_name_twice_is_refused(signed_in: Enter, incline: ConveyorNow) -> None:
    client = signed_in("crew")
    where = f"/conveyors/{incline.conveyor}/plan"
    fields = _fields(client.get(where).text)
    assert client.post(where, data=fields).status_code == 303
    again = client.post(where, data=fields)
    assert again.status_code == 422
    assert "is a joint of" in again.text


def test_a_plan_sent_twice_is_one_plan(
    signed_in: Enter, incline: ConveyorNow, register: SqlRegister
) -> None:
    """A double tap, both halves at once, then once more after the answer was lost."""
    client = signed_in("crew")
    where = f"/conveyors/{incline.conveyor}/plan"
    page = client.get(where).text
    fields = _fields(page) | {"sent": page.partition('name="sent" value="')[2].partition('"')[0]}
    with ThreadPoolExecutor(4) as hands:
        answers = list(hands.map(lambda _: client.post(where, data=fields), range(4)))
    answers.append(client.post(where, data=fields))
    assert {(a.status_code, a.headers["location"]) for a in answers} == {
        (303, answers[0].headers["location"])
    }
    (joint,) = register.joints(incline.conveyor)
    assert len(register.jobs(incline.conveyor)) == 1
    # The same form with other answers is another plan; under the same name it is refused.
    other = client.post(where, data=fields | {"people": "3"})
    assert other.status_code == 422
    assert "is a joint of" in other.text
    second = client.post(where, data=fields | {"label": "J2"})
    assert second.status_code == 303
    assert {j.label for j in register.joints(incline.conveyor)} == {"J1", "J2"}
    assert joint.joint in {j.joint for j in register.joints(incline.conveyor)}
    assert client.post(where, data=fields | {"sent": "x" * 9}).status_code == 422


def test_the_page_warns_of_a_plate_over_its_share(
    signed_in: Enter, incline: ConveyorNow, register: SqlRegister, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What page one of the crew pack warns of stands on the page of the plan too."""
    monkeypatch.setattr(loads, "_KEPT", loads._Kept())  # nobody asked before
    made = plan_on_incline(register)
    digest = register.joint(made.joint).plan  # type: ignore[union-attr]
    assert digest is not None
    plan = JointPlan.from_json(register.content(digest).data)
    over = loads_of(plan).overload
    assert over is not None
    client = signed_in("viewer")
    first = client.get(f"/joints/{made.joint}/plan")
    assert f"/joints/{made.joint}/plan/loads" in first.text  # asked for when the page stands
    asked = {"hx-request": "true"}
    part = client.get(f"/joints/{made.joint}/plan/loads", headers=asked)
    assert escape(over.say(), quote=False).replace("'", "&#39;") in part.text
    assert "<html" not in part.text
    for where in ("plan", "plan/loads"):  # at once, from now on; and without script
        page = client.get(f"/joints/{made.joint}/{where}").text
        assert "only with its allowance for uneven shares" in page
    assert client.get(f"/joints/{uuid4()}/plan/loads").status_code == 404


def test_plan_on_a_phone(phone: Page, incline: ConveyorNow) -> None:
    enter(phone, "crew")
    phone.goto(f"/conveyors/{incline.conveyor}/plan")
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    picture(phone, "plan-form-phone")
    answer = phone.locator("#answer")
    phone.get_by_label("Thickness, place 1 from the left").fill("25 mm")
    expect(answer).to_contain_text("No fastener fits")
    phone.get_by_label("Thickness, place 1 from the left").fill("25")
    expect(phone.locator("#fault-thickness-1")).to_contain_text("has no unit")
    expect(phone.get_by_label("Thickness, place 1 from the left")).to_have_value("25")
    phone.get_by_label("Thickness, place 1 from the left").fill("7/16 in")
    expect(phone.locator("#fault-thickness-1")).to_have_text("")
    expect(answer).to_contain_text("pitch 43")
    phone.get_by_label(JobKind.SHORTENED.value).check()
    expect(phone.get_by_label("Goes in")).to_be_hidden()
    expect(phone.locator("#fault-cut_out")).to_contain_text("more must come out")
    phone.get_by_label("Comes out").fill("4 ft 6 in")
    expect(answer).to_contain_text("1.37 m")
    axe(phone)
    phone.set_viewport_size({"width": 360, "height": 740})
    fits(phone)
    phone.get_by_role("button", name="Make the plan").click()
    phone.wait_for_url("**/joints/*/plan")
    expect(phone.locator("#files")).to_contain_text("Crew pack: everything")
    phone.wait_for_load_state("networkidle")
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    picture(phone, "plan-phone")
    phone.locator("dl.facts a").first.click()
    axe(phone)
    fits(phone)
    picture(phone, "plan-why-phone")


def test_plan_on_a_desk(desk: Page, incline: ConveyorNow, tmp_path: Path) -> None:
    enter(desk, "lead")
    desk.goto(f"/conveyors/{incline.conveyor}/plan")
    desk.get_by_label("Thickness, place 3 from the left").fill("11.2 mm")
    expect(desk.locator("#answer")).to_contain_text("11.2 mm")
    axe(desk)
    fits(desk)
    picture(desk, "plan-form-desk")
    desk.get_by_role("button", name="Make the plan").click()
    desk.wait_for_url("**/joints/*/plan")
    expect(desk.locator("#files")).to_contain_text("Crew pack: everything")
    axe(desk)
    fits(desk)
    picture(desk, "plan-desk")


def test_a_plan_without_script(desk: Page, incline: ConveyorNow, site: str) -> None:
    """The form shows the answer by its own button where no script runs."""
    enter(desk, "crew")
    context = desk.context.browser
    assert context is not None
    bare = context.new_context(java_script_enabled=False, base_url=site)
    bare.add_cookies(desk.context.cookies())  # type: ignore[arg-type]
    page = bare.new_page()
    page.goto(f"/conveyors/{incline.conveyor}/plan")
    page.get_by_label("Thickness, place 1 from the left").fill("25 mm")
    page.get_by_role("button", name="Show the results").click()
    expect(page.locator("#answer")).to_contain_text("No fastener fits")
    expect(page.get_by_label("Thickness, place 1 from the left")).to_have_value("25 mm")
    bare.close()
