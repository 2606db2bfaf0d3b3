"""An inspection whose facts came by themselves has the verdict its page would have given."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID, uuid4

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from splicewright.actions.plan.record import RecordedPlan
from splicewright.job.inspection.joint_assessment import JointAssessment
from splicewright.joint.inspection.verdict import PlateState, Verdict
from splicewright.joint.layout import End
from splicewright.store import Account, Fact
from splicewright.store.facts.facts import to_data
from splicewright.store.facts.joint_facts import (
    EndInspected,
    InspectionClosed,
    JointAssessed,
    JointMeasured,
    PhoneVerdict,
    PlateInspected,
    PlateJudged,
)
from splicewright.store.facts.kinds import What
from splicewright.store.present.job_sheet import Inspection, inspections
from splicewright.store.sql.register import SqlRegister
from web.calling import API
from web.conftest import Clock, csrf_of, enter
from web.looking import axe, fits, picture
from web.planned import plan_on_incline
from web.working import on_the_phone, wait_sent

Enter = Callable[..., TestClient]
FOUND = {
    "leading.1": "lost", "leading.2": "worn", "trailing.9": "cracked", "pin_now": "9.8 mm",
    "torn_left": "8 mm", "breaking": "360 N/mm", "worn_keeps": "60 %", "more_end": "trailing",
    "more_plate": "9", "more_kept": "30 %", "more_bolts": "1", "more_note": "crack at the loop",
}  # fmt: skip
"""As somebody types it on the page."""


def _facts(joint: UUID, inspection: UUID) -> list[What]:
    """The same findings, as a phone sends them."""
    of = (joint, inspection)
    return [
        *(EndInspected(*of, end, 22) for end in End),
        PlateInspected(*of, End.LEADING, 1, PlateState.LOST),
        PlateInspected(*of, End.LEADING, 2, PlateState.WORN),
        PlateInspected(*of, End.TRAILING, 9, PlateState.CRACKED, "crack at the loop"),
        PlateJudged(*of, End.TRAILING, 9, 0.3, 1),
        JointMeasured(*of, 9.8e-3, None, 8e-3, 0.0, 0.6, 360e3),
        InspectionClosed(*of),
    ]


@pytest.fixture
def joint(register: SqlRegister) -> RecordedPlan:
    return plan_on_incline(register)


def _round(register: SqlRegister, joint: UUID, inspection: UUID) -> Inspection:
    found = {i.inspection: i for i in inspections(register.facts_about(joint))}
    return found[inspection]


def _verdict(register: SqlRegister, joint: UUID, inspection: UUID) -> JointAssessment:
    entry = _round(register, joint, inspection).assessed
    assert entry is not None, "it has no verdict"
    assert isinstance(entry.what, JointAssessed)
    kept = JointAssessment.from_json(register.content(entry.what.assessment).data)
    assert entry.what.level is Verdict[kept.verdict.name]
    return kept


def _alike(one: JointAssessment, other: JointAssessment) -> None:
    """The same verdict; what was typed in mm may differ from SI in the last digit of a float."""
    assert one.verdict is other.verdict
    assert one.margin == pytest.approx(other.margin, rel=1e-9)
    assert one.largest == pytest.approx(other.largest, rel=1e-9)
    assert (one.next_plate, one.next_end) == (other.next_plate, other.next_end)
    assert [s.template for s in one.assumptions] == [s.template for s in other.assumptions]


def _by_page(client: TestClient, register: SqlRegister, joint: UUID) -> JointAssessment:
    inspection = uuid4()
    sent = {
        "csrf": csrf_of(client),
        "inspection": str(inspection),
        "looked": ["leading", "trailing"],
    }
    done = client.post(f"/joints/{joint}/inspections", data=sent | FOUND)
    assert done.status_code == 303, done.text
    return _verdict(register, joint, inspection)


def _sent(client: TestClient, account: Account, clock: Clock, facts: list[What]) -> dict[str, Any]:
    made = [to_data(Fact(uuid4(), clock(), "phone", w, account.account, "phone 1")) for w in facts]
    body = {"account": str(account.account), "facts": made}
    headers = {"Sec-Fetch-Site": "same-origin", "Accept": "application/json"}
    answer = client.post("/sync", json=body, headers=headers)
    assert answer.status_code == 200, answer.text
    told: dict[str, Any] = answer.json()
    assert all(o["status"] == 200 for o in told["outcomes"]), told
    # Sent again it is known already, and nothing is worked or recorded twice.
    assert client.post("/sync", json=body, headers=headers).json()["told"] == told["told"]
    return told


def test_by_phone(
    signed_in: Enter, register: SqlRegister, joint: RecordedPlan, people: dict[str, Account],
    clock: Clock,
) -> None:  # fmt: skip
    client, inspection = signed_in("crew"), uuid4()
    by_page = _by_page(client, register, joint.joint)
    told = _sent(client, people["crew"], clock, _facts(joint.joint, inspection))
    _alike(_verdict(register, joint.joint, inspection), by_page)
    kinds = [s.fact.kind for s in register.facts_about(joint.joint)]
    assert kinds.count("joint assessed") == 2
    assert told["told"] == [
        f"Inspection of J1, worked out by the server: {by_page.verdict.sentence}."
    ]


def test_by_program_and_by_correction(
    signed_in: Enter, register: SqlRegister, joint: RecordedPlan, people: dict[str, Account],
    clock: Clock,
) -> None:  # fmt: skip
    """A program's facts, and an entry said otherwise: the verdict follows what is found now."""
    client, inspection = signed_in("crew"), uuid4()
    by_page = _by_page(client, register, joint.joint)
    facts = [
        Fact(uuid4(), clock(), people["crew"].name, what, people["crew"].account, "a program")
        for what in _facts(joint.joint, inspection)
    ]
    sent = {"facts": [to_data(f) for f in facts]}
    answer = client.post(f"{API}/facts", json=sent, headers={"X-CSRF": csrf_of(client)})
    assert answer.status_code == 200, answer.text
    _alike(_verdict(register, joint.joint, inspection), by_page)
    # The lost plate was another's: said ok, the joint is judged without it.
    form = {"csrf": csrf_of(client), "sent": str(uuid4()), "why": "another joint", "do": "correct"}
    lost = next(f for f in facts if getattr(f.what, "state", None) is PlateState.LOST)
    assert client.post(f"/recorded/{lost.id}", data=form | {"said.state": "ok"}).status_code == 303
    assert _verdict(register, joint.joint, inspection).margin[0] > by_page.margin[0]
    # With everything taken back there is no verdict, as on a page where nothing is found.
    for fact in facts[3:-1]:
        gone = form | {"sent": str(uuid4()), "do": "withdraw"}
        assert client.post(f"/recorded/{fact.id}", data=gone).status_code == 303
    assert _round(register, joint.joint, inspection).assessed is None


def test_by_import(
    signed_in: Enter, register: SqlRegister, joint: RecordedPlan, clock: Clock
) -> None:
    """What no door worked is worked where it is opened."""
    client, inspection = signed_in("viewer"), uuid4()
    for what in _facts(joint.joint, inspection):
        register.append(Fact(uuid4(), clock(), "Ada Example", what))
    page = client.get(f"/joints/{joint.joint}/inspections/{inspection}").text
    assert "Calculated: " in page
    assert "This is a calculation, not a permission." in page


@pytest.mark.parametrize("level", [Verdict.WATCH, Verdict.STOP])
def test_where_phone_and_server_differ(
    signed_in: Enter, register: SqlRegister, joint: RecordedPlan, people: dict[str, Account],
    clock: Clock, level: Verdict,
) -> None:  # fmt: skip
    """A phone with an older plan or data of its own: the server's counts, and both are shown."""
    client, inspection = signed_in("crew"), uuid4()
    shown = PhoneVerdict(joint.joint, inspection, level, 1.2, 2.0, 3)
    facts = _facts(joint.joint, inspection)
    told = _sent(client, people["crew"], clock, [*facts[:-1], shown, facts[-1]])
    (sentence,) = told["told"]
    assert "Your phone had shown" in sentence
    assert "The server's verdict counts" in sentence
    page = client.get(f"/joints/{joint.joint}/inspections/{inspection}").text
    assert "The phone had shown something else" in page
    assert "120 %" in page
    assert "nothing had been said of 3 plates" in page
    made = _verdict(register, joint.joint, inspection)
    assert f"{made.verdict.name}" != level.name or made.margin != (1.2, 2.0)
    same = PhoneVerdict(joint.joint, inspection, Verdict[made.verdict.name], *made.margin)
    assert not _sent(client, people["crew"], clock, [same])["told"]


def test_a_plate_the_joint_has_not(
    signed_in: Enter, joint: RecordedPlan, people: dict[str, Account], clock: Clock
) -> None:
    """No verdict is made up: what is wrong is said, and that nobody knows."""
    client, inspection = signed_in("crew"), uuid4()
    facts: list[What] = [
        PlateInspected(joint.joint, inspection, End.LEADING, 30, PlateState.LOST),
        InspectionClosed(joint.joint, inspection),
    ]
    (sentence,) = _sent(client, people["crew"], clock, facts)["told"]
    assert "plate 30 of the leading end is recorded, and this joint has 22" in sentence
    assert "What the joint can carry is not known" in sentence
    page = client.get(f"/joints/{joint.joint}/inspections/{inspection}").text
    assert "No verdict" in page


def test_recorded_without_signal(phone: Page, joint: RecordedPlan, register: SqlRegister) -> None:
    """The story: worked on the phone, sent when there is signal, the same on the register."""
    enter(phone, "crew")
    phone.goto(f"/joints/{joint.joint}/inspect")
    phone.wait_for_selector("#inspection[data-works-here=yes]")
    on_the_phone(phone)
    phone.context.set_offline(True)
    for end in ("leading", "trailing"):
        phone.get_by_label(f"all others of the {end} end").check()
    for _ in range(2):
        phone.get_by_role("button", name="Plate 3, leading end").tap()
    phone.get_by_label("Left edge torn").fill("8 furlongs")
    phone.get_by_role("button", name="Record the inspection").click()
    expect(phone.locator("#offline")).to_contain_text("Not recorded: Left edge torn")
    picture(phone, "inspection-not-read-phone")
    for field, typed in (
        ("Hinge pin, thinnest place", "9.8 mm"), ("Left edge torn", "8 mm"),
        ("Pull test of the joint", "360 N/mm"), ("Worn plates keep", "60 %"),
        ("Next inspection after", "3 d"), ("Strength kept, row 1", "20 %"),
    ):  # fmt: skip
        phone.get_by_label(field, exact=True).fill(typed)
    expect(phone.locator("#verdict .level")).to_be_visible()
    level = phone.locator("#verdict .level .said").inner_text()
    level = level.replace("\N{NO-BREAK SPACE}", " ")
    phone.get_by_role("button", name="Record the inspection").click()
    expect(phone.locator("#offline")).to_contain_text("The verdict shown here goes along")
    phone.context.set_offline(False)
    wait_sent(phone)
    (round_,) = inspections(register.facts_about(joint.joint))
    kept = _verdict(register, joint.joint, round_.inspection)
    assert round_.looked == {End.LEADING: 22, End.TRAILING: 22}
    assert round_.on_phone is not None
    shown = round_.on_phone.what
    assert isinstance(shown, PhoneVerdict)
    assert shown.level.name == kept.verdict.name
    assert (shown.margin_low, shown.margin_high) == pytest.approx(kept.margin, rel=1e-6)
    assert round_.closed is not None and isinstance(round_.closed.what, InspectionClosed)
    assert round_.closed.what.next_after == 3 * 86400
    assert round_.closed.by == "Crew Example"
    phone.goto(f"/joints/{joint.joint}/inspections/{round_.inspection}")
    expect(phone.locator(".level .said")).to_contain_text(level.split(" ", 1)[1], ignore_case=True)
    expect(phone.get_by_text("both say the same")).to_be_visible()
    axe(phone)
    fits(phone)
    picture(phone, "inspection-from-the-phone")


def test_the_person_is_told_until_they_have_read_it(
    phone: Page, joint: RecordedPlan, register: SqlRegister
) -> None:
    """A phone that had no data of the joint learns what the server works out."""
    enter(phone, "crew")
    phone.goto(f"/joints/{joint.joint}/inspect")
    phone.wait_for_selector("#inspection[data-works-here=yes]")
    on_the_phone(phone)
    phone.evaluate(
        """async ([joint, inspection]) => splicewright.outbox.record([
          { kind: "plate inspected",
            what: { joint, inspection, end: "leading end", plate: 3, state: "lost" } },
          { kind: "inspection closed", what: { joint, inspection } },
        ], { words: "inspection" })""",
        [str(joint.joint), str(uuid4())],
    )
    wait_sent(phone)
    expect(phone.locator("#outbox")).to_contain_text("worked out by the server")
    phone.goto(f"/joints/{joint.joint}")
    expect(phone.locator("#outbox")).to_contain_text("worked out by the server")
    axe(phone)
    picture(phone, "told-by-the-server-phone")
    phone.get_by_role("button", name="I have read it").click()
    expect(phone.locator("#outbox")).not_to_contain_text("worked out by the server")


def test_last_time_is_not_counted_as_now(
    phone: Page, joint: RecordedPlan, register: SqlRegister, clock: Clock
) -> None:
    """Last time's picture stands in the same form: its plates were counted, sent and turned."""
    before = uuid4()
    for what in _facts(joint.joint, before):
        register.append(Fact(uuid4(), clock(), "Ada Example", what))
    clock.pass_(days=30)
    enter(phone, "crew")
    phone.goto(f"/joints/{joint.joint}/inspect")
    phone.wait_for_selector("#inspection[data-works-here=yes]")
    on_the_phone(phone)
    phone.get_by_role("button", name="Plate 1, trailing end").first.tap()
    expect(phone.locator("#count")).to_contain_text("Not said yet: 43 of 44 plates")
    phone.locator(".last summary").click()
    there = phone.locator('.last .plate[data-field="leading.1"]')
    expect(there).to_have_attribute("data-state", "lost")
    phone.context.set_offline(True)
    for end in ("leading", "trailing"):
        phone.get_by_label(f"all others of the {end} end").check()
    for _ in range(3):
        phone.get_by_role("button", name="Plate 4, leading end").first.tap()
    expect(there).to_have_attribute("data-state", "lost")
    phone.get_by_role("button", name="Record the inspection").click()
    expect(phone.locator("#offline")).to_contain_text("waits on this device")
    phone.context.set_offline(False)
    wait_sent(phone)
    (now,) = [i for i in inspections(register.facts_about(joint.joint)) if i.inspection != before]
    assert now.looked == {End.LEADING: 22, End.TRAILING: 22}
    assert set(now.plates) == {(End.LEADING, 4)}
    assert now.assessed is not None
