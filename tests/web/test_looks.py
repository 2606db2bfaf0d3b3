"""Pages in a browser, on a phone and on a desk."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from web.conftest import enter
from web.looking import axe, fits, picture, small_targets


def test_sign_in_and_find_on_a_phone(phone: Page) -> None:
    phone.goto("/sign-in")
    axe(phone)
    fits(phone)
    picture(phone, "sign-in-phone")
    enter(phone, "crew")
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    picture(phone, "conveyors-phone")
    phone.get_by_label("Find by name or site").press_sequentially("incl")
    expect(phone.locator("#found li")).to_have_count(1)


def test_sign_in_and_find_on_a_desk(desk: Page) -> None:
    enter(desk, "lead")
    axe(desk)
    fits(desk)
    assert not small_targets(desk)
    picture(desk, "conveyors-desk")
