"""Roles in every order at every door: the model of the store's test, asked through all of them.

Pages, phones, the API with a session and the API with a key; tables imported as somebody and by the
command line; corrections through each of the first four. Whatever was said by whom through which, a
joint is let go by leads alone, a refusal leaves no fact, and the role alone decides.
"""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from click.testing import CliRunner
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import initialize, precondition, rule

from depth import examples, sized
from splicewright.actions.register.import_rows import import_table
from splicewright.cli import main
from splicewright.store import CONSOLE, Actor, PersonRole, Scope, What
from splicewright.store.authority import DECIDED, MUST_NOT_RUN, PUT_OFF
from splicewright.store.facts.joint_facts import (
    DueSet,
    InspectionClosed,
    JointPutToWork,
    JointSuspended,
    Task,
)
from splicewright.store.facts.plant_facts import ConveyorRecorded
from splicewright.web.app.room import Room
from store.test_roles_machine import Roles
from web.apps import Visit, app_over
from web.authority_doors import Doors
from web.conftest import People

_DOORS = ("page", "sync", "session", "key")
_ROLES = st.sampled_from(list(PersonRole))
_LEADS = {PersonRole.LEAD, PersonRole.ADMIN}
_DECIDING = (InspectionClosed, JointPutToWork, JointSuspended)


def _stands(facts: list[What]) -> tuple[bool, bool]:
    """Whether a joint must not run, and is suspended, after these in their order."""
    bad = suspended = False
    for what in facts:
        if isinstance(what, InspectionClosed) and what.can_run is not None:
            bad = not what.can_run
        elif isinstance(what, JointPutToWork):
            bad = suspended = False
        elif isinstance(what, JointSuspended):
            suspended = True
    return bad, suspended


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
        # The joint of a table that was imported, so that tables can speak of it again.
        self.import_(CONSOLE, self.clock() - timedelta(days=1), None)
        (self.joint,) = [j.joint for j in self.register.joints() if j.label == "J9"]
        self.facts = self.register.head().seq
        self.log: list[tuple[UUID, What]] = []
        self.corrected: set[UUID] = set()

    @rule(door=st.sampled_from(_DOORS))
    def go_to(self, door: str) -> None:
        self.door = door

    def say(self, role: PersonRole, what: What) -> bool:
        self.clock.pass_(60)
        who = self.doors.people[role.value]
        refused = getattr(self.doors, self.door)(who, what)
        assert all(refused) and len(refused) <= 1, refused  # one sentence that says why
        self.facts += not refused
        self.why = refused[0] if refused else ""
        if not refused and isinstance(what, _DECIDING):
            (stored,) = self.register.said_by(CONSOLE).facts_since(self.facts - 1)
            self.log.append((stored.fact.id, what))
        return not refused

    def import_(self, who: Actor, day: datetime, person: UUID | None) -> tuple[int, str]:
        """The joint put to work on a day, in a table; facts recorded, and the refusal."""
        done = import_table(
            self.register.said_by(who), "joints", "joints.csv", self.table(day),
            by=who.name or "Console Example", now=self.clock(), person=person,
        )  # fmt: skip
        return done.recorded, str(done.refused[0].faults[0]) if done.refused else ""

    def table(self, day: datetime) -> bytes:
        site = "Karst Hollow (invented)"
        row = f"{site},K2,J9,2026-01-05,{day.date()}"
        return f"site,conveyor,label,built,put to work\n{row}\n".encode()

    def to_the_next_day(self) -> None:
        """A table says days only: what it says is then later than all before."""
        now = self.clock()
        midnight = now.replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(days=1)
        self.clock.pass_((midnight - now).total_seconds() + 60)

    def took(self, recorded: int, refused: str, *, may: bool) -> None:
        """What came of a table: the joint was built already, so one fact or a refusal."""
        assert (recorded, bool(refused)) == ((1, False) if may else (0, True)), refused
        self.facts += recorded
        if recorded:
            (stored,) = self.register.said_by(CONSOLE).facts_since(self.facts - 1)
            self.log.append((stored.fact.id, stored.fact.what))

    @rule(role=_ROLES)
    def import_put_to_work(self, role: PersonRole) -> None:
        """By a worker, as whoever asked for it."""
        self.to_the_next_day()
        there = self.doors.people[role.value]
        who = Actor(there.account, there.name, role, frozenset({Scope.RECORD}), sites=there.sites)
        barred = self.bad or self.suspended  # a table states no reason
        may = role is not PersonRole.VIEWER and not barred
        self.took(*self.import_(who, self.clock(), there.account), may=may)

    @rule()
    def import_at_the_console(self) -> None:
        self.to_the_next_day()
        file = self.folder / "joints.csv"
        file.write_bytes(self.table(self.clock()))
        words = ["register", "import", "joints", str(file), "--by", "Ada Example", "--json",
                 "--register", str(self.folder / "register.sqlite")]  # fmt: skip
        done = CliRunner().invoke(main, words)
        assert done.exit_code == 0, done.output
        answer = json.loads(done.output)
        refused = str(answer["refused"]) if answer["refused"] else ""
        self.took(answer["recorded"], refused, may=not (self.bad or self.suspended))

    @precondition(lambda self: any(id not in self.corrected for id, _ in getattr(self, "log", ())))
    @rule(role=_ROLES, which=st.integers(0, 99))
    def take_back(self, role: PersonRole, which: int) -> None:
        """Withdraw what somebody said, as a slip; what is left says how the joint stands."""
        left = [one for one in self.log if one[0] not in self.corrected]
        id, what = left[which % len(left)]
        barred = self.bad or self.suspended
        bad, suspended = _stands([w for i, w in left if i != id])
        taken = self.say(role, self.doors.correct(id))
        frees = barred and not (bad or suspended)
        if role in _LEADS:
            assert taken, self.why
        elif role is PersonRole.VIEWER:
            assert not taken
        elif isinstance(what, InspectionClosed) and what.can_run is not None:
            assert not taken and self.why == DECIDED
        elif frees:
            assert not taken and self.why == MUST_NOT_RUN
        else:  # crew may say it was a slip, unless that would put a renewal off
            assert taken or self.why == PUT_OFF, self.why
        if taken:
            self.corrected.add(id)
            self.bad, self.suspended = bad, suspended

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
