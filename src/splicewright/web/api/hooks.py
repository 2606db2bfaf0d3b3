"""API: hooks, by which other systems are told of facts as they are recorded."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Path, Query, Request
from pydantic import BaseModel, ConfigDict, Field

from splicewright.background.hooks import shown_secret
from splicewright.store.authority import Scope
from splicewright.store.facts.kinds import Text
from splicewright.store.hooks import LONGEST_URL, Hook, Hooks
from splicewright.web.api.caller import Caller, needs_scope
from splicewright.web.api.paging import Paged
from splicewright.web.app.problems import NotThereError
from splicewright.web.app.visitor import room_of

router = APIRouter(tags=["hooks"], prefix="/hooks")
Admin = Annotated[Caller, Depends(needs_scope(Scope.ADMIN))]
Id = Annotated[UUID, Path()]
_Number = Annotated[int, Field(ge=0, lt=2**63)]


class _In(BaseModel):
    model_config = ConfigDict(extra="forbid")


class HookIn(_In):
    """A hook wanted."""

    label: Text = Field(description="What it is for; no two that work have the same.")
    url: Annotated[Text, Field(max_length=LONGEST_URL)] = Field(
        description="Address that facts are sent to; https, or http where `own_network`."
    )
    kinds: list[Text] = Field(default=[], max_length=100, description="Of facts; none: all.")
    sites: list[UUID] = Field(
        default=[], max_length=500, description="Told of; none: all that its maker is let into."
    )
    since: _Number | None = Field(
        default=None, description="Begin after this fact number; null: from now on."
    )
    own_network: bool = Field(
        default=False, description="Whether addresses of the own network may be called."
    )


class ReplayIn(_In):
    """From where a hook tells again."""

    since: _Number = Field(description="After this fact number.")


class HookOut(BaseModel):
    """A hook as it stands."""

    hook: UUID
    label: str
    url: str
    kinds: list[str] = Field(description="Of facts told; empty: all.")
    sites: list[UUID] | None = Field(description="Told of; null: all.")
    own_network: bool
    by: str = Field(description="Who made it; it tells only of what they may read.")
    created: datetime
    ended: datetime | None
    seq: int = Field(description="Number of the last fact told or set aside.")
    tries: int = Field(description="Failures in a row with the next.")
    last_delivery: datetime | None = Field(description="When the address last took one.")
    failure: str = Field(description="Why it did not take the last; empty when it did.")
    letters: int = Field(description="Facts that were set aside.")


class MadeHookOut(HookOut):
    """A new hook, with its secret."""

    secret: str = Field(description="Signs what is sent; shown this once.")


class SecretOut(BaseModel):
    """A new secret."""

    secret: str = Field(description="Shown this once; the former signs too for a day.")


class LetterOut(BaseModel):
    """A fact that an address did not take."""

    model_config = ConfigDict(from_attributes=True)

    seq: int = Field(description="Number of the fact.")
    at: datetime = Field(description="When it was set aside.")
    tries: int
    failure: str = Field(description="Why it was not taken.")
    again: bool = Field(description="Whether it is about to be sent again.")


class LettersOut(BaseModel):
    """Dead letters of a hook, a page at a time."""

    letters: list[LetterOut]
    next: int | None = Field(description="Ask again with `after` = this; null at the end.")


@router.get("")
def hooks(request: Request, caller: Admin, paged: Paged) -> list[HookOut]:
    """All hooks of the caller's sites, those that work first, by label."""
    page = paged.page(_hooks(request).all(caller.actor), lambda hook: hook.hook)
    return [_out(hook) for hook in page]


@router.post("", status_code=201)
def make_hook(request: Request, caller: Admin, sent: HookIn) -> MadeHookOut:
    """Make a hook: a CloudEvent is sent for each fact from then on."""
    since = room_of(request).register.head().seq if sent.since is None else sent.since
    new_hook, secret = _hooks(request).make(
        caller.actor,
        sent.label,
        sent.url,
        since=since,
        kinds=sent.kinds,
        sites=frozenset(sent.sites) or None,
        private=sent.own_network,
    )
    return MadeHookOut(**_out(new_hook).model_dump(), secret=shown_secret(secret))


@router.get("/{hook}")
def hook(request: Request, caller: Admin, hook: Id) -> HookOut:
    """One hook."""
    return _out(_find(request, caller, hook))


@router.delete("/{hook}")
def end_hook(request: Request, caller: Admin, hook: Id) -> HookOut:
    """End a hook: nothing more is sent."""
    _find(request, caller, hook)
    _hooks(request).end(caller.actor, hook)
    return _out(_find(request, caller, hook))


@router.post("/{hook}/secret")
def new_secret(request: Request, caller: Admin, hook: Id) -> SecretOut:
    """Make another secret; the former signs too for a day."""
    _find(request, caller, hook)
    return SecretOut(secret=shown_secret(_hooks(request).new_secret(caller.actor, hook)))


@router.post("/{hook}/replay")
def replay(request: Request, caller: Admin, hook: Id, sent: ReplayIn) -> HookOut:
    """Tell again of all facts after a number."""
    _find(request, caller, hook)
    _hooks(request).replay(caller.actor, hook, sent.since)
    return _out(_find(request, caller, hook))


@router.get("/{hook}/letters")
def letters(
    request: Request,
    caller: Admin,
    hook: Id,
    after: Annotated[int, Query(ge=0, lt=2**63, description="`next` of the page before.")] = 0,
    limit: Annotated[int, Query(ge=1, le=1000, description="How many at most.")] = 200,
) -> LettersOut:
    """Facts that the address did not take, by number."""
    _find(request, caller, hook)
    rows = _hooks(request).letters(caller.actor, hook, after=after, limit=limit)
    shown = [LetterOut.model_validate(one) for one in rows]
    return LettersOut(letters=shown, next=rows[-1].seq if len(rows) == limit else None)


@router.post("/{hook}/letters/again")
def send_again(request: Request, caller: Admin, hook: Id) -> HookOut:
    """Send all dead letters again, before anything else."""
    _find(request, caller, hook)
    _hooks(request).send_again(caller.actor, hook)
    return _out(_find(request, caller, hook))


def _out(hook: Hook) -> HookOut:
    shown = {name: getattr(hook, name) for name in HookOut.model_fields if name != "own_network"}
    return HookOut(**shown, own_network=hook.private)


def _hooks(request: Request) -> Hooks:
    hooks = room_of(request).hooks
    if hooks is None:
        raise NotThereError("", "no hooks are kept here")
    return hooks


def _find(request: Request, caller: Caller, hook: UUID) -> Hook:
    record = _hooks(request).one(caller.actor, hook)
    if record is None:
        raise NotThereError("hook", f"there is no hook {hook}")
    return record
