"""Record facts: each gets its own answer, so that one bad fact holds up no other."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal
from uuid import UUID

from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.store import Fact, Receipt, Register

Verdict = Literal["recorded", "already", "refused", "conflict"]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one fact.

    id : as the device sent it, None when even that cannot be read
    verdict : "recorded" and "already" may leave the outbox; "refused" and "conflict" stay there
        until a person has looked
    receipt : None unless recorded; faults : why it was refused
    """

    id: UUID | None
    verdict: Verdict
    receipt: Receipt | None
    faults: tuple[Fault, ...] = ()


def record_facts(
    register: Register, facts: Sequence[Fact], seen: Mapping[UUID, int] | None = None
) -> tuple[Outcome, ...]:
    """Record what can be recorded, in order, and say of each fact what became of it.

    facts : in the order they were made; a fact may name what a later one makes known
    seen : versions the writer looked at, as in `Register.append`
    Raises BusyError, FullError: the register takes nothing now; facts not answered may be sent
    again without harm.
    """
    from splicewright.store import ConflictError

    try:
        receipts = register.append(*facts, seen=seen)
        return tuple(_recorded(receipt) for receipt in receipts)
    except (InputError, ConflictError):
        if len(facts) == 1:
            return (_one(register, facts[0], seen, []),)
    outcomes: dict[int, Outcome] = {}
    waiting = list(enumerate(facts))
    while waiting:
        # A fact may be refused only because another of the same call comes after it.
        before = len(waiting)
        for number, fact in waiting:
            done = [facts[n] for n, outcome in outcomes.items() if outcome.receipt is not None]
            outcomes[number] = _one(register, fact, seen, done)
        waiting = [(n, f) for n, f in waiting if outcomes[n].verdict == "refused"]
        if len(waiting) == before:
            break
    return tuple(outcomes[number] for number in range(len(facts)))


def append_once(register: Register, *facts: Fact) -> None:
    """Append facts whose ids come of what was sent: both halves of a double tap may come here.

    Raises ConflictError: something else stands against them than the same facts by a later clock.
    """
    from splicewright.store import ConflictError

    try:
        register.append(*facts)
    except ConflictError:
        for fact in facts:
            there = register.fact(fact.id)
            if there is None or there.fact.kind != fact.kind:
                raise


def record_sent(
    register: Register, sent: Iterable[Any], seen: Mapping[UUID, int] | None = None
) -> tuple[Outcome, ...]:
    """As `record_facts`, for facts as a device sent them: plain data from JSON."""
    from splicewright.store.facts.facts import from_data

    outcomes: list[Outcome | None] = []
    facts: list[Fact] = []
    for item in sent:
        try:
            facts.append(from_data(item))
            outcomes.append(None)
        except InputError as error:
            outcomes.append(Outcome(_id_of(item), "refused", None, error.faults))
    answered = iter(record_facts(register, facts, seen) if facts else ())
    return tuple(outcome if outcome is not None else next(answered) for outcome in outcomes)


def _one(
    register: Register, fact: Fact, seen: Mapping[UUID, int] | None, done: Sequence[Fact]
) -> Outcome:
    """Record one fact. Those done before go with it again: they are not changes by others."""
    from splicewright.store import ConflictError

    own = [other for other in done if seen and other.subject == fact.subject]
    try:
        return _recorded(register.append(*own, fact, seen=seen)[-1])
    except InputError as error:
        return Outcome(fact.id, "refused", None, error.faults)
    except ConflictError as error:
        return Outcome(fact.id, "conflict", None, (Fault("", str(error)),))


def _recorded(receipt: Receipt) -> Outcome:
    return Outcome(receipt.id, "already" if receipt.again else "recorded", receipt)


def _id_of(item: Any) -> UUID | None:
    try:
        return UUID(item["id"])
    except (TypeError, KeyError, ValueError, AttributeError):
        return None
