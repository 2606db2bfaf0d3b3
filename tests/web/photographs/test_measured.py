"""From a photograph taken without signal to values in the job: proposed, looked at, signed.

The photographs are rendered by a model of its own (`photographs.rendering`); what was drawn is what
the boxes must come near.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from PIL import Image
from playwright.sync_api import Page, expect

from photographs.rendering import Scene, draw, photograph
from photographs.scenes import SMALL
from splicewright.actions.photographs.proposals import Proposal
from splicewright.actions.plan.record import RecordedPlan
from splicewright.store import Account, Scope
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.facts.job_facts import ValueRecorded
from splicewright.store.facts.photo_facts import TAKEN, PhotographMeasured
from splicewright.store.present.measurings import measurings
from splicewright.store.sql.register import SqlRegister
from web.calling import API, Office, calling
from web.conftest import Clock, csrf_of, enter, take_session
from web.looking import axe, fits, picture, small_targets
from web.working import on_the_phone, open_job, step, wait_sent

SCENE: Scene = replace(
    draw(5001, size=SMALL, width=0.998, shadows=()),
    notches=((0.015, 0.045), (0.015, 0.045)),
    nicks=((1, -0.7, 0.02, 0.06),),
)
FROM_OUR_PAGE = {"Sec-Fetch-Site": "same-origin", "Accept": "application/json"}


@cache
def belt_end() -> bytes:
    """A cut end as wide as the incline's belt, with four sheets behind it."""
    return photograph(SCENE)


def bar() -> str:
    """The long bar as it would be read on those sheets."""
    return f"{200 * SCENE.printed[0]:.1f} mm"


@pytest.fixture
def office(
    register: SqlRegister, accounts: SqlAccounts, clock: Clock, tmp_path: Path
) -> Iterator[Office]:
    made = Office(register, accounts, clock, tmp_path / "register.sqlite")
    yield made
    made.queue.close()


@pytest.fixture
def app(office: Office) -> FastAPI:
    """The app with a desk, in place of the one without."""
    return office.app


def plain() -> bytes:
    """A photograph with no sheet in it."""
    made = BytesIO()
    Image.new("L", (1600, 1200), 128).save(made, "JPEG")
    return made.getvalue()


class Crew:
    """Somebody whose phone sends photographs that are to be measured."""

    def __init__(self, client: TestClient, account: UUID, clock: Clock) -> None:
        self.client, self.account, self.clock = client, account, clock

    def send(self, job: UUID, data: bytes, **measure: Any) -> tuple[UUID, dict[str, Any]]:
        """Send a photograph to be measured: its measuring, and what became of the fact."""
        sent = self.client.post(
            "/photographs", content=data,
            headers=FROM_OUR_PAGE | {"Content-Type": "image/jpeg", "X-Account": str(self.account)},
        )  # fmt: skip
        measuring = uuid4()
        asked = {"measuring": str(measuring), "shows": "cut", "end": "leading", "bar": 0.2}
        what = {
            "of": "job", "about": str(job), "photo": sent.json()["digest"], "step": "cut",
            "measure": asked | measure,
        }  # fmt: skip
        fact = {
            "format": 1, "id": str(uuid4()), "at": self.clock().isoformat(), "by": "phone",
            "person": str(self.account), "device": "phone 1", "kind": "photograph added",
            "what": what,
        }  # fmt: skip
        body = {"account": str(self.account), "facts": [fact]}
        answer = self.client.post("/sync", json=body, headers=FROM_OUR_PAGE)
        assert answer.status_code == 200, answer.text
        outcome: dict[str, Any] = answer.json()["outcomes"][0]
        return measuring, outcome


@pytest.fixture
def crew(app: FastAPI, people: dict[str, Account], begun: Any, clock: Clock) -> Iterator[Crew]:
    with TestClient(app, follow_redirects=False) as client:
        take_session(client, "crew", {})
        yield Crew(client, people["crew"].account, clock)


def test_a_photograph_without_sheets_says_so_and_what_to_do(
    crew: Crew, office: Office, job: RecordedPlan
) -> None:
    measuring, outcome = crew.send(job.job, plain())
    assert outcome["status"] == 200, outcome
    address = f"/jobs/{job.job}/measured/{measuring}"
    assert "Waits for measuring" in crew.client.get(address).text
    refused = crew.client.post(address, data={"csrf": csrf_of(crew.client), "take": "width"})
    assert refused.status_code == 422 and "is not measured yet" in refused.text
    office.work()
    page = crew.client.get(address).text
    assert "Not measured" in page and "no scale sheet could be read" in page


def test_what_comes_in_parts_waits_until_all_has_come(
    crew: Crew, office: Office, job: RecordedPlan
) -> None:
    measuring, _ = crew.send(job.job, plain(), photographs=2)
    assert not office.worker.tasks.unattended()
    page = crew.client.get(f"/jobs/{job.job}/measured/{measuring}").text
    assert "1 of 2 photographs have come" in page
    _, strange = crew.send(job.job, plain(), bar=-1)
    assert strange["status"] == 422


def test_a_task_asked_under_the_same_id_proposes_nothing(
    crew: Crew, office: Office, job: RecordedPlan, people: dict[str, Account]
) -> None:
    """Whoever holds a key could ask for a task of that id with another bar, and so with other
    numbers; the page believes only what was asked of these photographs."""
    measuring, _ = crew.send(job.job, plain(), photographs=2)
    digest = office.register.facts_about(job.job)[-1].what.photo  # type: ignore[attr-defined]
    key = office.key(people["crew"], Scope.RECORD, Scope.READ)
    with calling(office.app, key) as program:
        body = {"id": str(measuring), "photographs": [digest], "shows": "cut", "end": "leading",
                "bar": 0.19, "job": str(job.job)}  # fmt: skip
        made = program.post(f"{API}/background/measure", json=body)
        assert made.status_code == 202, made.text
        office.work()
        told = program.get(f"{API}/background/{measuring}").json()
    assert told["state"] == "failed" and "no scale sheet" in told["failure"]
    assert "accept" not in crew.client.get(f"/jobs/{job.job}/measured/{measuring}").text


def test_the_story_of_a_cut(phone: Page, office: Office, job: RecordedPlan, tmp_path: Path) -> None:
    """Taken without signal, sent, measured, looked at, one value overruled, signed."""
    file = tmp_path / "end.jpg"
    file.write_bytes(belt_end())
    open_job(phone, job)
    step(phone, "cut")
    phone.context.set_offline(True)
    phone.get_by_role("link", name="Photograph instead of tape").first.click()
    phone.wait_for_selector("html[data-ready=measure]")
    expect(phone.locator("main")).to_contain_text("To be confirmed with the tape")
    axe(phone)
    fits(phone)
    picture(phone, "photograph-taking-phone")
    phone.get_by_role("button", name="Keep for measuring").click()
    expect(phone.locator("#fault-bar")).to_contain_text("is empty")
    phone.get_by_label("leading end: the one that travels in front").check()
    phone.get_by_label("Long bar").fill("150")
    phone.get_by_label("Take a photograph").set_input_files(file)
    phone.locator("#taken img").wait_for()
    phone.get_by_role("button", name="Keep for measuring").click()
    expect(phone.locator("#fault-bar")).to_contain_text("accepted is 188 mm to 208 mm")
    phone.get_by_label("Long bar").fill(bar())
    phone.get_by_role("button", name="Keep for measuring").click()
    expect(phone.locator("#waiting")).to_contain_text("waits for a signal")
    assert not measurings(office.register.facts_about(job.job))
    phone.context.set_offline(False)
    wait_sent(phone)
    (found,) = measurings(office.register.facts_about(job.job))
    assert found.whole and found.asked.end == "leading"
    phone.get_by_role("link", name="sent; look at what it proposes").click()
    expect(phone.locator("main")).to_contain_text("Waits for measuring")
    picture(phone, "measured-waits-phone")
    office.work()
    expect(phone.locator("main")).to_contain_text("measured outline drawn over it")
    expect(phone.locator("main")).to_contain_text("To be confirmed with the tape")
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    expect(phone.locator("main")).to_contain_text("right edge torn or worn", ignore_case=True)
    picture(phone, "measured-phone")
    phone.set_viewport_size({"width": 1280, "height": 800})
    fits(phone)
    picture(phone, "measured-desk")
    phone.set_viewport_size({"width": 390, "height": 844})
    phone.get_by_role("button", name="Crew Example signs").click()
    expect(phone.locator("main")).to_contain_text("nothing is taken")
    for row in ("Diagonal from the left corner", "Belt width at the cut"):
        phone.get_by_role("row", name=row).get_by_label("accept").check()
    phone.get_by_label("diagonal from the right corner, as you measured it").fill("1123 mm")
    phone.get_by_role("button", name="Crew Example signs").click()
    phone.wait_for_selector("html[data-ready=job]")
    boxes = step(phone, "cut").locator("[data-what='Diagonals after the cut, leading end'] input")
    assert boxes.nth(1).input_value() == "1123"
    _signed(office, job)
    phone.goto(f"/jobs/{job.job}/measured/{found.measuring}")
    expect(phone.locator("main")).to_contain_text("Signed: Crew Example")
    picture(phone, "measured-signed-phone")


def _signed(office: Office, job: RecordedPlan) -> None:
    facts = [stored.what for stored in office.register.facts_about(job.job)]
    (signed,) = (what for what in facts if isinstance(what, PhotographMeasured))
    assert signed.statement == TAKEN and "tape" in signed.standing
    values = {value.key: value for value in signed.values}
    width = values["width"]
    assert width.taken == width.measured and not width.typed
    assert abs(width.measured - SCENE.width) < 1.5 * width.half_width
    assert values["diagonal_right"].typed == "1123 mm"
    assert values["curve_depth"].taken is None
    kept = Proposal.from_data(office.register.content(signed.document).data)
    assert kept.sheets == (1, 2, 3, 4) and kept.version == signed.version
    assert len(kept.covariance) == len(kept.values) == len(signed.values)
    written = {w.box: w for w in facts if isinstance(w, ValueRecorded)}
    assert set(written) == {1, 2}
    # A value is written as a tape is read, to a tenth of a millimetre.
    assert abs(written[1].value - values["diagonal_left"].measured) < 0.6e-4


CAMERA = """(size) => {
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = size;
  const paint = () => {
    const context = canvas.getContext("2d");
    context.fillStyle = "#6b5d4b";
    context.fillRect(0, 0, ...size);
  };
  paint();
  setInterval(paint, 100);
  navigator.mediaDevices.getUserMedia = async () => canvas.captureStream(10);
}"""
"""A camera of this many pixels, in place of the browser's."""


def test_what_is_said_and_drawn_is_of_the_kind_that_is_chosen(
    phone: Page, job: RecordedPlan
) -> None:
    enter(phone, "crew")
    phone.goto(f"/jobs/{job.job}/photograph/cut")
    phone.wait_for_selector("html[data-ready=measure]")
    gap = phone.get_by_text("1 and 2 on the end you stand on")
    behind = phone.get_by_role("img", name="Seen from above: sheets 1 and 2 at the left")
    expect(gap).to_be_hidden()
    expect(behind).to_be_visible()
    phone.get_by_label("both ends: the gap").check()
    expect(gap).to_be_visible()
    expect(behind).to_be_hidden()
    expect(phone.get_by_role("img", name="all arrows the same way")).to_be_visible()
    picture(phone, "photograph-taking-gap-phone")
    for kind in ("the square line", "the punched holes", "the belt's edges", "the plates"):
        phone.get_by_label(kind).check()
        expect(behind).to_be_visible()
        axe(phone)


def test_the_outline_lies_over_the_live_picture_and_a_large_one_is_taken(
    phone: Page, job: RecordedPlan
) -> None:
    enter(phone, "crew")
    phone.goto(f"/jobs/{job.job}/photograph/cut")
    phone.wait_for_selector("html[data-ready=measure]")
    for size, enough in (([1280, 960], False), ([2560, 1920], True)):
        phone.evaluate(f"({CAMERA})({size})")
        phone.get_by_role("button", name="Look with the outline").click()
        expect(phone.locator("#live-view video")).to_be_visible()
        if not enough:
            expect(phone.locator("#live-said")).to_contain_text("too small to measure")
            expect(phone.locator("#live-take")).to_be_hidden()
            phone.get_by_role("button", name="Stop the camera").click()
    expect(phone.locator("#live-take")).to_be_visible()
    fits(phone)
    axe(phone)
    picture(phone, "photograph-live-phone")
    phone.get_by_role("button", name="Take it").click()
    expect(phone.locator("#taken img")).to_have_count(1)
    assert phone.locator("#taken img").evaluate("i => i.decode().then(() => i.naturalWidth)") > 2200
    expect(phone.locator("#live-view")).to_be_hidden()


def test_where_no_camera_is_given_it_says_so(phone: Page, job: RecordedPlan) -> None:
    enter(phone, "crew")
    phone.goto(f"/jobs/{job.job}/photograph/cut")
    phone.wait_for_selector("html[data-ready=measure]")
    phone.evaluate(
        "() => { navigator.mediaDevices.getUserMedia = async () => "
        "{ throw new DOMException('', 'NotAllowedError'); }; }"
    )
    phone.get_by_role("button", name="Look with the outline").click()
    expect(phone.locator("#live-said")).to_contain_text("cannot be used here (NotAllowedError)")


def test_at_a_desk_it_reads_as_well(desk: Page, job: RecordedPlan) -> None:
    enter(desk, "crew")
    desk.goto(f"/jobs/{job.job}/photograph/cut")
    on_the_phone(desk)
    axe(desk)
    fits(desk)
    picture(desk, "photograph-taking-desk")
