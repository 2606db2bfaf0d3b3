"""Pages: hooks, by which other systems are told of facts; for admins."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Form, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from splicewright.background.hooks import shown_secret
from splicewright.errors import Fault, InputError
from splicewright.store.facts.kinds import KINDS
from splicewright.store.hooks import Hook, Hooks
from splicewright.store.sites import chosen, site_names
from splicewright.web.app.rendering import Entry, render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of

router = APIRouter(prefix="/hooks")
NAVIGATION = (Entry("/hooks", "Hooks", Role.ADMIN, place=91),)
Admin = Annotated[Visitor, Depends(needs(Role.ADMIN))]
_Typed = Annotated[str, Form(max_length=1000)]
_SHOWN = 200
_EMPTY: dict[str, object] = {
    "label": "",
    "url": "",
    "since": "",
    "kinds": (),
    "own_network": False,
}


@router.get("")
def hooks(request: Request, who: Admin) -> Response:
    """All hooks, and a form to make one."""
    return _page(request, who)


@router.post("")
def make(
    request: Request,
    who: Admin,
    label: _Typed = "",
    url: _Typed = "",
    since: _Typed = "",
    kind: Annotated[list[str], Form()] = [],  # noqa: B006
    site: Annotated[list[UUID], Form()] = [],  # noqa: B006
    own_network: Annotated[bool, Form()] = False,
) -> Response:
    """Make a hook; the page shows its secret this once."""
    typed = {"label": label, "url": url, "since": since, "kinds": kind, "own_network": own_network}
    try:
        head = room_of(request).register.head().seq
        begin = _number(since) if since.strip() else head
        new_hook, secret = _hooks(request).make(
            who.actor,
            label,
            url.strip(),
            since=begin,
            kinds=kind,
            private=own_network,
            sites=chosen(site, all_of_them=not site),
        )
    except InputError as error:
        return _page(request, who, error.faults, 422, typed=typed)
    return _one_page(request, new_hook, secret=shown_secret(secret), new=True)


@router.get("/{hook}")
def hook(request: Request, who: Admin, hook: UUID) -> Response:
    """One hook: where it stands, what was not taken."""
    return _one_page(request, _find(request, who, hook), who=who)


@router.post("/{hook}/replay")
def replay(request: Request, who: Admin, hook: UUID, since: _Typed = "") -> Response:
    """Tell again of all facts after a number."""
    record = _find(request, who, hook)
    try:
        _hooks(request).replay(who.actor, hook, _number(since))
    except InputError as error:
        return _one_page(request, record, who=who, faults=error.faults)
    return RedirectResponse(f"/hooks/{hook}", 303)


@router.post("/{hook}/secret")
def new_secret(request: Request, who: Admin, hook: UUID) -> Response:
    """Make another secret."""
    record = _find(request, who, hook)
    secret = shown_secret(_hooks(request).new_secret(who.actor, hook))
    return _one_page(request, record, who=who, secret=secret)


@router.post("/{hook}/again")
def again(request: Request, who: Admin, hook: UUID) -> Response:
    """Send the dead letters again."""
    _find(request, who, hook)
    _hooks(request).send_again(who.actor, hook)
    return RedirectResponse(f"/hooks/{hook}", 303)


@router.post("/{hook}/end")
def end(request: Request, who: Admin, hook: UUID) -> Response:
    """End it."""
    _find(request, who, hook)
    _hooks(request).end(who.actor, hook)
    return RedirectResponse("/hooks", 303)


def _number(text: str) -> int:
    plain = text.strip()
    if not (plain.isascii() and plain.isdigit() and len(plain) < 19):
        say = f'"{plain[:40]}" is no number of a fact; accepted is 0 or more'
        raise InputError(Fault("since", say))
    return int(plain)


def _page(
    request: Request,
    who: Visitor,
    faults: tuple[Fault, ...] = (),
    status: int = 200,
    *,
    typed: dict[str, object] | None = None,
) -> Response:
    register = room_of(request).register
    sites = register.sites()
    names = {s.site: s.name for s in sites}
    all_hooks = _hooks(request).all(who.actor)
    return render(
        request,
        "hooks.html",
        status=status,
        faults=faults,
        hooks=all_hooks,
        sites_of={h.hook: site_names(h.sites, names) for h in all_hooks},
        head=register.head().seq,
        sites=sites,
        kinds=sorted(KINDS),
        typed=typed or _EMPTY,
    )


def _one_page(
    request: Request,
    record: Hook,
    *,
    who: Visitor | None = None,
    secret: str = "",
    new: bool = False,
    faults: tuple[Fault, ...] = (),
) -> Response:
    register = room_of(request).register
    letters = _hooks(request).letters(who.actor, record.hook, limit=_SHOWN) if who else ()
    return render(
        request,
        "hook.html",
        status=422 if faults else 200,
        faults=faults,
        hook=record,
        secret=secret,
        new=new,
        letters=letters,
        head=register.head().seq,
        tells_of=site_names(record.sites, {s.site: s.name for s in register.sites()}),
    )


def _hooks(request: Request) -> Hooks:
    hooks = room_of(request).hooks
    if hooks is None:
        raise HTTPException(404)
    return hooks


def _find(request: Request, who: Visitor, hook: UUID) -> Hook:
    record = _hooks(request).one(who.actor, hook)
    if record is None:
        raise HTTPException(404)
    return record
