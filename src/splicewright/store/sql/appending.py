"""Appending facts within one transaction: each once, in order, chained, with what it changes.

Every door meets here, so authority is asked here (`store.authority`): of the kind before anything
is looked up, of the thing's state fact by fact, and of what is true afterwards.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import datetime
from functools import lru_cache
from typing import TYPE_CHECKING, Any
from uuid import UUID

from sqlalchemy import Connection, insert, select, update

from splicewright.errors import Fault, InputError
from splicewright.store.authority import (
    Actor,
    Asked,
    Guarded,
    by_kind,
    in_state,
    is_barred,
    loosened,
    reason_of,
)
from splicewright.store.database.schema import CONTENTS, FACTS, REGISTER, UNREADABLE
from splicewright.store.facts.contents import names_content, unfit
from splicewright.store.facts.facts import Correction, Fact, Stored, canonical, link, read_back
from splicewright.store.facts.job_facts import HoldPointSigned, JobOpened, SignedOff
from splicewright.store.facts.joint_facts import InspectionClosed, Task
from splicewright.store.facts.kinds import Stream, What, kind_of
from splicewright.store.facts.sizes import beyond_its_kind
from splicewright.store.present.deriving import amend, derive
from splicewright.store.present.job_sheet import JobSheet, inspections, job_sheet
from splicewright.store.present.job_view import (
    for_lead,
    gaps,
    invented,
    keeps_open,
    kept_plan,
    step_of,
    unticked,
)
from splicewright.store.present.plan_versions import PlanVersion, counting, plan_versions
from splicewright.store.present.present import DueNow, JobNow, JointNow, State, SubjectNow
from splicewright.store.refusals import ConflictError, DamagedError, NotAllowedError
from splicewright.store.register import Receipt
from splicewright.store.signing import hold_point, may_run, sign_off
from splicewright.store.sites import ADDS_SITES, TAKEN
from splicewright.store.sql.contents import unpack
from splicewright.store.sql.life_counts import LivesBefore
from splicewright.store.sql.present import SqlPresent, subject_version
from splicewright.store.sql.within import Visibility

if TYPE_CHECKING:
    from splicewright.job import JointPlan

AT_ONCE = 400
"""Ids in one query: SQLite of old takes up to 999 parameters."""


class Appending:
    """One call of `append`; lives as long as its transaction, which holds the write lock."""

    def __init__(self, connection: Connection, now: datetime, actor: Actor) -> None:
        self._connection = connection
        self._now = now
        self._actor = actor
        self._seen = Visibility(actor.sites, actor.account)
        self._present = SqlPresent(connection)
        self._new: dict[UUID, Stored] = {}
        self._bodies: dict[UUID, str] = {}
        self._known: dict[UUID, Stream] = {}
        locked = select(REGISTER.c.seq, REGISTER.c.hash).with_for_update()
        self._seq, self._hash = connection.execute(locked).one()

    def run(self, facts: Sequence[Fact], seen: Mapping[UUID, int]) -> tuple[Receipt, ...]:
        """Append; see `Register.append`."""
        checked = [canonical(fact) for fact in facts]
        receipts = self._already([fact.id for _, fact in checked], dict(_unlike(checked)))
        fresh = {fact.id: (body, fact) for body, fact in checked if fact.id not in receipts}
        for _, fact in fresh.values():
            _refuse(by_kind(self._actor, fact))
            _refuse(self._elsewhere(fact))
            wrong = beyond_its_kind(fact.what)
            if wrong:
                raise InputError(*wrong)
        self._refuse_stale(fresh, seen, receipts)
        for body, fact in self._in_order(list(fresh.values())):
            receipts[fact.id] = self._append(body, fact)
        self._write()
        return tuple(receipts[fact.id] for fact in facts)

    def _already(self, ids: list[UUID], bodies: dict[UUID, str]) -> dict[UUID, Receipt]:
        receipts = {}
        for start in range(0, len(ids), AT_ONCE):
            some = ids[start : start + AT_ONCE]
            query = select(FACTS.c.id, FACTS.c.seq, FACTS.c.received, FACTS.c.body)
            for id_, seq, received, body in self._connection.execute(
                query.where(FACTS.c.id.in_(some))
            ):
                # As an older release wrote it, a fact may lack fields that have come since.
                if body != bodies[id_] and canonical(Fact.from_json(body))[0] != bodies[id_]:
                    raise _other_content(id_)
                receipts[id_] = Receipt(id_, seq, received, again=True)
        return receipts

    def _refuse_stale(
        self,
        fresh: Mapping[UUID, tuple[str, Fact]],
        seen: Mapping[UUID, int],
        own: Collection[UUID],
    ) -> None:
        """Refuse facts about a thing that has facts the writer neither saw nor made itself."""
        for fact in {f.subject: f for _, f in fresh.values() if f.subject in seen}.values():
            since = seen[fact.subject]
            query = select(FACTS.c.id).where(FACTS.c.subject == fact.subject, FACTS.c.seq > since)
            if all(id_ in own for id_ in self._connection.execute(query).scalars()):
                continue
            version = subject_version(self._connection, fact.subject)
            msg = (
                f"the {fact.stream} was changed by others since version {since} was read; it is "
                f"at {version}: look at it again"
            )
            raise ConflictError(msg, fact.id, version)

    def _in_order(self, facts: list[tuple[str, Fact]]) -> list[tuple[str, Fact]]:
        """The facts so that each comes after those that make known what it names."""
        ordered: list[tuple[str, Fact]] = []
        waiting = facts
        while waiting:
            left = []
            for body, fact in waiting:
                if self._lacks(fact):
                    left.append((body, fact))
                else:
                    if kind_of(fact.what).begins:
                        self._known[fact.subject] = fact.stream
                    ordered.append((body, fact))
                    self._bodies[fact.id] = body
            if len(left) == len(waiting):
                raise InputError(*(fault for _, f in left for fault in self._lacks(f)))
            waiting = left
        return ordered

    def _lacks(self, fact: Fact) -> list[Fault]:
        """What the fact names and the register does not know."""
        event = fact.what
        kind = kind_of(event)
        named = [(kind.about, fact.subject, fact.stream)]
        faults = []
        if kind.begins:
            there = self._stream(fact.subject)
            if there not in {None, fact.stream}:
                say = f"{fact.subject} is the id of a {there} already"
                return [Fault(f"what.{kind.about}", say)]
            named = []
        if isinstance(event, Correction):
            return self._cannot_correct(event)
        for name, other, stream in named:
            if self._stream(other) is not stream:
                faults.append(Fault(f"what.{name}", f"the register knows no {stream} {other}"))
        faults += self._unknown_names(event)
        return faults + self._content_faults(event)

    def _content_faults(self, event: What) -> list[Fault]:
        """Why the content that a fact names is not what it needs."""
        digest = names_content(event)
        if digest is None:
            return []
        query = select(CONTENTS.c.media_type).where(CONTENTS.c.digest == digest)
        media_type: str | None = self._connection.execute(query).scalar()
        seen = self._connection.execute(self._seen.content(digest), self._seen.given).first()
        if media_type is None or seen is None:
            say = f"the content {digest[:12]}... is not kept; send it before the fact"
            return [Fault("what", say)]
        wrong = unfit(event, media_type)
        return [Fault("what", f"the content {digest[:12]}... {wrong}")] if wrong else []

    def _elsewhere(self, fact: Fact) -> Fault | None:
        """Why somebody not let into all sites cannot say it of this thing at all."""
        if not self._seen.limited:
            return None
        known = self._present.get(SubjectNow, fact.subject)
        kind = kind_of(fact.what)
        if known is None:
            new_site = kind.begins and fact.stream is Stream.SITE
            return Fault("what", ADDS_SITES) if new_site else None
        if self._seen.sees(self._connection, fact.subject):
            return None
        say = TAKEN if kind.begins else f"the register knows no {fact.stream} {fact.subject}"
        return Fault(f"what.{kind.about}", say)

    def _cannot_correct(self, correction: Correction) -> list[Fault]:
        key = "what.corrects"
        query = select(FACTS.c.body).where(FACTS.c.id == correction.corrects)
        body = self._bodies.get(correction.corrects) or self._connection.execute(query).scalar()
        if body is None:
            return [Fault(key, f"the register has no fact {correction.corrects}")]
        target = Fact.from_json(body)
        if not self._is_within(target.subject):
            return [Fault(key, f"the register has no fact {correction.corrects}")]
        if target.subject != correction.about or target.stream is not correction.of:
            return [
                Fault(key, f"the fact is about another thing: {target.stream} {target.subject}")
            ]
        if isinstance(target.what, Correction):
            return [Fault(key, "is a correction itself; correct the first fact again instead")]
        if kind_of(target.what).signed:
            return [
                Fault(
                    key,
                    f'is a signature ("{target.kind}"), which is never changed; sign again instead',
                )
            ]
        if correction.instead is not None and type(correction.instead) is not type(target.what):
            say = (
                f'is a fact "{target.kind}" and cannot become '
                f'"{kind_of(correction.instead).name}"; withdraw it and record a new one'
            )
            return [Fault(key, say)]
        if correction.instead is not None:
            named = self._unknown_names(correction.instead)
            return named + self._content_faults(correction.instead)
        return []

    def _unknown_names(self, event: What) -> list[Fault]:
        """The other things a fact names and the register does not know."""
        faults = []
        for name, stream in kind_of(event).names:
            other = getattr(event, name)
            if other is not None and self._stream(other) is not stream:
                faults.append(Fault(f"what.{name}", f"the register knows no {stream} {other}"))
        return faults

    def _stream(self, subject: UUID) -> Stream | None:
        if subject in self._known:
            return self._known[subject]
        row = self._present.get(SubjectNow, subject)
        return row.stream if row is not None and self._is_within(subject) else None

    def _is_within(self, subject: UUID) -> bool:
        if subject in self._known:
            return True
        return self._seen.sees(self._connection, subject)

    def _append(self, body: str, fact: Fact) -> Receipt:
        self._seq += 1
        self._hash = link(self._hash, self._seq, self._now, body)
        self._new[fact.id] = Stored(self._seq, self._now, self._hash, fact)
        return Receipt(fact.id, self._seq, self._now, again=False)

    def _write(self) -> None:
        if not self._new:
            return
        self._connection.execute(
            insert(FACTS), [fact_values(s, self._bodies[s.fact.id]) for s in self._new.values()]
        )
        lives = LivesBefore(self._new.values(), self._present)
        corrected, before = {}, dict[UUID, Guarded]()
        reasons: dict[UUID, list[str]] = {}
        for stored in self._new.values():
            fact = stored.fact
            if fact.stream is Stream.JOINT:
                before.setdefault(fact.subject, self._guarded(fact.subject))
                reasons.setdefault(fact.subject, []).append(reason_of(fact.what))
            self._refuse_by_state(stored)
            derive(stored, self._present)
            if isinstance(fact.what, Correction):
                corrected[fact.subject] = fact.stream
        for subject, stream in corrected.items():
            self._present.forget(subject, stream)
            for stored in amend(read_stream(self._connection, subject)):
                derive(stored, self._present)
        for joint, was in before.items():
            after = self._guarded(joint, tuple(reasons[joint]))
            _refuse(loosened(self._actor, was, after))
        self._present.flush()
        lives.write_changes(self._connection)
        self._connection.execute(update(REGISTER).values(seq=self._seq, hash=self._hash))

    # Authority

    def _refuse_by_state(self, stored: Stored) -> None:
        fact, event = stored.fact, stored.fact.what
        corrected: tuple[What, ...] = ()
        effective_event: What | None = event
        if isinstance(event, Correction):
            effective_event = event.instead
            corrected = self._fact_first_and_now(event.corrects)
        joint = self._present.get(JointNow, fact.subject) if fact.stream is Stream.JOINT else None
        job = self._present.get(JobNow, fact.subject) if fact.stream is Stream.JOB else None
        # The stream holds this very fact already: what stood before it is asked for.
        before = (
            [v for v in self._versions(job) if v.seq < stored.seq]
            if job is not None and isinstance(effective_event, JobOpened)
            else []
        )
        plan = before[-1].digest if before and job is not None and job.joint is None else None
        asked = Asked(fact, self._now, corrected, joint, job, plan)
        _refuse(in_state(self._actor, asked))
        if isinstance(effective_event, InspectionClosed) and effective_event.can_run:
            earlier = [s for s in read_stream(self._connection, fact.subject) if s.seq < stored.seq]
            rounds = {r.inspection: r for r in inspections(amend(earlier))}
            _refuse(may_run(effective_event, rounds.get(effective_event.inspection)))
        if job is None or effective_event is None:
            return
        fault = invented(effective_event, lambda: self._plans(job))
        if fault is not None:
            raise InputError(fault)
        if isinstance(event, HoldPointSigned | SignedOff):
            earlier = [s for s in read_stream(self._connection, job.job) if s.seq < stored.seq]
            self._refuse_signature(fact, event, job, job_sheet(amend(earlier)))

    def _refuse_signature(
        self, fact: Fact, signature: HoldPointSigned | SignedOff, job: JobNow, sheet: JobSheet
    ) -> None:
        versions = self._versions(job)
        if isinstance(signature, HoldPointSigned):
            plan_step = step_of(signature, self._plans(job))
            by = plan_step[0].id if plan_step is not None else ""
            sheet = counting(sheet, versions, self._plan, by)
            open_ = (
                (gaps(*plan_step, sheet), unticked(*plan_step, sheet))
                if plan_step is not None
                else ((), 0)
            )
            _refuse(hold_point(signature, *open_))
            return
        plan = next(self._plans(job), None)
        sheet = counting(sheet, versions, self._plan)
        points = keeps_open(plan, sheet) if signature.closes else ()
        if points:
            raise InputError(*(Fault("what.closes", point) for point in points))
        _refuse(sign_off(self._actor, fact, signature, sheet, for_lead(plan, sheet)))

    def _fact_first_and_now(self, id_: UUID) -> tuple[What, ...]:
        """What a fact said first, and what counts of it now."""
        query = select(*STORED).where((FACTS.c.id == id_) | (FACTS.c.corrects == id_))
        rows = self._connection.execute(query.order_by(FACTS.c.seq))
        target = amend([s for s in map(read_stored, rows) if s.seq <= self._seq])[0]
        return target.fact.what, target.what

    def _plans(self, job: JobNow) -> Iterator[JointPlan]:
        """The plan of a job's joint, or of a job that makes none; then those that it had before."""
        joint = self._present.get(JointNow, job.joint) if job.joint is not None else None
        if job.joint is not None and (joint is None or joint.plan is None):
            return
        before = [v.digest for v in self._versions(job)][::-1]
        newest = [joint.plan] if joint is not None else before[:1]
        for digest in dict.fromkeys([*newest, *before]):
            assert digest is not None  # a version has a plan
            yield self._plan(digest)

    def _versions(self, job: JobNow) -> tuple[PlanVersion, ...]:
        return plan_versions(amend(read_stream(self._connection, job.joint or job.job)))

    def _plan(self, digest: str) -> JointPlan:
        def _read() -> bytes:
            query = select(CONTENTS.c.data, CONTENTS.c.packed).where(CONTENTS.c.digest == digest)
            row = self._connection.execute(query).one()
            data = unpack(row.data, row.packed)
            if data is None:
                msg = f"content {digest[:12]}... is not what was kept; check with register verify"
                raise DamagedError(msg)
            return data

        return kept_plan(digest, _read)

    def _guarded(self, subject: UUID, reasons: tuple[str, ...] = ()) -> Guarded:
        joint = self._present.get(JointNow, subject)
        due = self._present.get(DueNow, subject, Task.RENEW)
        gone = joint is not None and joint.state is State.REMOVED
        renew = due.due if due is not None else None
        return Guarded(is_barred(joint), renew, gone, reasons)


def _refuse(fault: Fault | None) -> None:
    if fault is not None:
        raise NotAllowedError(fault)


def fact_values(stored: Stored, body: str) -> dict[str, object]:
    """A stored fact as a row of `facts`."""
    fact = stored.fact
    return {
        "seq": stored.seq,
        "id": fact.id,
        "subject": fact.subject,
        "stream": fact.stream,
        "kind": fact.kind,
        "corrects": fact.what.corrects if isinstance(fact.what, Correction) else None,
        "at": fact.at,
        "received": stored.received,
        "body": body,
        "hash": stored.hash,
    }


def read_stream(connection: Connection, subject: UUID, since: int = 0) -> list[Stored]:
    """The facts about one thing as recorded, in the order of arrival."""
    query = select(*STORED).where(FACTS.c.subject == subject, FACTS.c.seq > since)
    return [read_stored(row) for row in connection.execute(query.order_by(FACTS.c.seq))]


STORED = tuple(FACTS.c[name] for name in ("seq", "received", "hash", "body"))
"""What `read_stored` needs of a row: the other columns say what the body says, and cost more."""


def read_stored(row: Any) -> Stored:
    """A row of `facts`, or its columns `STORED`, as a stored fact."""
    try:
        return Stored(row.seq, row.received, bytes(row.hash), _read_fact(row.body))
    except (InputError, TypeError):
        raise DamagedError(UNREADABLE.format(f"fact {row.seq}")) from None


@lru_cache(maxsize=5_000)
def _read_fact(body: str) -> Fact:
    """A fact is never changed, and the same text is the same fact: pages read some often."""
    return read_back(body)


def _unlike(checked: list[tuple[str, Fact]]) -> list[tuple[UUID, str]]:
    """Id and body of each fact; the same id with two bodies in one call is a conflict."""
    bodies: dict[UUID, str] = {}
    for body, fact in checked:
        if bodies.setdefault(fact.id, body) != body:
            raise _other_content(fact.id)
    return list(bodies.items())


def _other_content(fact: UUID) -> ConflictError:
    msg = f"fact {fact} is recorded with other content; record a correction, or a new fact"
    return ConflictError(msg, fact)
