"""A job filled in on a phone, with signal."""

from __future__ import annotations

from playwright.sync_api import Page

from splicewright.actions.record_plan import RecordedPlan
from web.conftest import enter
from web.looking import axe, fits, picture, small_targets


def test_a_job_on_a_phone(phone: Page, job: RecordedPlan) -> None:
    enter(phone, "crew")
    phone.goto(f"/jobs/{job.job}")
    phone.wait_for_selector("html[data-kept=true]")
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    picture(phone, "job-phone")
