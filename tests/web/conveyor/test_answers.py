"""A conveyor added by answering, and changed answer by answer.

Source of what is expected: the conveyor file that the same answers make by hand (docs/files.md),
and the rule that the plant is for leads to record.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable

from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from planned import SITE
from splicewright.actions.conveyor.from_answers import (
    ASKED,
    answers_in,
    draft_conveyor,
)
from splicewright.actions.plan.record import RecordedPlan
from splicewright.actions.register.kept_files import kept_conveyor
from splicewright.plant import load_conveyor
from splicewright.store.sql.register import SqlRegister
from web.conftest import csrf_of, enter
from web.looking import axe, fits, picture, small_targets
from web.planned import keep_ranges

NEEDED = {
    "name": "K9 yard", "site": "North pit", "speed": "2 m/s", "centre_distance": "120 m",
    "lift": "12 m", "width": "1000 mm", "take_up": "gravity",
}  # fmt: skip


def test_there_are_twenty_questions_at_most_and_each_says_what_is_wrong() -> None:
    assert len(ASKED) <= 20
    missing = draft_conveyor({})
    assert {f.key for f in missing.faults} == set(NEEDED)
    wrong = draft_conveyor(NEEDED | {"width": "12 mm", "lift": "high", "power": "-1 kW"})
    told = {f.key: f.sentence for f in wrong.faults}
    assert set(told) == {"width", "lift", "power"}
    assert "accepted is 100 mm or more" in told["width"]
    assert draft_conveyor(NEEDED).faults == ()
    steep = draft_conveyor(NEEDED | {"lift": "200 m"})
    assert [f.key for f in steep.faults] == ["lift"]


def test_a_file_changed_by_an_answer_keeps_the_rest_of_it() -> None:
    for name in ("flat", "incline", "shuttle"):
        path = SITE / "conveyors" / f"{name}.toml"
        text = path.read_text("utf-8")
        assert draft_conveyor(answers_in(text), text).text == text
        draft = draft_conveyor(answers_in(text) | {"speed": "2.31 m/s"}, text)
        assert draft.conveyor is not None and draft.conveyor.speed.value == 2.31
        before, now = tomllib.loads(text), tomllib.loads(draft.text)
        assert now["conveyor"].pop("speed") == "2.31 m/s"
        before["conveyor"].pop("speed")
        assert now == before
        assert draft.text.count("#") == text.count("#")  # comments stay
        assert draft.conveyor.belt == load_conveyor(path).belt


def test_pages_are_for_leads_and_record_what_was_answered(
    register: SqlRegister, signed_in: Callable[[str], TestClient]
) -> None:
    lead, crew = signed_in("lead"), signed_in("crew")
    assert crew.get("/conveyors/new").status_code == 403
    refused = crew.post("/conveyors/new", data=NEEDED | {"csrf": csrf_of(crew)})
    assert refused.status_code == 403
    csrf = {"csrf": csrf_of(lead)}
    bad = lead.post("/conveyors/new", data=NEEDED | csrf | {"speed": ""})
    assert bad.status_code == 422 and "is missing; it must be given" in bad.text
    done = lead.post("/conveyors/new", data=NEEDED | csrf)
    assert done.status_code == 303
    (there,) = (c for c in register.conveyors() if c.name == "K9 yard")
    assert kept_conveyor(register, there.conveyor).speed.value == 2.0
    again = lead.post("/conveyors/new", data=NEEDED | csrf)
    assert again.status_code == 422 and "recorded at &#39;North pit&#39; already" in again.text
    where = f"/conveyors/{there.conveyor}/edit"
    assert crew.get(where).status_code == 403
    same = lead.post(where, data=NEEDED | csrf | {"drive_at": "head"})
    assert same.status_code == 422 and "nothing is changed" in same.text
    shown = lead.post(f"{where}/answer", data=NEEDED | csrf | {"speed": "3 m/s"}).text
    assert "before:" in shown or "running tension" in shown
    assert lead.post(where, data=NEEDED | csrf | {"speed": "3 m/s"}).status_code == 303
    newest = register.conveyor(there.conveyor)
    assert newest is not None and newest.file_version == 2 and newest.speed == 3.0


def test_answering_on_a_phone(phone: Page, register: SqlRegister) -> None:
    enter(phone, "lead")
    phone.goto("/conveyors/new")
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    picture(phone, "conveyor-answers-phone")
    for field, value in NEEDED.items():
        if field == "take_up":
            phone.locator('input[name="take_up"][value="gravity"]').check()
        else:
            phone.locator(f"#f-{field}").fill(value)
            phone.locator(f"#f-{field}").press("Tab")
    expect(phone.locator("#answer")).to_contain_text("values not stated by anyone")
    expect(phone.locator("#answer")).to_contain_text("What to measure next")
    axe(phone)
    picture(phone, "conveyor-answered-phone")
    phone.get_by_role("button", name="Add the conveyor").click()
    expect(phone.get_by_role("heading", name="K9 yard")).to_be_visible()


def test_a_changed_answer_shows_what_moves_in_an_open_job(
    desk: Page, register: SqlRegister, job: RecordedPlan
) -> None:
    there = register.job(job.job)
    assert there is not None
    conveyor = register.conveyor(there.conveyor)
    assert conveyor is not None
    keep_ranges(register, conveyor.site)
    enter(desk, "lead")
    desk.goto(f"/conveyors/{there.conveyor}/edit")
    axe(desk)
    fits(desk)
    desk.locator("#f-rate").fill("900 t/h")
    desk.locator("#f-rate").press("Tab")
    expect(desk.locator("#answer")).to_contain_text("its figures move")
    expect(desk.locator("#answer")).to_contain_text("before: ")
    picture(desk, "conveyor-edit-desk")
    axe(desk)
