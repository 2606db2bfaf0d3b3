"""Find by any word or number; a label's code leads to its page; nothing of others' sites shows."""

from __future__ import annotations

import re
from collections.abc import Callable
from uuid import uuid4

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from splicewright.actions.register.search import page_of_code
from splicewright.store.sql.register import SqlRegister
from store.making import Clock, Plant
from web.conftest import enter
from web.looking import axe, fits, picture, small_targets
from web.planned import plan_on_incline

Enter = Callable[[str], TestClient]


def _links(text: str) -> set[str]:
    """Pages that a list of what was found leads to."""
    return set(re.findall(r'<li><a href="([^"]+)"', text.partition("<main")[2]))


def test_any_word_or_number_finds(signed_in: Enter, register: SqlRegister) -> None:
    """Brute force: a joint's number with any word of its conveyor's name or site finds it."""
    made = {label: plan_on_incline(register, label) for label in ("J1", "J12", "K-7")}
    there = register.joint(made["J1"].joint)
    assert there is not None
    conveyor = register.conveyor(there.conveyor)
    assert conveyor is not None
    site = next(s.name for s in register.sites() if s.site == conveyor.site)
    client = signed_in("crew")
    for label, one in made.items():
        words = [label, label.lower(), *conveyor.name.split(), *site.split()]
        for other in words:
            found = _links(client.get("/find", params={"q": f"{other} {label}"}).text)
            assert f"/joints/{one.joint}" in found, (other, label)
            assert (f"/joints/{made['J12'].joint}" in found) == (label in "J12")
    by_number = _links(client.get("/find", params={"q": "12"}).text)
    assert f"/joints/{made['J12'].joint}" in by_number
    assert f"/joints/{made['J1'].joint}" not in by_number
    both = _links(client.get("/find", params={"q": conveyor.name}).text)
    assert f"/conveyors/{conveyor.conveyor}" in both and f"/jobs/{made['J1'].job}" in both
    # What stands for any text in a database stands for itself here.
    for odd in ("%", "_", "J1%", "'", "\\", "J_2"):
        assert not _links(client.get("/find", params={"q": odd}).text), odd
    assert "Nothing has every word" in client.get("/find", params={"q": "<b>zzz"}).text
    assert "<b>zzz" not in client.get("/find", params={"q": "<b>zzz"}).text
    assert client.get("/find").status_code == 200
    assert client.get("/?q=J1").headers["location"].startswith("/find?q=J1")


def test_it_says_that_there_is_more_only_where_something_is_left_out(
    signed_in: Enter, register: SqlRegister
) -> None:
    """Counted by hand: twenty are listed, all there are; the next is left out, and it says so."""
    plant = Plant(Clock())
    plant.begin(register)
    client = signed_in("viewer")
    for count in range(1, 21):
        plant.joint(register, f"ZQ{count}")
    every = client.get("/find", params={"q": "zq"}).text
    assert len(_links(every)) == 20
    assert "There is more" not in every
    plant.joint(register, "ZQ21")
    some = client.get("/find", params={"q": "zq"}).text
    assert len(_links(some)) == 20
    assert "There is more: add a word" in some


def test_people_are_found_by_who_may_see_them(signed_in: Enter) -> None:
    assert "Viewer Example" in signed_in("lead").get("/find?q=viewer").text
    assert "Viewer Example" not in signed_in("crew").get("/find?q=viewer").text


@pytest.mark.parametrize("kind", ["joints", "jobs", "conveyors"])
def test_a_code_leads_to_its_page_and_nowhere_else(signed_in: Enter, kind: str) -> None:
    id_ = uuid4()
    client = signed_in("viewer")
    for text in (f"https://belts.example/{kind}/{id_}", f" http://10.0.0.7:8000/x/{kind}/{id_} ",
                 f"/{kind}/{str(id_).upper()}"):  # fmt: skip
        answer = client.get("/find", params={"q": text})
        assert (answer.status_code, answer.headers["location"]) == (303, f"/{kind}/{id_}")
    for text in (f"https://belts.example/people/{id_}", f"{kind}/{str(id_)[:-1]}",
                 f"/{kind}/{id_}0", "javascript:alert(1)", "//elsewhere.example/"):  # fmt: skip
        assert page_of_code(text) == ""
        assert client.get("/find", params={"q": text}).status_code == 200


_CAMERA = """
window.BarcodeDetector = class {
  async detect() { return [{ rawValue: window.codeShown }]; }
};
const canvas = document.createElement("canvas");
canvas.getContext("2d");
Object.defineProperty(navigator, "mediaDevices", { value: {
  getUserMedia: async () => canvas.captureStream(5),
} });
"""
"""Chromium on a desk has neither: a camera that shows one code, and a reader that reads it."""


def test_a_label_is_scanned(phone: Page, register: SqlRegister) -> None:
    made = plan_on_incline(register)
    enter(phone, "crew")
    phone.goto("/find")
    # Where the browser reads no codes there is the box.
    expect(phone.get_by_role("button", name="Scan a label")).to_be_hidden()
    phone.get_by_label("Conveyor, joint, job").fill("j1")
    phone.get_by_role("button", name="Find").click()
    expect(phone.get_by_role("heading", name="Joints")).to_be_visible()
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    picture(phone, "find-phone")
    phone.add_init_script(_CAMERA + f'codeShown = "https://belts.example/joints/{made.joint}";')
    phone.goto("/")
    phone.get_by_role("button", name="Scan a label").click()
    expect(phone.get_by_role("heading", name="Joint J1")).to_be_visible()
