"""Pages: all that was recorded, with the end of the chain; and one entry, to correct it."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID, uuid4

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from splicewright.actions.inspection.recorded import keep_verdicts
from splicewright.actions.register.correct import correct, correctable, why_not
from splicewright.errors import Fault, InputError
from splicewright.store import Correction, Stored, Stream
from splicewright.store.authority import may_say
from splicewright.store.facts.joint_facts import (
    InspectionClosed,
    JointBuilt,
    JointPutToWork,
    JointRemoved,
    JointSuspended,
)
from splicewright.web.app.fact_words import Names, event_words, tell
from splicewright.web.app.rendering import Entry, render
from splicewright.web.app.visitor import (
    Role,
    Visitor,
    needs,
    room_of,
    said_by,
    visitor,
)

router = APIRouter()
NAVIGATION = (Entry("/history", "History", place=70),)
PAGE = 50


@router.get("/history")
def history_page(
    request: Request, who: Annotated[Visitor, Depends(visitor)], before: int | None = None
) -> Response:
    """Facts in the order they arrived, the newest first."""
    register = room_of(request).register
    head = register.head()
    last = head.seq if before is None else max(0, min(before - 1, head.seq))
    first = max(0, last - PAGE)
    names = Names(register)
    facts = register.facts_since(first, last - first) if last > first else ()
    lines = [tell(stored, names, who.units) for stored in reversed(facts)]
    return render(request, "register.html", head=head, lines=lines, older=first + 1 if first else 0)


_FOLLOWS: dict[type[Any], str] = {
    JointRemoved: "The joint counts as in the belt again, and what was due of it is due again.",
    JointPutToWork: "The joint does not count as running by it any more.",
    JointBuilt: "The joint does not count as built by it any more.",
    JointSuspended: "The joint does not count as suspended by it any more.",
    InspectionClosed: "The inspection is open again; what is due follows the one before it.",
}
"""What follows when a fact of this kind is taken back."""


async def typed(request: Request) -> FormData:
    """What was typed."""
    return await request.form()


@router.get("/recorded/{fact}")
def recorded(request: Request, who: Annotated[Visitor, Depends(visitor)], fact: UUID) -> Response:
    """One entry: what it said, what counts of it now, and the form to correct it."""
    return _one(request, who, fact)


@router.post("/recorded/{fact}")
def correct_recorded(
    request: Request,
    who: Annotated[Visitor, Depends(needs(Role.CREW))],
    fact: UUID,
    form: Annotated[FormData, Depends(typed)],
) -> Response:
    """Say an entry otherwise, or take it back."""
    room, stored = room_of(request), _stored(request, fact)
    fields = {k: v[:4000] for k, v in form.items() if isinstance(v, str)}
    back = fields.get("do") == "withdraw"
    # What the entry says stands apart from the reason of its correction.
    said_otherwise = {
        k.removeprefix("said."): v for k, v in fields.items() if k.startswith("said.")
    }
    try:
        sent = UUID(fields.get("sent", ""))
    except ValueError:
        fault = Fault("sent", "the page did not say which form this is; reload it")
        return _one(request, who, fact, (fault,), fields)
    try:
        correct(
            said_by(request, who),
            stored,
            None if back else said_otherwise,
            fields.get("why", ""),
            by=who.name,
            person=who.account,
            now=room.now(),
            system=who.units,
            sent=sent,
        )
    except InputError as error:
        return _one(request, who, fact, error.faults, fields)
    # What an inspection found, said otherwise, may have another verdict.
    keep_verdicts(room.register, who.actor, [sent], room.now())
    return RedirectResponse(_back(request, stored), 303)


def _stored(request: Request, fact: UUID) -> Stored:
    register = room_of(request).register
    first = register.fact(fact)
    if first is None:
        raise HTTPException(404)
    about = register.facts_about(first.fact.subject)
    return next(s for s in about if s.fact.id == fact)


def _back(request: Request, stored: Stored) -> str:
    subject, stream = stored.fact.subject, stored.fact.stream
    _, path = Names(room_of(request).register).of(stream, subject)
    return f"/jobs/{subject}/recorded" if stream is Stream.JOB else path or "/history"


def _one(
    request: Request,
    who: Visitor,
    fact: UUID,
    faults: tuple[Fault, ...] = (),
    typed: dict[str, str] | None = None,
) -> Response:
    stored = _stored(request, fact)
    names = Names(room_of(request).register)
    said_first, now = stored.fact.what, stored.what
    mine = Correction(stored.fact.stream, stored.fact.subject, fact, None, "so")
    barred = may_say(who.actor, mine) or may_say(who.actor, said_first)
    corrections = [
        tell(s, names, who.units)
        for s in room_of(request).register.facts_about(stored.fact.subject)
        if isinstance(s.fact.what, Correction) and s.fact.what.corrects == fact
    ]
    return render(
        request,
        "recorded.html",
        status=422 if faults else 200,
        line=tell(stored, names, who.units),
        first=event_words(said_first, who.units),
        now=event_words(now, who.units),
        back=_back(request, stored),
        fields=correctable(now, who.units),
        why_not=why_not(stored),
        barred=barred.sentence if barred is not None else "",
        corrections=corrections,
        follows=_FOLLOWS.get(type(said_first), ""),
        faults=faults,
        typed=typed or {},
        sent=uuid4(),
        fact=fact,
    )
