"""Record what a phone kept while it had no signal: each entry gets its own answer.

Who says it is decided here, by who is signed in, never by the phone; what they may say, by
`store.authority`, as at every door. What happened is recorded even where it should not have
happened (a hold point signed before the one in front of it shows as such on the job). What is
refused goes back to the phone with its sentence, and stays there until a person has looked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any
from uuid import UUID

from splicewright.actions.register.record_facts import Outcome, record_facts
from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.store import Actor, Fact, Register


def record_outbox(register: Register, sender: Actor, sent: Sequence[Any]) -> tuple[Outcome, ...]:
    """Record facts as a phone made them, in their order, and say of each what became of it.

    sender : whose phone it is; becomes `by` and `person` of every fact
    sent : facts as plain data from JSON
    Raises BusyError, FullError: the register takes nothing now; facts not answered may be sent
    again without harm.
    """
    from splicewright.store.facts.facts import from_data
    from splicewright.store.facts.job_facts import SignedOff

    register = register.said_by(replace(sender, phone=True))
    outcomes: dict[int, Outcome] = {}
    waiting: list[tuple[int, Fact]] = []

    def _flush() -> None:
        numbers, facts = [n for n, _ in waiting], [f for _, f in waiting]
        waiting.clear()
        if facts:
            outcomes.update(zip(numbers, record_facts(register, facts), strict=True))

    for number, item in enumerate(sent):
        try:
            fact = _said_by(register, sender, from_data(_plain(sender, item)))
            if isinstance(fact.what, SignedOff):
                # It speaks of all that was said before it: that must be there first.
                _flush()
                fact = _as_seen(register, fact)
        except InputError as error:
            outcomes[number] = Outcome(_id_of(item), "refused", None, error.faults)
            continue
        waiting.append((number, fact))
    _flush()
    return tuple(outcomes[number] for number in range(len(sent)))


def _plain(sender: Actor, item: Any) -> Any:
    """The item with the sender's name; a fact that names somebody else is refused."""
    if not isinstance(item, dict):
        return item
    person = item.get("person")
    if person is not None and str(person) != str(sender.account):
        say = "was said by somebody else, who must sign in to send it"
        raise InputError(Fault("person", say))
    return item | {"by": sender.name, "person": str(sender.account)}


def _said_by(register: Register, sender: Actor, fact: Fact) -> Fact:
    """A fact sent again keeps what was recorded then, though the sender was renamed since."""
    from splicewright.store.facts.job_facts import SignedOff

    there = register.fact(fact.id)
    if there is None or there.fact.person != sender.account:
        return fact
    known, event = there.fact, fact.what
    if isinstance(event, SignedOff) and isinstance(known.what, SignedOff):
        event = replace(event, seen=known.what.seen)
    return replace(fact, by=known.by, what=event)


def _as_seen(register: Register, fact: Fact) -> Fact:
    """A new signature, with the version its signer saw.

    What the same person wrote on the same phone after they last heard from the register counts
    as seen: they wrote it themselves before they signed.
    """
    from splicewright.store.facts.job_facts import SignedOff

    signature = fact.what
    assert isinstance(signature, SignedOff)
    if register.fact(fact.id) is not None:
        return fact
    since = register.facts_about(signature.job, signature.seen)
    own = all(s.fact.person == fact.person and s.fact.device == fact.device for s in since)
    version = register.version(signature.job)
    return replace(fact, what=replace(signature, seen=version)) if own else fact


def _id_of(item: Any) -> UUID | None:
    try:
        return UUID(item["id"])
    except (TypeError, KeyError, ValueError, AttributeError):
        return None
