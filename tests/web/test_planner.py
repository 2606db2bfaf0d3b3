"""The planner's page: the same words as the terminal, in a browser and on paper."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from splicewright.actions.planner import PlannerAsked, see_planner
from splicewright.sheets.reports.planner import planner_answer, planner_report
from splicewright.store.sql.register import SqlRegister
from web.conftest import START, enter
from web.looking import axe, fits, picture, small_targets

COSTS = (
    "planned_cost=3000&failure_cost=24000&look_cost=120&currency=EUR&lead_time=6+weeks"
    "&warning=200+h&use=time"
)
ASKED = PlannerAsked(
    planned_cost=3000, failure_cost=24000, look_cost=120, currency="EUR", lead_time="6 weeks",
    warning="200 h", use="time",
)  # fmt: skip


@pytest.fixture
def register(example_register: SqlRegister) -> SqlRegister:
    return example_register


def test_page_and_terminal_say_the_same(
    register: SqlRegister, signed_in: Callable[[str], TestClient]
) -> None:
    study = see_planner(register, START, ASKED)
    viewer = signed_in("viewer")
    page = viewer.get(f"/planner?{COSTS}").text
    for said in planner_answer(study):
        assert said in page
    terminal = "\n".join(planner_report(study).lines())
    for title in ("Now", f"At the stop on {study.until}", "Order", "Running past the cheapest age"):
        assert f"<h2>{title}</h2>" in page and f"\n{title}\n" in terminal
    assert study.past and all(f"joint {j.joint}: past since" in page for j in study.past)
    assert "nine times in ten" in page and "with a failure at half its cost" in page
    paper = viewer.get(f"/planner.pdf?{COSTS}")
    assert paper.status_code == 200 and paper.content.startswith(b"%PDF")


def test_each_number_of_the_page_is_explained(
    register: SqlRegister, signed_in: Callable[[str], TestClient]
) -> None:
    """The page names its worksheet; each number there is reached with what was asked."""
    viewer = signed_in("viewer")
    for at, asked, key in (
        ("/planner", COSTS, "planner.renewed"), ("/fleet", "failure_cost=8000", "fleet.cost"),
    ):  # fmt: skip
        assert f'href="{at}/why?' in viewer.get(f"{at}?{asked}").text
        told = viewer.get(f"{at}/why?{asked}").text
        assert f'href="{at}/why/{key}?{asked.split("&")[0]}' in told
        one = viewer.get(f"{at}/why/{key}?{asked}")
        assert one.status_code == 200 and "It rests on" in one.text
        assert viewer.get(f"{at}/why/no.such?{asked}").status_code == 404


def test_without_costs_it_says_what_to_say(signed_in: Callable[[str], TestClient]) -> None:
    page = signed_in("viewer").get("/planner").text
    assert "say what a planned renewal and what a failure costs" in page
    wrong = signed_in("crew").get("/planner?until=2026-06-01&after=2026-05-20&" + COSTS)
    assert wrong.status_code == 422 and "not after the coming stop" in wrong.text


def test_on_a_phone_and_a_desk(phone: Page, desk: Page, register: SqlRegister) -> None:
    for page, name in ((phone, "phone"), (desk, "desk")):
        enter(page, "lead")
        page.goto(f"/planner?{COSTS}")
        expect(page.get_by_role("heading", name="Where to look")).to_be_visible()
        expect(page.get_by_role("heading", name="every joint weighed")).to_be_visible()
        if (folded := page.locator("summary", has_text="All ")).count():
            folded.click()
        axe(page)
        fits(page)
        assert not small_targets(page)
        picture(page, f"planner-{name}")
        page.get_by_role("link", name="How the numbers came about").click()
        fits(page)
        picture(page, f"planner-numbers-{name}")
