"""The due list as a page: what it asks the register for."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import event

from splicewright.store.facts.joint_facts import DueSet, Task
from splicewright.store.sql.register import SqlRegister
from store import making
from web.conftest import Clock


@pytest.mark.parametrize("path", ["/due", "/"])
def test_a_list_asks_no_question_for_each_of_its_lines(
    signed_in: Callable[[str], TestClient], register: SqlRegister, clock: Clock, path: str
) -> None:
    plant, client = making.Plant(making.Clock()), signed_in("crew")
    plant.begin(register)
    asked: list[str] = []
    event.listen(
        register._engine, "before_cursor_execute", lambda *a: asked.append(a[2]), named=False
    )

    def questions(joints: range) -> int:
        for number in joints:
            joint = plant.joint(register, f"J{number}")
            due = clock() - timedelta(hours=number)
            register.append(plant.fact(DueSet(joint, Task.INSPECT, due, "worn")))
        asked.clear()
        page = client.get(path)
        assert page.status_code == 200 and f"J{joints[-1]}" in page.text
        return len(asked)

    questions(range(1, 3))  # what is asked once is asked
    assert questions(range(3, 5)) == questions(range(5, 11))
