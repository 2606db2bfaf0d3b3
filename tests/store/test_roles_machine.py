"""Roles against the register, in every order: whoever says what, a joint is let go by leads alone.

The model is the rules as docs/register.md states them ("Must not run"), in a few lines of its own;
it knows nothing of `store.authority`.
"""

from __future__ import annotations

import shutil
import tempfile
from functools import cache
from pathlib import Path
from uuid import UUID, uuid4

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from depth import examples, sized
from splicewright.store import CONSOLE, Actor, Fact, NotAllowedError, PersonRole, What
from splicewright.store.facts.joint_facts import (
    InspectionClosed,
    JointBuilt,
    JointPutToWork,
    JointSuspended,
)
from splicewright.store.facts.plant_facts import StockMoved
from splicewright.store.present.present import State
from splicewright.store.sites import ALL_SITES
from splicewright.store.sql.register import SqlRegister, open_register
from store.making import Clock, Plant

_ROLES = st.sampled_from(list(PersonRole))
_REASONS = st.sampled_from(["", "  ", "looked at with the maker's man"])


@cache
def _empty() -> bytes:
    """An empty register, made once."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "register.sqlite"
        open_register(path).close()
        return path.read_bytes()


class Roles(RuleBasedStateMachine):
    """One joint in a belt, and people of every role who say things of it."""

    register: SqlRegister
    joint: UUID

    @initialize()
    def begin(self) -> None:
        self.clock = Clock()
        self.folder = Path(tempfile.mkdtemp(prefix="splicewright-roles-"))
        path = self.folder / "register.sqlite"
        path.write_bytes(_empty())
        self.register = open_register(path, clock=self.clock, check=False)
        self.plant = Plant(self.clock)
        self.plant.begin(self.register)
        self.joint = self.plant.joint(self.register)
        for what in (JointBuilt(self.joint), JointPutToWork(self.joint)):
            self.register.append(self.plant.fact(what))
        self.bad = self.suspended = False
        self.facts = self.register.head().seq

    def say(self, role: PersonRole, what: What) -> bool:
        """Whether the register took it."""
        self.clock.pass_(60)
        who = Actor(uuid4(), f"{role.value} example", role, sites=ALL_SITES)
        fact = Fact(uuid4(), self.clock(), who.name, what, who.account, "page")
        try:
            self.register.said_by(who).append(fact)
        except NotAllowedError:
            return False
        self.facts += 1
        return True

    @rule(role=_ROLES, can_run=st.sampled_from([True, False, None]), note=_REASONS)
    def inspect(self, role: PersonRole, can_run: bool | None, note: str) -> None:
        lead = role in {PersonRole.LEAD, PersonRole.ADMIN}
        may = role is not PersonRole.VIEWER
        if can_run is True:
            frees = self.bad and not self.suspended
            may = lead and (not frees or bool(note.strip()))
        what = InspectionClosed(self.joint, uuid4(), can_run, note=note, not_seen="under the skirt")
        assert self.say(role, what) is may
        if may and can_run is not None:
            self.bad = not can_run

    @rule(role=_ROLES, why=_REASONS)
    def put_to_work(self, role: PersonRole, why: str) -> None:
        lead = role in {PersonRole.LEAD, PersonRole.ADMIN}
        may = role is not PersonRole.VIEWER
        if self.bad or self.suspended:
            may = lead and bool(why.strip())
        assert self.say(role, JointPutToWork(self.joint, why)) is may
        if may:
            self.bad = self.suspended = False

    @rule(role=_ROLES)
    def suspend(self, role: PersonRole) -> None:
        may = role is not PersonRole.VIEWER
        assert self.say(role, JointSuspended(self.joint)) is may
        self.suspended |= may

    @rule(role=_ROLES)
    def take_from_the_store(self, role: PersonRole) -> None:
        taken = self.say(role, StockMoved(self.plant.site, "bolt", -1.0))
        assert taken is (role is not PersonRole.VIEWER)

    @invariant()
    def as_the_rules_say(self) -> None:
        if not hasattr(self, "bad"):
            return
        joint = self.register.said_by(CONSOLE).joint(self.joint)
        assert joint is not None
        assert (joint.can_run is False) is self.bad
        assert (joint.state is State.SUSPENDED) is self.suspended
        assert self.register.head().seq == self.facts

    def teardown(self) -> None:
        if hasattr(self, "bad"):
            assert self.register.verify().faults == ()
            self.register.close()
            shutil.rmtree(self.folder)


TestRoles = Roles.TestCase
TestRoles.settings = settings(
    max_examples=examples(12), stateful_step_count=sized(12, deep=40), deadline=None,
    suppress_health_check=list(HealthCheck),
)  # fmt: skip
