"""An inspection without signal: the verdict of now on the phone, or none; the page opens again."""

from __future__ import annotations

import re
from io import BytesIO
from uuid import uuid4

import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from splicewright.actions.plan.record import RecordedPlan
from splicewright.joint.inspection.verdict import PlateState
from splicewright.joint.layout import End
from splicewright.store import Fact
from splicewright.store.facts.joint_facts import EndInspected, PhotoAdded, PlateInspected
from splicewright.store.facts.kinds import What
from splicewright.store.present.job_sheet import inspections
from splicewright.store.sql.register import SqlRegister
from web.between import Between
from web.conftest import Clock, enter
from web.looking import axe, fits, not_struck, picture, small_targets
from web.planned import plan_on_incline
from web.working import on_the_phone, wait_sent


@pytest.fixture
def joint(register: SqlRegister) -> RecordedPlan:
    return plan_on_incline(register)


def _opened(phone: Page, joint: RecordedPlan) -> None:
    phone.goto(f"/joints/{joint.joint}/inspect")
    expect(phone.locator("#verdict")).to_contain_text("This is a calculation")
    phone.wait_for_selector("#inspection[data-works-here=yes]")


def _said(phone: Page) -> list[str]:
    """Level and sentences of the verdict as it stands."""
    verdict = phone.locator("#verdict")
    sentences = [
        verdict.locator(".level").inner_text(),
        *verdict.locator("> ul li").all_inner_texts(),
        *verdict.locator("details li").all_text_contents(),
    ]
    # What keeps a number on the line of its unit is no word.
    return [said.replace("\N{NO-BREAK SPACE}", " ") for said in sentences]


def test_the_verdict_is_worked_on_the_phone(phone: Page, joint: RecordedPlan) -> None:
    """Without signal as with it: the same words, the same numbers, at once."""
    enter(phone, "crew")
    _opened(phone, joint)
    phone.context.set_offline(True)
    phone.get_by_role("button", name="Plate 1, trailing end").tap()
    phone.get_by_role("button", name="Plate 1, trailing end").tap()
    for _ in range(4):
        phone.get_by_role("button", name="Plate 3, leading end").tap()
    # At once: the page did not wait for anything.
    assert phone.locator("#verdict .level").is_visible()
    assert phone.locator("#crossed").is_hidden()
    expect(phone.locator("#verdict")).to_contain_text("Worked out on this phone")
    expect(phone.locator("#verdict")).to_contain_text("Not said yet: 42 plates")
    expect(phone.locator("#verdict")).not_to_have_class(re.compile("stale"))
    expect(phone.locator(".plate.next")).to_have_count(1)
    expect(phone.locator("#offline")).to_contain_text("The verdict is worked out on this phone")
    axe(phone)
    fits(phone)
    picture(phone, "inspect-worked-on-the-phone")
    here = _said(phone)
    for field, typed in (
        ("Hinge pin, thinnest place", "9.8 mm"), ("Left edge torn", "8 mm"),
        ("Pull test of the joint", "360 N/mm"), ("Plate number, row 1", "5"),
        ("Bolts lost or loose, row 1", "1"),
    ):  # fmt: skip
        phone.get_by_label(field, exact=True).fill(typed)
    level, margin, carries, next_, opens, *assumed = _said(phone)
    assert margin != here[1]
    phone.context.set_offline(False)
    expect(phone.locator("#verdict")).not_to_contain_text("Worked out on this phone")
    by_server = _said(phone)
    # The server says the load too, and how many more plates can be lost.
    assert [level, margin, carries] == by_server[:3]
    assert next_ == by_server[4]
    assert by_server[5].startswith(opens.removesuffix("."))
    assert set(assumed) == set(by_server[6:])


def test_what_the_phone_cannot_read_is_crossed_out(phone: Page, joint: RecordedPlan) -> None:
    enter(phone, "crew")
    _opened(phone, joint)
    phone.context.set_offline(True)
    phone.get_by_role("button", name="Plate 1, trailing end").tap()
    phone.get_by_role("button", name="Plate 1, trailing end").tap()
    assert phone.locator("#crossed").is_hidden()
    phone.get_by_label("Left edge torn").fill("8 furlongs")
    assert phone.locator("#crossed").is_visible()
    expect(phone.locator("#verdict")).to_have_class(re.compile("stale"))
    phone.get_by_label("Left edge torn").fill("8 mm")
    assert phone.locator("#crossed").is_hidden()


def test_without_its_data_the_verdict_is_crossed_out(
    phone: Page, joint: RecordedPlan, between: Between
) -> None:
    """The last verdict stood in full strength while plates were set to lost."""
    between.broken = "/inspect/condensed"
    enter(phone, "crew")
    phone.goto(f"/joints/{joint.joint}/inspect")
    expect(phone.locator("#verdict")).to_contain_text("This is a calculation")
    phone.context.set_offline(True)
    for _ in range(2):
        phone.get_by_role("button", name="Plate 1, trailing end").tap()
    expect(phone.locator("#offline")).to_be_visible()
    expect(phone.locator("#crossed")).to_be_visible()
    expect(phone.locator("#verdict")).to_have_class(re.compile("stale"))
    assert phone.locator("#verdict n-b").count()
    assert not_struck(phone) == []
    axe(phone)
    picture(phone, "inspect-crossed-out-phone")
    phone.context.set_offline(False)
    expect(phone.locator("#offline")).to_be_hidden()
    expect(phone.locator("#crossed")).to_be_hidden()
    expect(phone.locator("#verdict")).not_to_have_class(re.compile("stale"))
    expect(phone.locator("#verdict")).to_contain_text("Worn plates that were not judged")


def test_opened_and_opened_again_without_signal(phone: Page, joint: RecordedPlan) -> None:
    enter(phone, "crew")
    _opened(phone, joint)
    on_the_phone(phone)
    phone.context.set_offline(True)
    phone.reload()
    phone.wait_for_selector("#inspection[data-works-here=yes]")
    for _ in range(4):
        phone.get_by_role("button", name="Plate 2, leading end").tap()
    expect(phone.locator("#verdict .level")).to_be_visible()
    first = phone.locator("[name=inspection]").input_value()
    # What was marked is there after the next opening, as the same inspection.
    phone.reload()
    expect(phone.locator("#restored")).to_be_visible()
    expect(phone.get_by_role("button", name="Plate 2, leading end: lost")).to_be_visible()
    assert phone.locator("[name=inspection]").input_value() == first
    expect(phone.locator("#verdict .level")).to_be_visible()
    phone.get_by_role("button", name="Plate 3, leading end").tap()
    phone.get_by_role("button", name="Record the inspection").click()
    expect(phone.locator("#offline")).to_contain_text("waits on this device")
    # The question of the last tap finds no answer a moment later: what was said stands.
    phone.wait_for_timeout(500)
    expect(phone.locator("#offline")).to_contain_text("waits on this device")
    # Nor does a signal that comes and goes keep it a second time.
    phone.evaluate("window.dispatchEvent(new Event('online'))")
    # Opened once more it is another inspection: two of them must not run into one.
    phone.reload()
    expect(phone.locator("#restored")).to_be_hidden()
    assert phone.locator("[name=inspection]").input_value() != first
    # The first page without signal lists it.
    phone.goto("/")
    phone.get_by_role("link", name="Inspect J1").click()
    expect(phone.get_by_role("heading", name="Inspect J1")).to_be_visible()


def test_a_finding_has_its_row_note_and_photograph(
    phone: Page, joint: RecordedPlan, register: SqlRegister
) -> None:
    """Marked, noted and photographed without signal; at the next inspection it stands beside."""
    enter(phone, "crew")
    _opened(phone, joint)
    on_the_phone(phone)
    phone.context.set_offline(True)
    for end in ("leading", "trailing"):
        phone.get_by_label(f"all others of the {end} end").check()
    for number in (2, 3, 5, 7):  # one more than the page has rows
        for _ in range(3):
            phone.get_by_role("button", name=f"Plate {number}, leading end").tap()
    row = phone.get_by_role("group", name="Plate row 4")
    expect(row.get_by_label("Plate number")).to_have_value("7")
    row.get_by_label("Note").fill("bolt heads gone")
    shot = BytesIO()
    Image.new("RGB", (400, 300), "tan").save(shot, "JPEG")
    row.locator("input[type=file]").set_input_files(
        {"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": shot.getvalue()}
    )
    expect(row.locator(".thumbs img")).to_have_count(1)
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    phone.reload()
    row = phone.get_by_role("group", name="Plate row 4")
    expect(row.get_by_label("Note")).to_have_value("bolt heads gone")
    expect(row.locator(".thumbs img")).to_have_count(1)
    picture(phone, "inspect-findings-phone")
    # Good again: the row of a plate of which nothing else was said is free again.
    phone.get_by_role("button", name="Plate 2, leading end").tap()
    first = phone.get_by_role("group", name="Plate row 1")
    expect(first.get_by_label("Plate number")).to_have_value("")
    phone.get_by_role("button", name="Record the inspection").click()
    expect(phone.locator("#offline")).to_contain_text("waits on this device")
    phone.context.set_offline(False)
    wait_sent(phone)
    (round_,) = inspections(register.facts_about(joint.joint))
    (photo,) = (entry.what for entry in round_.photos)
    assert isinstance(photo, PhotoAdded)
    assert (photo.end, photo.plate) == (End.LEADING, 7)
    phone.goto(f"/joints/{joint.joint}/inspections/{round_.inspection}")
    expect(phone.get_by_alt_text("Photograph 1 of plate 7, leading end")).to_be_visible()
    expect(phone.get_by_text("bolt heads gone")).to_be_visible()
    phone.goto(f"/joints/{joint.joint}/inspect")
    phone.locator(".last summary").click()
    expect(phone.locator(".last li")).to_have_count(3)
    expect(phone.locator("#inspection .strip").first.locator("path.before")).to_have_count(3)
    axe(phone)
    fits(phone)
    picture(phone, "inspect-last-time-phone")


def test_an_inspection_stands_beside_the_one_before(
    desk: Page, joint: RecordedPlan, register: SqlRegister, clock: Clock
) -> None:
    """Plate by plate what was and what is; what was mended since is told too."""
    for found in (
        {(End.LEADING, 3): PlateState.WORN, (End.TRAILING, 9): PlateState.CRACKED},
        {(End.LEADING, 3): PlateState.LOST, (End.LEADING, 4): PlateState.WORN},
    ):
        id_ = uuid4()
        facts: list[What] = [EndInspected(joint.joint, id_, end, 22) for end in End]
        facts += [
            PlateInspected(joint.joint, id_, end, plate, state)
            for (end, plate), state in found.items()
        ]
        for what in facts:
            register.append(Fact(uuid4(), clock(), "Ada Example", what))
        clock.pass_(days=30)
    enter(desk, "crew")
    desk.goto(f"/joints/{joint.joint}/inspections/{id_}")
    rows = [row.inner_text().split("\t")[:3] for row in desk.locator("tbody tr").all()]
    assert rows == [
        ["3, leading end", "worn", "lost"],
        ["4, leading end", "ok", "worn"],
        ["9, trailing end", "cracked", "ok"],
    ]
    # On a desk all plates of both pictures are seen at once.
    strips = desk.locator(".strip")
    assert strips.count() == 2
    for strip in strips.all():
        assert strip.evaluate("e => e.scrollWidth <= e.clientWidth")
    axe(desk)
    fits(desk)
    picture(desk, "inspection-beside-the-last-desk")
