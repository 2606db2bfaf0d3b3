"""Stock: parts in, out to a job, counted; and the parts of a plan held against the shelf."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID, uuid4

from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.job import JointPlan
    from splicewright.job.parts import Part
    from splicewright.store import Fact, Register, Stored, What
    from splicewright.store.facts.job_facts import StepTicked

MOST = 1_000_000
LONGEST = 120
"""Letters of an item's name."""


@dataclass(frozen=True, slots=True)
class PickLine:
    """One part of a plan, its place in the store, and what is there.

    line : of the parts list, from 1; item : what the store calls it
    lot : and date of what was picked, "" where nobody said
    needed : spares with it; out : taken out to this job so far; there : on the shelf, None when
    the store knows no such item
    """

    line: int
    part: Part
    item: str
    needed: int
    out: float
    there: float | None
    ticked: bool
    lot: str

    @property
    def missing(self) -> float:
        """Still to be taken out."""
        return max(0.0, self.needed - self.out)

    @property
    def short(self) -> float:
        """Missing and not on the shelf."""
        return max(0.0, self.missing - max(0.0, self.there or 0.0))


@dataclass(frozen=True, slots=True)
class Movement:
    """A movement of an item as recorded."""

    fact: UUID
    when: datetime
    by: str
    item: str
    count: float
    why: str
    job: UUID | None


def item_of(part: Part) -> str:
    """What a store calls a part of a plan, unless it has a name of its own for it."""
    return f"{part.name}, {part.size.say()}"[:LONGEST]


def stands_for(part: Part) -> str:
    """What the note of a movement says when the store has another name for a part."""
    return f"as {item_of(part)}"


def pick_list(register: Register, site: UUID, job: UUID, plan: JointPlan) -> tuple[PickLine, ...]:
    """The parts of a plan against a site's store and what went out to the job.

    Where a part was taken out under another name before, that name is looked up from then on.
    """
    from splicewright.actions.job.read import read_job
    from splicewright.store.facts.job_facts import PARTS, StepTicked

    there = {row.item: row.count for row in register.stock(site)}
    moved = movements(register.facts_about(site))
    view = read_job(register, job)
    ticks = view.sheet.ticks if view is not None else {}
    lines = []
    for line, part in enumerate(plan.parts, 1):
        plain, noted = item_of(part), stands_for(part)
        own = [move for move in moved if move.item == plain or move.why == noted]
        item = next((move.item for move in reversed(own) if move.why == noted), plain)
        out = -sum(move.count for move in own if move.job == job)
        tick = ticks.get((PARTS, line))
        answer = tick.last.what if tick is not None else None
        ticked = isinstance(answer, StepTicked) and answer.done
        lot = answer.lot if isinstance(answer, StepTicked) and answer.done else ""
        lines.append(
            PickLine(line, part, item, part.total, max(0.0, out), there.get(item), ticked, lot)
        )
    return tuple(lines)


def movements(facts: tuple[Stored, ...]) -> tuple[Movement, ...]:
    """The movements among a site's facts, the oldest first; withdrawn ones left out."""
    from splicewright.store.facts.plant_facts import StockMoved

    return tuple(
        Movement(s.fact.id, s.when, s.fact.by, s.what.item, s.what.count, s.what.why, s.what.job)
        for s in facts
        if isinstance(s.what, StockMoved) and not s.withdrawn
    )


def read_count(text: str, key: str, *, zero: bool = False) -> float:
    """How many, as typed: a number above 0, or from 0 on where a shelf may be empty.

    Raises InputError: it is no such number.
    """
    try:
        count = float(text.strip())
    except ValueError:
        count = math.nan
    if not (math.isfinite(count) and (count >= 0 if zero else count > 0) and count <= MOST):
        least = "0 or more" if zero else "more than 0"
        say = f'"{text.strip()[:20]}" is no count; accepted is a number of {least}, to {MOST:,}'
        raise InputError(Fault(key, say))
    return count


def move_stock(
    register: Register,
    site: UUID,
    item: str,
    count: float,
    why: str,
    *,
    by: str,
    now: datetime,
    job: UUID | None = None,
    line: int = 0,
    lot: str = "",
    id: UUID | None = None,
    person: UUID | None = None,
    device: str = "",
) -> bool:
    """Record that parts came in (above 0) or went out (below 0).

    job : whose parts list they are for; line : of it, which is then ticked too, with its lot
    id : of the fact, so that sending a page again moves nothing twice
    Returns whether it is new. Raises InputError: no such site or job; no name.
    """
    from splicewright.store import Fact
    from splicewright.store.facts.plant_facts import StockMoved

    id, name = id or uuid4(), _named(item)
    if register.fact(id) is not None:
        return False

    def fact(fact_id: UUID, event: What) -> Fact:
        return Fact(fact_id, now, by, event, person, device)

    facts = [fact(id, StockMoved(site, name, count, why, job))]
    if job is not None and line:
        facts.append(fact(uuid4(), part_ticked(register, job, line, lot=lot)))
    register.append(*facts)
    return True


def part_ticked(
    register: Register, job: UUID, line: int, *, done: bool = True, lot: str = ""
) -> StepTicked:
    """That a line of the parts list of the job's newest plan is picked, or not after all."""
    from splicewright.store.facts.job_facts import PARTS, StepTicked

    there = register.job(job)
    joint = register.joint(there.joint) if there is not None and there.joint is not None else None
    plan = joint.plan_id if joint is not None else ""
    return StepTicked(job, PARTS, done, line, plan, " ".join(lot.split()) if done else "")


def count_stock(
    register: Register,
    site: UUID,
    item: str,
    counted: float,
    *,
    by: str,
    now: datetime,
    id: UUID | None = None,
    person: UUID | None = None,
    device: str = "",
) -> None:
    """Record what was counted on the shelf, as the difference to what the register had.

    A difference of 0 is recorded too, because somebody looked. Raises InputError, ConflictError: as
    `move_stock`; others moved stock of the site while this was counted.
    """
    from splicewright.store import Fact
    from splicewright.store.facts.plant_facts import StockMoved

    id, name = id or uuid4(), _named(item)
    if register.fact(id) is not None:
        return
    version = register.version(site)
    there = next((row.count for row in register.stock(site) if row.item == name), 0.0)
    movement = StockMoved(site, name, counted - there, f"counted {counted:g}")
    register.append(Fact(id, now, by, movement, person, device), seen={site: version})


def _named(item: str) -> str:
    name = item.strip()
    if not name or len(name) > LONGEST or not name.isprintable():
        say = f"is no name of an item; accepted is a name of up to {LONGEST} letters"
        raise InputError(Fault("item", say))
    return name
