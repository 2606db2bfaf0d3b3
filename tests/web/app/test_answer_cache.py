"""Parts of pages that are kept: never stale, never another's, never too many."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from uuid import uuid4

import pytest
from fastapi.testclient import TestClient
from markupsafe import Markup

from splicewright.store import Fact, State
from splicewright.store.facts.joint_facts import DueSet, Task
from splicewright.store.sql.register import SqlRegister
from splicewright.web.app.answer_cache import Kept
from splicewright.web.app.list_marks import due_when, state
from web.conftest import START, Clock

SignedIn = Callable[[str], TestClient]


@pytest.fixture
def register(told: SqlRegister) -> SqlRegister:
    """The invented site with its past."""
    return told


def test_a_part_is_made_once_and_the_least_wanted_goes_first() -> None:
    made: list[str] = []

    def part(key: str) -> Markup:
        def make() -> Markup:
            made.append(key)
            return Markup(key * 4)

        return kept.part(key, make)

    kept = Kept(most=8)
    assert [part("a"), part("b"), part("a"), part("c"), part("a"), part("b")] == [
        Markup(key * 4) for key in "abacab"
    ]
    assert made == ["a", "b", "c", "b"]
    assert Kept(most=2).part("k", lambda: Markup("more than fits")) == "more than fits"


def test_the_due_list_tells_a_new_fact_at_once_and_the_time_by_the_minute(
    signed_in: SignedIn, register: SqlRegister, clock: Clock
) -> None:
    viewer, crew = signed_in("viewer"), signed_in("crew")
    joint = register.joints(states=[State.RUNNING])[0]

    def due(at: datetime, why: str) -> None:
        what = DueSet(joint.joint, Task.INSPECT, at, why)
        register.append(Fact(uuid4(), clock(), "Ada Example", what))

    due(clock() + timedelta(hours=2), "a first reason")
    for _ in range(2):
        text = viewer.get("/due").text
        assert "a first reason" in text
        assert "Inspect now" not in text
        assert "Inspect now" in crew.get("/due").text
    assert "a first reason" not in viewer.get("/due?ahead=now").text
    due(clock() + timedelta(hours=2), "another reason")
    assert "another reason" in viewer.get("/due").text
    assert "a first reason" not in crew.get("/due").text
    assert "another reason" not in viewer.get("/due?ahead=now").text
    clock.pass_(hours=3)  # nothing is recorded meanwhile
    assert "another reason" in viewer.get("/due?ahead=now").text
    assert viewer.get("/due").text.count("Viewer Example") == 1
    assert "Viewer Example" not in crew.get("/due").text


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        (-25, "2 days overdue"),
        (-1, "1 day overdue"),
        (1, "within a day"),
        (25, "in 1 day<"),
        (24 * 7 + 1, "in 7 days<"),
        (24 * 8 + 1, "in 8 days <time"),
    ],
)
def test_when_a_task_is_due(hours: int, said: str) -> None:
    assert said in due_when(START + timedelta(hours=hours), START)


def test_a_joint_that_must_not_run_says_so_while_it_is_in_the_belt() -> None:
    assert "must not run" in state(State.SUSPENDED, can_run=False)
    assert "must not run" in state(State.RUNNING, can_run=False)
    assert "must not run" not in state(State.RUNNING, can_run=True)
    assert "must not run" not in state(State.RUNNING)
    assert "must not run" not in state(State.REMOVED, can_run=False)
