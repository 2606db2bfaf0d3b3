"""A vulcanised joint has no plates: no page offers its inspection plate by plate."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from uuid import uuid4

import pytest
from fastapi.testclient import TestClient

from splicewright.joint import Construction
from splicewright.store import Fact
from splicewright.store.facts.joint_facts import (
    VULCANISED,
    DueSet,
    JointBuilt,
    JointPutToWork,
    Task,
)
from splicewright.store.sql.register import SqlRegister
from web.conftest import Clock


@pytest.fixture
def register(example_register: SqlRegister) -> SqlRegister:
    """The invented site with its past."""
    return example_register


def test_no_page_offers_what_is_refused(
    register: SqlRegister, signed_in: Callable[[str], TestClient], clock: Clock
) -> None:
    assert VULCANISED == Construction.STEP
    there = next(j for j in register.joints() if j.construction == VULCANISED)
    due = DueSet(there.joint, Task.INSPECT, clock() - timedelta(days=1), "as agreed")
    for what in (JointBuilt(there.joint), JointPutToWork(there.joint), due):
        register.append(Fact(uuid4(), clock(), "Ada Example", what))
    crew = signed_in("crew")
    place, told = f"/joints/{there.joint}", "A vulcanised joint has no plates"
    refused = crew.get(f"{place}/inspect")
    assert refused.status_code == 422
    assert told in refused.text
    pages = ["/", "/due", "/rounds/due", f"/rounds/{there.conveyor}"]
    for path in (*pages, place, f"{place}/inspections", f"{place}/plan"):
        page = crew.get(path).text
        assert there.label in page, path
        assert f'{place}/inspect"' not in page, path
    # What is left out is said in its place.
    for path in (*pages[2:], place, f"{place}/inspections"):
        assert told in crew.get(path).text, path
    assert f"/conveyors/{there.conveyor}/forecast" in crew.get(place).text
