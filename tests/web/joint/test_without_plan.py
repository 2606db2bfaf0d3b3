"""A joint nobody has a plan of: described, tapped, judged by what is assumed, or not judged."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from uuid import UUID, uuid4

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from splicewright.job.inspection.joint_assessment import JointAssessment
from splicewright.store import State
from splicewright.store.facts.joint_facts import JointAssessed, JointDescribed, JointPlanned
from splicewright.store.present.job_sheet import inspections
from splicewright.store.present.present import ConveyorNow
from splicewright.store.sql.register import SqlRegister
from web.conftest import START, csrf_of, enter
from web.looking import axe, fits, picture, small_targets

Enter = Callable[[str], TestClient]
SCRIPT = {"hx-request": "true"}


@pytest.fixture
def incline(register: SqlRegister) -> ConveyorNow:
    return next(c for c in register.conveyors() if "incline" in c.name)


def _described(client: TestClient, **more: str) -> dict[str, str]:
    return {"csrf": csrf_of(client), "sent": str(uuid4()), "label": "old 3", "kind": "hinged",
            "plates": "22"} | more  # fmt: skip


def _found(client: TestClient, incline: ConveyorNow, **more: str) -> UUID:
    where = f"/conveyors/{incline.conveyor}/found-joint"
    done = client.post(where, data=_described(client, **more))
    assert done.status_code == 303, done.text
    return UUID(done.headers["location"].split("/")[2])


def _verdict(client: TestClient, joint: UUID, **taps: str) -> str:
    sent = {"csrf": csrf_of(client), "inspection": str(uuid4()), "looked": ["leading", "trailing"]}
    sent |= {key.replace("__", "."): value for key, value in taps.items()}
    told = client.post(f"/joints/{joint}/inspect/verdict", data=sent, headers=SCRIPT)
    assert told.status_code == 200
    return unescape(told.text)


def test_without_a_rating_it_says_what_is_missing_and_records_what_was_tapped(
    signed_in: Enter, incline: ConveyorNow, register: SqlRegister
) -> None:
    client = signed_in("crew")
    joint = _found(client, incline)
    now = register.joint(joint)
    assert now is not None
    assert (now.label, now.state, now.plan) == ("old 3", State.RUNNING, None)
    page = client.get(f"/joints/{joint}/inspect").text
    assert len(re.findall(r'class="plate" data-field="(?:leading|trailing)\.\d+"', page)) == 44
    said = _verdict(client, joint, leading__3="lost")
    assert "No verdict: something is missing" in said
    assert "the rated tension of the fastener" in said
    assert not re.search(r"\d\s?(%|kN|N/mm|t/h)", said)  # never a number from nothing
    sent = {"csrf": csrf_of(client), "inspection": str(uuid4()), "looked": ["leading"],
            "leading.3": "lost", "note": "skirt side"}  # fmt: skip
    done = client.post(f"/joints/{joint}/inspections", data=sent)
    assert done.status_code == 303, done.text
    (round_,) = inspections(register.facts_about(joint))
    assert round_.assessed is None
    assert round_.closed is not None
    told = client.get(done.headers["location"]).text
    assert "skirt side" in told and 'data-state="lost"' in told


def test_with_a_rating_it_is_judged_by_named_assumptions(
    signed_in: Enter, incline: ConveyorNow, register: SqlRegister
) -> None:
    """Rated at 90 N/mm as the example's plan of the same belt; every blank is told as assumed."""
    client = signed_in("crew")
    stated = {"plates": "12", "rated": "90 N/mm", "source": "marking on the plates"}
    joint = _found(client, incline, **stated)
    said = _verdict(client, joint, leading__1="lost", trailing__9="cracked")
    assert "Do not run it" in said
    for assumed in ("This joint has no plan", "Plate pitch not measured", "cut straight",
                    "Plate width not measured", "Bolts of a plate not counted",
                    "Belt width at the joint not measured", "Pin diameter not known"):  # fmt: skip
        assert assumed in said, assumed
    assert "safe" not in said.casefold().replace("the safe side", "")
    nothing = _verdict(client, joint)
    assert "It has no plan: it was not chosen for this belt." in nothing
    # Measured, an assumption goes, and the joint is told anew; both stay in its history.
    measured = _described(
        client, pitch="78 mm", bolts="2", plate_width="2 11/16 in", width="998 mm", pin="10 mm",
        **stated,
    )  # fmt: skip
    assert client.post(f"/joints/{joint}/describe", data=measured).status_code == 303
    again = _verdict(client, joint, leading__1="lost", trailing__9="cracked")
    for gone in ("not measured", "Bolts of a plate not counted", "Pin diameter not known"):
        assert gone not in again, gone
    kinds = [s.fact.kind for s in register.facts_about(joint)]
    assert kinds.count("joint described") == 2
    # Recorded, the calculation is kept with its worksheet.
    sent = {"csrf": csrf_of(client), "inspection": str(uuid4()), "leading.1": "lost",
            "looked": ["leading", "trailing"], "decision": "stop"}  # fmt: skip
    done = client.post(f"/joints/{joint}/inspections", data=sent)
    assert done.status_code == 303, done.text
    (round_,) = inspections(register.facts_about(joint))
    assert round_.assessed is not None and isinstance(round_.assessed.what, JointAssessed)
    kept = JointAssessment.from_json(register.content(round_.assessed.what.assessment).data)
    assert kept.width == pytest.approx(0.998)
    assert client.get(f"{done.headers['location'].partition('?')[0]}/why").status_code == 200
    assert register.verify().faults == ()


def test_a_guess_never_makes_the_joint_stronger(
    signed_in: Enter, incline: ConveyorNow, register: SqlRegister
) -> None:
    """What is assumed where nobody measured lies on the safe side of what is measured there."""
    from splicewright.actions.inspection.assess_taps import read_taps
    from splicewright.actions.register.kept_files import kept_conveyor
    from splicewright.job.inspection.assessment import assess
    from splicewright.job.inspection.joint_without_plan import FoundJoint, joined_as_found

    conveyor = kept_conveyor(register, incline.conveyor)
    seen = read_taps({"leading.1": ["lost"]}, 12, "old 3").inspection
    blank = assess(seen, joined_as_found(FoundJoint(12, True, rated=90e3), conveyor))
    for pitch, plate in ((0.078, 0.069), (0.082, 0.066)):
        found = FoundJoint(12, True, pitch=pitch, plate_width=plate, rated=90e3)
        measured = assess(seen, joined_as_found(found, conveyor))
        assert blank.margin[0] <= measured.margin[0]


def test_what_cannot_be_is_refused_at_its_field(
    signed_in: Enter, incline: ConveyorNow, register: SqlRegister
) -> None:
    client, head = signed_in("crew"), register.head()
    where = f"/conveyors/{incline.conveyor}/found-joint"
    for wrong, field, told in (
        ({"label": ""}, "label", "is missing"),
        ({"plates": ""}, "plates", "is missing; accepted is 1 to 400"),
        ({"plates": "many"}, "plates", "is no such number"),
        ({"plates": "22", "pitch": "60 mm"}, "plates", "do not fit side by side"),
        ({"pitch": "43"}, "pitch", "has no unit"),
        ({"rated": "90 N/mm"}, "source", "say where the rated tension is from"),
        ({"starting_rated": "130 N/mm"}, "rated", "is missing"),
        ({"kind": "glue"}, "kind", "is not known"),
        ({"since": "1066-10-14"}, "since", "1950 to today"),
        ({"place": "5 m"}, "place", "record the belt first"),
    ):
        refused = client.post(where, data=_described(client, **wrong))
        assert refused.status_code == 422, wrong
        shown = dict(re.findall(r'<p class="fault" id="fault-([\w-]+)">([^<]*)', refused.text))
        assert told in unescape(shown[field]), (wrong, shown)
        assert {f for f, text in shown.items() if text} == {field}
    assert client.post(where, data=_described(client) | {"sent": "x"}).status_code == 422
    assert register.head() == head
    viewer = signed_in("viewer")
    assert viewer.get(where).status_code == 403
    assert viewer.post(where, data=_described(viewer)).status_code == 403


def test_sent_twice_it_is_one_joint(
    signed_in: Enter, incline: ConveyorNow, register: SqlRegister
) -> None:
    client = signed_in("crew")
    where = f"/conveyors/{incline.conveyor}/found-joint"
    sent = _described(client, since="2019-05-04")
    first, again = (client.post(where, data=sent) for _ in range(2))
    assert first.status_code == again.status_code == 303
    assert first.headers["location"] == again.headers["location"]
    (joint,) = register.joints(incline.conveyor)
    assert joint.put_to_work is not None and joint.put_to_work.year == 2019
    other = client.post(where, data=_described(client))
    assert other.status_code == 422 and "is a joint of" in other.text
    text = client.get(f"/joints/{joint.joint}").text
    assert "Joint described without a plan: hinged, 22 plates on each end" in text


def test_a_joint_on_file_by_name_only_asks_what_it_is(
    signed_in: Enter, incline: ConveyorNow, register: SqlRegister
) -> None:
    from splicewright.store import Fact

    joint = uuid4()
    register.append(Fact(uuid4(), START, "Ada", JointPlanned(joint, incline.conveyor, "J9")))
    client = signed_in("crew")
    asked = client.get(f"/joints/{joint}/inspect")
    assert asked.headers["location"] == f"/joints/{joint}/describe"
    form = client.get(f"/joints/{joint}/describe").text
    assert "Describe joint J9" in form and 'name="label"' not in form
    assert client.post(f"/joints/{joint}/describe", data=_described(client)).status_code == 303
    said = [s.what for s in register.facts_about(joint) if isinstance(s.what, JointDescribed)]
    assert [(s.plates, s.hinged, s.rated) for s in said] == [(22, True, None)]


def test_a_found_joint_on_a_phone(phone: Page, incline: ConveyorNow) -> None:
    enter(phone, "crew")
    phone.goto(f"/conveyors/{incline.conveyor}")
    phone.get_by_role("link", name="Add a joint without a plan").click()
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    picture(phone, "found-joint-phone")
    phone.get_by_label("Name of the joint").fill("old 3")
    phone.get_by_label("Plates on one belt end").fill("14")
    phone.get_by_role("button", name="Go on to the plates").click()
    expect(phone.locator("#verdict")).to_contain_text("No verdict: something is missing")
    phone.set_viewport_size({"width": 360, "height": 740})
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    picture(phone, "found-joint-no-verdict-phone")
    phone.get_by_role("link", name="Describe it in more detail").click()
    expect(phone.get_by_label("Plates on one belt end")).to_have_value("14")
    phone.get_by_label("Rated tension").fill("90 N/mm")
    phone.get_by_label("Where that is from").fill("marking on the plates")
    axe(phone)
    fits(phone)
    phone.get_by_role("button", name="Go on to the plates").click()
    phone.locator('[data-field="leading.2"]').click()
    phone.locator('[data-field="leading.2"]').click()
    expect(phone.locator("#verdict .level")).to_be_visible()
    axe(phone)
    fits(phone)
    picture(phone, "found-joint-verdict-phone")


def test_a_found_joint_on_a_desk(desk: Page, incline: ConveyorNow) -> None:
    enter(desk, "crew")
    desk.goto(f"/conveyors/{incline.conveyor}/found-joint")
    axe(desk)
    fits(desk)
    picture(desk, "found-joint-desk")
