"""API: running hours, tonnes and other readings of other systems, by the mapping of a site."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Depends, Path, Request
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field

from splicewright.actions.incoming import Verdict, keep_mapping, take_message
from splicewright.store.authority import Scope
from splicewright.store.facts.kinds import Text
from splicewright.store.incoming import LONGEST_TOPIC, Incoming
from splicewright.web.api.caller import Caller, needs_scope
from splicewright.web.api.conditions import IfMatch, mark_of, refuse_changed
from splicewright.web.app.problems import NotThereError
from splicewright.web.app.visitor import room_of

router = APIRouter(tags=["incoming"], prefix="/incoming")
Recorder = Annotated[Caller, Depends(needs_scope(Scope.RECORD))]
Admin = Annotated[Caller, Depends(needs_scope(Scope.ADMIN))]
Id = Annotated[UUID, Path()]
_TOML = "application/toml"
MOST_MESSAGES = 500
"""Messages of one request."""


class _In(BaseModel):
    model_config = ConfigDict(extra="forbid")


class MessageIn(_In):
    """One message."""

    topic: Annotated[Text, Field(min_length=1, max_length=LONGEST_TOPIC)] = Field(
        description="As the mapping names it."
    )
    payload: Any = Field(description="The number, or JSON that holds it where the mapping says.")
    id: Annotated[Text, Field(max_length=200)] = Field(
        default="", description="Of this message: sent again it is recorded once."
    )


class MessagesIn(_In):
    """Messages, in the order they were made."""

    messages: list[MessageIn] = Field(min_length=1, max_length=MOST_MESSAGES)


class TakenOut(BaseModel):
    """What became of one message."""

    topic: str
    verdict: Verdict = Field(
        description="recorded; already: was before; unchanged: says nothing new; too soon: within "
        "`every` of the last; refused: see the sentence."
    )
    sentence: str = Field(description="Why it was refused; empty otherwise.")
    fact: UUID | None = Field(description="The reading.")


class TakenAllOut(BaseModel):
    """What became of each message, in the order they were sent."""

    outcomes: list[TakenOut]


class MappingIn(_In):
    """A mapping file."""

    file: str = Field(max_length=1_000_000, description="Its text (TOML, docs/events.md).")


class LastOut(BaseModel):
    """The last good message of a topic."""

    model_config = ConfigDict(from_attributes=True)

    topic: str
    typed: str = Field(description="The value recorded last, with its unit.")
    at: datetime = Field(description="Of what moment it is.")
    recorded: datetime
    received: datetime = Field(description="When the last message came.")


class WrongOut(BaseModel):
    """What was wrong with messages of a topic."""

    model_config = ConfigDict(from_attributes=True)

    topic: str
    sentence: str
    first: datetime
    last: datetime
    count: int


class IncomingOut(BaseModel):
    """What came in at a site."""

    mapping: str | None = Field(description="The mapping file; null where there is none.")
    by: str = Field(description="Who gave it.")
    last: list[LastOut]
    wrong: list[WrongOut] = Field(description="The last first, up to 500.")


@router.post("/{site}")
def send(request: Request, caller: Recorder, site: Id, sent: MessagesIn) -> TakenAllOut:
    """Record readings by the mapping of a site. Each has its own answer."""
    room, incoming = room_of(request), _incoming(request, site)
    outcomes = []
    for message in sent.messages:
        taken = take_message(
            room.register,
            incoming,
            caller.actor,
            site,
            message.topic,
            message.payload,
            now=room.now(),
            identity=message.id,
            device="api",
        )
        outcomes.append(
            TakenOut(
                topic=message.topic,
                verdict=taken.verdict,
                sentence=taken.sentence,
                fact=taken.fact,
            )
        )
    return TakenAllOut(outcomes=outcomes)


@router.get("/{site}")
def came_in(request: Request, caller: Admin, site: Id) -> IncomingOut:
    """The mapping of a site, the last message of each topic, and what was wrong."""
    incoming = _incoming(request, site)
    kept = incoming.mapping(site)
    return IncomingOut(
        mapping=kept.file if kept else None,
        by=kept.by if kept else "",
        last=[LastOut.model_validate(m) for m in incoming.last(site)],
        wrong=[WrongOut.model_validate(f) for f in incoming.faults(caller.actor, site, 500)],
    )


@router.get(
    "/{site}/mapping",
    response_class=Response,
    responses={200: {"content": {_TOML: {"schema": {"type": "string"}}}}},
)
def mapping(request: Request, _: Admin, site: Id) -> Response:
    """The mapping of a site, as it was given."""
    kept = _incoming(request, site).mapping(site)
    if kept is None:
        raise NotThereError("site", "has no mapping")
    data = kept.file.encode()
    return Response(data, headers={"ETag": mark_of(data)}, media_type=_TOML)


@router.put("/{site}/mapping")
def put_mapping(
    request: Request, caller: Admin, site: Id, sent: MappingIn, if_match: IfMatch = None
) -> IncomingOut:
    """Keep a mapping in the place of the one before."""
    incoming = _incoming(request, site)
    file, there = sent.file.encode("utf-8", "replace"), incoming.mapping(site)
    refuse_changed(if_match, mark_of(there.file.encode()) if there else None)
    before = None if if_match is None or there is None else there.file
    keep_mapping(
        room_of(request).register, incoming, caller.actor, file, "file", site, before=before
    )
    return came_in(request, caller, site)


@router.delete("/{site}/wrong")
def forget(request: Request, caller: Admin, site: Id) -> IncomingOut:
    """Clear the list of what was wrong."""
    incoming = _incoming(request, site)
    incoming.forget_faults(caller.actor, site)
    return came_in(request, caller, site)


def _incoming(request: Request, site: UUID) -> Incoming:
    room = room_of(request)
    if room.incoming is None or room.register.site(site) is None:
        raise NotThereError("site", f"the register knows no site {site}")
    return room.incoming
