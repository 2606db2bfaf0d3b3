"""Whatever a question asks at the door "page" stands in the form of its page.

A template names the fields in the order in which people read them, so a field that is declared and
not named there could not be typed: the day of a shutdown was one.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient

from splicewright.actions.fleet.question import FleetAsked
from splicewright.actions.inspection_interval.question import LookHereAsked
from splicewright.actions.plan.record import RecordedPlan
from splicewright.actions.planner import PlannerAsked
from splicewright.actions.shutdown.question import JobsAsked, JointsAsked
from splicewright.files.question import Question, asked_by
from splicewright.store.sql.register import SqlRegister

PAGES: dict[str, tuple[type[Question], ...]] = {
    "/fleet": (FleetAsked,),
    "/planner": (PlannerAsked,),
    "/shutdown": (JointsAsked, JobsAsked),
    "/conveyors/{c}/inspection-interval": (LookHereAsked,),
}
OTHERWISE = {"job": "open jobs are ticked in a list"}


@pytest.mark.parametrize("page", PAGES)
def test_every_field_of_a_page_can_be_typed_there(
    register: SqlRegister, job: RecordedPlan, signed_in: Callable[[str], TestClient], page: str
) -> None:
    assert register.jobs(open_only=True)  # without one, no jobs are asked about
    conveyor = next(iter(register.conveyors())).conveyor
    text = signed_in("lead").get(page.format(c=conveyor)).text
    named = set(re.findall(r'<(?:input|select|textarea)[^>]* name="([^"]+)"', text))
    for model in PAGES[page]:
        fields = {field.name for field in asked_by(model, "page")} - set(OTHERWISE)
        assert fields <= named, (model.__name__, fields - named)
