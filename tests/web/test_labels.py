"""Labels: what the codes say, read back from the page's own PDF; where scanning leads."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import quote
from uuid import uuid4

import pypdfium2
import pytest
import zxingcpp
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from splicewright.actions.plan.record import RecordedPlan
from splicewright.store.sql.register import SqlRegister
from web.conftest import PASSWORD, enter
from web.looking import axe, fits, picture, small_targets
from web.planned import plan_on_incline

Enter = Callable[[str], TestClient]
BASE = "https://joints.karst-hollow.example"


@pytest.fixture
def joint(register: SqlRegister) -> RecordedPlan:
    return plan_on_incline(register)


def _codes(pdf: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(pdf)
    pages = [page.render(scale=200 / 72).to_pil() for page in document]
    document.close()
    return [code.text for page in pages for code in zxingcpp.read_barcodes(page)]


@pytest.mark.parametrize("size", ["large", "small"])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_codes_lead_to_joint_job_and_conveyor(
    signed_in: Enter, register: SqlRegister, joint: RecordedPlan, size: str, paper: str
) -> None:
    client = signed_in("viewer")
    plant = register.joint(joint.joint)
    assert plant is not None
    chosen = {"joint": str(joint.joint), "job": str(joint.job), "conveyor": str(plant.conveyor)}
    got = client.get("/labels.pdf", params=chosen | {"base": BASE, "size": size, "paper": paper})
    assert got.headers["content-type"] == "application/pdf"
    assert sorted(_codes(got.content)) == sorted(
        [f"{BASE}/joints/{joint.joint}", f"{BASE}/jobs/{joint.job}",
         f"{BASE}/conveyors/{plant.conveyor}"]
    )  # fmt: skip
    twice = client.get(
        "/labels.pdf", params={"joint": chosen["joint"], "base": BASE, "copies": "2"}
    )
    assert _codes(twice.content) == [f"{BASE}/joints/{joint.joint}"] * 2


def test_without_a_typed_base_the_code_leads_here(signed_in: Enter, joint: RecordedPlan) -> None:
    client = signed_in("viewer")
    got = client.get("/labels.pdf", params={"joint": str(joint.joint)})
    assert _codes(got.content) == [f"{client.base_url}/joints/{joint.joint}".replace("//j", "/j")]


def test_bad_labels(signed_in: Enter, joint: RecordedPlan) -> None:
    client = signed_in("crew")
    for base in ("javascript:alert(1)", "https://user:pw@evil.example", "ftp://x", "https://a b",
                 "https://x.example/" + "a" * 200, "https://x.example/?q=1"):  # fmt: skip
        where = f"joint={joint.joint}&base={quote(base, safe='')}"
        page = client.get(f"/labels?{where}")
        assert page.status_code == 422
        assert "is no address of this app" in page.text
        assert client.get(f"/labels.pdf?{where}").status_code == 422
    for copies in ("0", "-1", "9999", "two", ""):
        assert client.get(f"/labels.pdf?joint={joint.joint}&copies={copies}").status_code == 422
    assert client.get(f"/labels?joint={uuid4()}").status_code == 404
    assert client.get("/labels.pdf").status_code == 422
    assert client.get(f"/joints/{uuid4()}/label").status_code == 404
    many = "&".join(f"joint={uuid4()}" for _ in range(201))
    assert client.get(f"/labels?{many}").status_code == 422


def test_scanning_leads_to_the_page_after_signing_in(phone: Page, joint: RecordedPlan) -> None:
    phone.goto(f"/joints/{joint.joint}/plan")
    phone.get_by_label("Name", exact=True).fill("viewer")
    phone.get_by_label("Password").fill(PASSWORD)
    phone.get_by_role("button", name="Sign in").click()
    phone.wait_for_url(f"**/joints/{joint.joint}/plan")


def test_labels_on_a_phone(phone: Page, joint: RecordedPlan) -> None:
    enter(phone, "crew")
    phone.goto("/labels")
    axe(phone)
    fits(phone)
    phone.get_by_role("link", name="K2 incline").click()
    expect(phone.locator(".stickers li")).to_have_count(2)
    expect(phone.locator("main")).to_contain_text("is this computer only")
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    picture(phone, "labels-phone")
    phone.set_viewport_size({"width": 360, "height": 740})
    fits(phone)


def test_labels_on_a_desk(desk: Page, joint: RecordedPlan) -> None:
    enter(desk, "crew")
    desk.goto(f"/joints/{joint.joint}/label")
    desk.get_by_label("Address in the codes").fill(BASE)
    desk.get_by_role("button", name="Show").click()
    expect(desk.locator(".stickers")).to_contain_text(f"{BASE}/joints/")
    axe(desk)
    fits(desk)
    picture(desk, "labels-desk")
