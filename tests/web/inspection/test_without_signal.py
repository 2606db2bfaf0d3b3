"""An inspection without signal: the verdict of now on the phone, or none; the page opens again."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from splicewright.actions.plan.record import RecordedPlan
from splicewright.store.sql.register import SqlRegister
from web.between import Between
from web.conftest import enter
from web.looking import axe, fits, picture
from web.planned import plan_on_incline
from web.working import on_the_phone


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
    return [
        verdict.locator(".level").inner_text(),
        *verdict.locator("> ul li").all_inner_texts(),
        *verdict.locator("details li").all_text_contents(),
    ]


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
    phone.get_by_role("button", name="Record the inspection").click()
    expect(phone.locator("#offline")).to_contain_text("waits on this device")
    # Opened once more it is another inspection: two of them must not run into one.
    phone.reload()
    expect(phone.locator("#restored")).to_be_hidden()
    assert phone.locator("[name=inspection]").input_value() != first
    # The first page without signal lists it.
    phone.goto("/")
    phone.get_by_role("link", name="Inspect J1").click()
    expect(phone.get_by_role("heading", name="Inspect J1")).to_be_visible()
