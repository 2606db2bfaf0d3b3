"""Roles in every order at every door: the model of the store's test, asked through all of them.

Pages, phones, the API with a session and the API with a key. Whatever was said by whom through
which, a joint is let go by leads alone, a refusal leaves no fact, and the role alone decides.
"""

from __future__ import annotations

from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import initialize, rule

from depth import examples, sized
from splicewright.store import CONSOLE, PersonRole, What
from splicewright.store.facts.joint_facts import DueSet, Task
from splicewright.store.facts.plant_facts import ConveyorRecorded
from splicewright.web.app.room import Room
from store.test_roles_machine import Roles
from web.apps import Visit, app_over
from web.authority_doors import Doors
from web.conftest import People

_DOORS = ("page", "sync", "session", "key")
_ROLES = st.sampled_from(list(PersonRole))
_LEADS = {PersonRole.LEAD, PersonRole.ADMIN}


class AtEveryDoor(Roles):
    """The same people, each with a page, a phone and a key of their own."""

    doors: Doors

    @initialize()
    def begin(self) -> None:
        super().begin()
        accounts = self.register.accounts(hash_memory=64)
        people = People(accounts)
        there = {role.value: people.add(role) for role in PersonRole}
        self.visit = Visit()
        clock: Any = self.clock
        room = Room(self.register, accounts, clock, secure=False, invented=True)
        app = app_over(room, self.visit)
        self.doors = Doors(app, self.register, accounts, clock, there)
        for account in there.values():
            self.doors._client(account)
        self.door = "page"
        self.facts = self.register.head().seq

    @rule(door=st.sampled_from(_DOORS))
    def go_to(self, door: str) -> None:
        self.door = door

    def say(self, role: PersonRole, what: What) -> bool:
        self.clock.pass_(60)
        who = self.doors.people[role.value]
        refused = getattr(self.doors, self.door)(who, what)
        assert all(refused) and len(refused) <= 1, refused  # one sentence that says why
        self.facts += not refused
        return not refused

    @rule(role=_ROLES, late=st.booleans())
    def put_renewal_off(self, role: PersonRole, late: bool) -> None:
        when = self.clock() if late else None
        taken = self.say(role, DueSet(self.joint, Task.RENEW, when, "by the forecast"))
        # A desk's fact: no phone keeps it for later.
        assert taken is (role in _LEADS and self.door != "sync"), (role, self.door)

    @rule(role=_ROLES)
    def replace_the_conveyor(self, role: PersonRole) -> None:
        what = ConveyorRecorded(self.plant.conveyor, self.plant.site, "K2", None, 240.0, 99.0)
        taken = self.say(role, what)
        assert taken is (role in _LEADS and self.door != "sync"), (role, self.door)
        if taken:  # put it back, that the next refusal shows
            back = ConveyorRecorded(self.plant.conveyor, self.plant.site, "K2", None, 240.0, 2.0)
            self.register.said_by(CONSOLE).append(self.plant.fact(back))
            self.facts += 1
        assert [c.speed for c in self.register.conveyors()] == [2.0]

    def teardown(self) -> None:
        if hasattr(self, "doors"):
            self.doors.close()
        super().teardown()


TestAtEveryDoor = AtEveryDoor.TestCase
TestAtEveryDoor.settings = settings(
    max_examples=examples(4), stateful_step_count=sized(16, deep=40), deadline=None,
    suppress_health_check=list(HealthCheck),
)  # fmt: skip
