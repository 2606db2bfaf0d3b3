"""From taps to the verdict and the recorded inspection; bad input; with and without script."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from html import unescape
from uuid import UUID, uuid4

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from planned import SITE
from splicewright.actions.inspection.assess import assess_joint
from splicewright.actions.inspection.recorded import keep_verdict
from splicewright.actions.plan.plan import plan_joint
from splicewright.actions.plan.record import RecordedPlan, record_plan
from splicewright.job.inspection.joint_assessment import JointAssessment
from splicewright.joint.inspection.verdict import PlateState, Verdict
from splicewright.joint.layout import End
from splicewright.store import Fact
from splicewright.store.authority import CONSOLE, NOT_HERE
from splicewright.store.facts.joint_facts import (
    InspectionClosed,
    JointAssessed,
    JointMeasured,
    PlateInspected,
    PlateJudged,
)
from splicewright.store.present.job_sheet import inspections
from splicewright.store.sql.register import SqlRegister
from web.conftest import START, csrf_of, enter
from web.looking import axe, fits, picture, small_targets
from web.planned import plan_on_incline

Enter = Callable[[str], TestClient]


@pytest.fixture
def joint(register: SqlRegister) -> RecordedPlan:
    return plan_on_incline(register)


def _sent(client: TestClient, **more: object) -> dict[str, object]:
    return {
        "csrf": csrf_of(client),
        "inspection": str(uuid4()),
        "looked": ["leading", "trailing"],
    } | {key.replace("__", "."): value for key, value in more.items()}


def test_the_page_says_what_the_command_says(
    signed_in: Enter, register: SqlRegister, joint: RecordedPlan
) -> None:
    """The same findings as the example's inspection file give the same assessment."""
    client = signed_in("lead")
    sent = _sent(
        client, leading__1="lost", leading__2="worn", trailing__9="cracked", pin_now="9.8 mm",
        torn_left="8 mm", breaking="360 N/mm", decision="stop", note="skirt caught the edge",
        more_end=["leading"], more_plate=["2"], more_kept=["80 %"], more_note=["plate bent up"],
        more_bolts=[""],
    )  # fmt: skip
    done = client.post(f"/joints/{joint.joint}/inspections", data=sent)
    assert done.status_code == 303, done.text
    (round_,) = inspections(register.facts_about(joint.joint))
    assert round_.inspection == UUID(str(sent["inspection"]))
    assert round_.looked == {End.LEADING: 22, End.TRAILING: 22}
    assert len(round_.plates) == 3
    lost = round_.plates[End.LEADING, 1].last.what
    assert isinstance(lost, PlateInspected)
    assert lost.state is PlateState.LOST
    worn = round_.judged[End.LEADING, 2].last.what
    assert isinstance(worn, PlateJudged)
    assert worn.share_kept == 0.8
    assert round_.measured is not None
    measured = round_.measured.what
    assert isinstance(measured, JointMeasured)
    assert (measured.pin_now, measured.torn_left) == pytest.approx((9.8e-3, 8e-3), rel=1e-12)
    assert round_.closed is not None
    closed = round_.closed.what
    assert isinstance(closed, InspectionClosed)
    assert closed.can_run is False
    assert round_.assessed is not None
    said = round_.assessed.what
    assert isinstance(said, JointAssessed)
    kept = JointAssessment.from_json(register.content(said.assessment).data)
    by_command = assess_joint(SITE / "inspections/incline-edge-plates.toml")
    assert said.level is Verdict[by_command.verdict.name]
    assert kept.verdict is by_command.verdict
    assert kept.reasons == by_command.reasons
    assert kept.margin == pytest.approx(by_command.margin, rel=1e-12)
    # Sent again, nothing is recorded twice.
    head = register.head()
    assert client.post(f"/joints/{joint.joint}/inspections", data=sent).status_code == 303
    assert register.head() == head
    # A joint that must not run is due for renewal at once.
    assert any(d.task.value == "renew" for d in register.due(START + timedelta(seconds=1)))
    page = client.get(done.headers["location"])
    assert "must not run" in page.text
    assert "skirt caught the edge" in page.text
    assert "plate bent up" in page.text
    # Every number of the calculation is explained.
    why = re.findall(r'href="([^"]+/why)"', page.text)
    numbers = re.findall(r'href="([^"]+/why/[^"]+)"', client.get(why[0]).text)
    assert len(numbers) > 10
    for number in numbers[:: len(numbers) // 10]:
        assert client.get(number).status_code == 200, number
    assert "must not run" in client.get(f"/joints/{joint.joint}/inspections").text


def test_no_verdict_ever_says_safe(signed_in: Enter, joint: RecordedPlan) -> None:
    client = signed_in("crew")
    for found in (
        {"trailing.7": "cracked"},
        {"leading.3": "worn"},
        {f"leading.{n}": "lost" for n in range(1, 19)},
    ):
        told = client.post(
            f"/joints/{joint.joint}/inspect/verdict", data=_sent(client) | found,
            headers={"hx-request": "true"},
        )  # fmt: skip
        assert told.status_code == 200
        assert not re.search(r"\bsafe\b", told.text)
        assert "This is a calculation, not a permission." in told.text
        assert "What is assumed" in told.text


def test_nothing_found_is_no_verdict(
    signed_in: Enter, register: SqlRegister, joint: RecordedPlan
) -> None:
    """A sound joint is judged by its plan; its worst plate is told for comparison only."""
    client = signed_in("crew")
    told = client.post(
        f"/joints/{joint.joint}/inspect/verdict", data=_sent(client), headers={"hx-request": "1"}
    )
    assert "Nothing found so far" in told.text
    assert 'class="level' not in told.text
    sent = _sent(client)
    assert client.post(f"/joints/{joint.joint}/inspections", data=sent).status_code == 303
    (round_,) = inspections(register.facts_about(joint.joint))
    assert round_.assessed is None
    assert round_.worst is PlateState.OK


def test_a_worn_plate_nobody_judged_is_a_named_assumption(
    signed_in: Enter, joint: RecordedPlan
) -> None:
    client = signed_in("crew")
    where = f"/joints/{joint.joint}/inspect/verdict"
    told = client.post(where, data=_sent(client, leading__3="worn"), headers={"hx-request": "1"})
    assert "Worn plates that were not judged are assumed to keep 50 %" in told.text
    told = client.post(
        where, data=_sent(client, leading__3="worn", worn_keeps="90 %"), headers={"hx-request": "1"}
    )
    assert "nobody judged are taken" not in told.text


def test_every_fault_at_its_field(
    signed_in: Enter, register: SqlRegister, joint: RecordedPlan
) -> None:
    client = signed_in("crew")
    head = register.head()
    wrong = _sent(
        client, leading__1="glowing", pin_now="12 furlongs", torn_left="9 m", decision="run",
        next_after="soon", more_end=["leading", "sideways"], more_plate=["99", "1"],
        more_kept=["", "200 %"], more_bolts=["many", "1"], more_note=["", ""],
    )  # fmt: skip
    refused = client.post(f"/joints/{joint.joint}/inspections", data=wrong)
    assert refused.status_code == 422
    shown = dict(re.findall(r'<p class="fault" id="fault-([\w-]+)">([^<]*)', refused.text))
    told = {field: text for field, text in shown.items() if text}
    assert {"leading-1", "pin_now", "torn_left", "decision", "next_after", "more_plate-1",
            "more_bolts-1", "more_end-2"} <= set(told)  # fmt: skip
    assert "leads and admins" in told["decision"]
    assert register.head() == head
    none_looked = _sent(client) | {"looked": []}
    assert (
        "no plate was said to be looked at"
        in client.post(f"/joints/{joint.joint}/inspections", data=none_looked).text
    )
    every = _sent(client) | {f"leading.{n}": "lost" for n in range(1, 23)}
    assert client.post(f"/joints/{joint.joint}/inspections", data=every).status_code == 422
    assert register.head() == head


def test_nothing_is_taken_as_looked_at(
    signed_in: Enter, joint: RecordedPlan, register: SqlRegister
) -> None:
    """In a trial "looked at, every plate" was ticked beforehand: 44 plates good without a look."""
    client, where = signed_in("lead"), f"/joints/{joint.joint}/inspections"
    page = client.get(f"/joints/{joint.joint}/inspect").text
    assert 'name="looked"' in page
    assert not re.findall(r'name="looked"[^>]*checked', page)
    assert page.count('<option value="">not said</option>') == 44
    assert not re.findall(r"<option selected>|<option[^>]* selected>\s*ok", page)
    # A finding alone is recorded for what it is: nothing is said of the other plates.
    one = _sent(client, trailing__4="lost", leading__5="ok", decision="stop") | {"looked": []}
    told = client.post(f"/joints/{joint.joint}/inspect/verdict", data=one,
                       headers={"hx-request": "1"}).text  # fmt: skip
    assert "Not said yet: 42 plates" in told
    done = client.post(where, data=one)
    assert done.status_code == 303
    (round_,) = inspections(register.facts_about(joint.joint))
    assert round_.looked == {} and not round_.whole
    said = {
        (end.value, number): answer.last.what.state
        for (end, number), answer in round_.plates.items()
        if isinstance(answer.last.what, PlateInspected)
    }
    assert said == {("trailing end", 4): PlateState.LOST, ("leading end", 5): PlateState.OK}
    shown = client.get(done.headers["location"]).text
    assert shown.count('data-state=""') == 42 and "not every plate of any end" in shown
    # Plate by plate, every plate said, is an end that was looked at.
    all_said = {f"leading.{n}": "ok" for n in range(1, 23)}
    each = _sent(client, decision="stop") | all_said | {"looked": ["trailing"]}
    assert client.post(where, data=each).status_code == 303
    assert inspections(register.facts_about(joint.joint))[-1].whole


def test_may_run_on_asks_what_was_not_looked_at(
    signed_in: Enter, joint: RecordedPlan, register: SqlRegister
) -> None:
    client, where = signed_in("lead"), f"/joints/{joint.joint}/inspections"
    sent = _sent(client, decision="run")
    assert "say what was not looked at" in client.post(where, data=sent).text
    partly = sent | {"looked": ["leading"], "not_seen": "Nothing."}
    assert "not every plate of both ends" in client.post(where, data=partly).text
    assert client.post(where, data=partly | {"not_seen": "trailing end, under the skirt"}
                       ).status_code == 303  # fmt: skip
    (round_,) = inspections(register.facts_about(joint.joint))
    assert round_.closed is not None and isinstance(round_.closed.what, InspectionClosed)
    assert round_.closed.what.not_seen == "trailing end, under the skirt"
    whole = _sent(client, decision="run", not_seen="nothing")
    assert client.post(where, data=whole).status_code == 303


def test_who_may_inspect_what(signed_in: Enter, joint: RecordedPlan, register: SqlRegister) -> None:
    viewer, crew = signed_in("viewer"), signed_in("crew")
    assert viewer.get(f"/joints/{joint.joint}/inspect").status_code == 403
    assert viewer.get(f"/joints/{joint.joint}/inspections").status_code == 200
    assert crew.get(f"/joints/{uuid4()}/inspect").status_code == 404
    assert crew.get(f"/joints/{joint.joint}/inspections/{uuid4()}").status_code == 404
    assert crew.post(f"/joints/{joint.joint}/inspections", data={}).status_code == 403
    bad_id = _sent(crew) | {"inspection": "' or 1=1"}
    assert crew.post(f"/joints/{joint.joint}/inspections", data=bad_id).status_code == 422


def test_taps_to_the_recorded_fact_on_a_phone(
    phone: Page, register: SqlRegister, joint: RecordedPlan
) -> None:
    enter(phone, "lead")
    phone.goto(f"/joints/{joint.joint}/inspect")
    expect(phone.locator("#verdict")).to_contain_text("This is a calculation")
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    boxes = [p.bounding_box() for p in phone.locator(".joint .plate").all()]
    assert len(boxes) == 44
    assert all(b is not None and b["width"] >= 48 and b["height"] >= 48 for b in boxes)
    third = phone.get_by_role("button", name="Plate 3, leading end")
    expect(third).to_have_accessible_name("Plate 3, leading end: not said")
    expect(phone.locator('[name="looked"]:checked')).to_have_count(0)
    expect(phone.locator("#count")).to_have_text("Nothing marked. Not said yet: 44 of 44 plates.")
    picture(phone, "inspect-nothing-said-phone")
    third.tap()
    expect(third).to_have_accessible_name("Plate 3, leading end: ok")
    phone.get_by_label("all others of the leading end").check()
    for state in ("worn", "cracked", "lost", "ok", "worn", "cracked", "lost"):
        third.tap()
        expect(third).to_have_accessible_name(f"Plate 3, leading end: {state}")
    phone.get_by_role("button", name="Plate 2, leading end").tap()
    expect(phone.locator("#count")).to_have_text(
        "Marked: 1 worn, 1 lost. Not said yet: 22 of 44 plates."
    )
    expect(phone.locator("#verdict")).to_contain_text("Worn plates that were not judged")
    axe(phone)
    picture(phone, "inspect-phone")
    # The list says the same, and turns the picture.
    phone.get_by_text("The same plates as a list").click()
    expect(phone.get_by_label("Plate 3, leading end")).to_have_count(2)
    phone.locator('select[name="trailing.5"]').select_option("cracked")
    expect(phone.get_by_role("button", name="Plate 5, trailing end: cracked")).to_be_visible()
    fits(phone)
    # Nothing tapped is lost when the page goes.
    phone.reload()
    expect(phone.locator("#restored")).to_be_visible()
    expect(phone.locator("#count")).to_have_text(
        "Marked: 1 worn, 1 cracked, 1 lost. Not said yet: 21 of 44 plates."
    )
    phone.set_viewport_size({"width": 360, "height": 740})
    fits(phone)
    phone.get_by_label("it must not run").check()
    phone.get_by_role("button", name="Record the inspection").click()
    phone.wait_for_url("**/inspections/*")
    axe(phone)
    fits(phone)
    picture(phone, "inspection-phone")
    (round_,) = inspections(register.facts_about(joint.joint))
    assert round_.worst is PlateState.LOST
    phone.goto(f"/joints/{joint.joint}/inspect")
    expect(phone.locator("#restored")).to_be_hidden()


def test_by_keyboard_on_a_desk(desk: Page, joint: RecordedPlan) -> None:
    enter(desk, "crew")
    desk.goto(f"/joints/{joint.joint}/inspect")
    expect(desk.get_by_label("it may run on")).to_have_count(0)
    desk.get_by_role("button", name="Plate 1, leading end").focus()
    desk.keyboard.press("ArrowRight")
    desk.keyboard.press("l")
    expect(desk.get_by_role("button", name="Plate 2, leading end: lost")).to_be_focused()
    desk.keyboard.press("End")
    desk.keyboard.press("w")
    expect(desk.get_by_role("button", name="Plate 22, leading end: worn")).to_be_focused()
    expect(desk.locator("#verdict")).to_contain_text("Worn plates that were not judged")
    axe(desk)
    fits(desk)
    picture(desk, "inspect-desk")


def test_without_script(desk: Page, joint: RecordedPlan, site: str) -> None:
    enter(desk, "crew")
    browser = desk.context.browser
    assert browser is not None
    bare = browser.new_context(java_script_enabled=False, base_url=site)
    bare.add_cookies(desk.context.cookies())  # type: ignore[arg-type]
    page = bare.new_page()
    page.goto(f"/joints/{joint.joint}/inspect")
    page.get_by_text("The same plates as a list").click()
    page.locator('select[name="leading.3"]').select_option("lost")
    page.get_by_role("button", name="Can it run?").click()
    expect(page.locator("#verdict")).to_contain_text("This is a calculation")
    expect(page.locator('.plate[data-field="leading.3"]')).to_have_attribute("data-state", "lost")
    page.get_by_role("button", name="Record the inspection").click()
    expect(page.get_by_role("heading", name="Inspection of J1")).to_be_visible()
    bare.close()


def test_a_joint_without_plates_says_so_in_one_wording(
    signed_in: Enter, register: SqlRegister
) -> None:
    """Its page and a verdict that is worked when a phone sends what was found."""
    conveyor = next(c for c in register.conveyors() if "incline" in c.name)
    for label, job, fasteners, why in (
        (
            "J8",
            "incline-worn-joint",
            "riveted",
            "no fastener was chosen in its plan, so it has no plates",
        ),
        ("J9", "incline-vulcanised", "step", NOT_HERE),
    ):
        plan = plan_joint(
            SITE / "conveyors/incline.toml", SITE / f"jobs/{job}.toml",
            (SITE / f"fasteners/{fasteners}.toml",),
        )  # fmt: skip
        made = record_plan(
            register, plan, conveyor=conveyor.conveyor, label=label, by="Ada Example", now=START
        )
        told = signed_in("crew").get(f"/joints/{made.joint}/inspect")
        assert told.status_code == 422
        assert why in unescape(told.text)
        inspection = uuid4()
        found = PlateInspected(made.joint, inspection, End.LEADING, 3, PlateState.LOST)
        for what in (found, InspectionClosed(made.joint, inspection, None)):
            register.append(Fact(uuid4(), START, "Ada Example", what))
        worked = keep_verdict(register, made.joint, inspection, CONSOLE, START)
        assert worked is not None
        assert worked.assessment is None
        assert why in worked.why_not
