"""Pages in a browser: on a phone and on a desk, dark and light, with nothing for axe to find."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from splicewright.store.sql.register import SqlRegister
from web.conftest import PASSWORD, enter
from web.looking import COLOURS, axe, fits, picture, small_targets


@pytest.fixture
def register(example_register: SqlRegister) -> SqlRegister:
    """The invented site with its past."""
    return example_register


def looked_at(page: Page, name: str) -> None:
    """The page is accessible, fits, can be hit with a glove; a picture of it is kept."""
    axe(page)
    fits(page)
    assert small_targets(page) == []
    picture(page, name)


def pages(register: SqlRegister) -> dict[str, str]:
    """Every page that a lead can open, by the name of its picture."""
    incline = next(c for c in register.conveyors() if c.name == "K2 incline")
    joint = next(j for j in register.joints(incline.conveyor) if j.label == "K2-4")
    return {
        "home": "/",
        "conveyors": "/conveyors",
        "conveyor": f"/conveyors/{incline.conveyor}",
        "assumed": f"/conveyors/{incline.conveyor}/assumed",
        "conveyor-history": f"/conveyors/{incline.conveyor}/history",
        "belt": f"/conveyors/{incline.conveyor}/belt",
        "limits": f"/conveyors/{incline.conveyor}/limits",
        "next-version": f"/conveyors/{incline.conveyor}/next",
        "add-conveyor": "/conveyors/add",
        "joint": f"/joints/{joint.joint}",
        "plan-form": f"/conveyors/{incline.conveyor}/plan",
        "plan": f"/joints/{joint.joint}/plan",
        "inspect": f"/joints/{joint.joint}/inspect",
        "inspections": f"/joints/{joint.joint}/inspections",
        "stock": f"/sites/{incline.site}/stock",
        "fasteners": f"/sites/{incline.site}/fasteners",
        "labels": f"/labels?joint={joint.joint}",
        "due": "/due",
        "people": "/people",
        "account-log": "/people/log",
        "me": "/me",
        "history": "/history",
        "not-here": "/nowhere",
    }


def test_sign_in_and_find_on_a_phone(phone: Page) -> None:
    phone.goto("/sign-in")
    looked_at(phone, "sign-in-phone")
    phone.get_by_label("Name", exact=True).fill("crew")
    phone.get_by_label("Password").fill(PASSWORD)
    phone.get_by_role("button", name="Sign in").click()
    phone.wait_for_url("**/")
    phone.goto("/conveyors")
    phone.get_by_label("Find by name or site").press_sequentially("incl")
    expect(phone.locator("#found li")).to_have_count(1)
    phone.get_by_text("Menu").click()
    looked_at(phone, "menu-phone")


def test_every_page_on_a_phone(phone: Page, register: SqlRegister) -> None:
    enter(phone, "admin")
    for name, path in pages(register).items():
        phone.goto(path)
        looked_at(phone, f"{name}-phone")
        # The narrowest phones show the same page, and those that are dark the same again.
        phone.set_viewport_size({"width": 360, "height": 740})
        fits(phone)
        phone.emulate_media(color_scheme="dark")
        fits(phone)
        axe(phone, COLOURS)
        picture(phone, f"{name}-dark")
        phone.emulate_media(color_scheme="light")
        phone.set_viewport_size({"width": 390, "height": 844})


def test_every_page_on_a_desk(desk: Page, register: SqlRegister) -> None:
    enter(desk, "admin")
    for name, path in pages(register).items():
        desk.goto(path)
        looked_at(desk, f"{name}-desk")
    desk.get_by_text("Menu").click()
    expect(desk.get_by_role("button", name="Sign out")).to_be_visible()
    looked_at(desk, "menu-desk")
