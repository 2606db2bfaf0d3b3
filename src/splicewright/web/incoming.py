"""Pages: what other systems send, site by site; for admins."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, HTTPException, Request, UploadFile
from fastapi.responses import RedirectResponse, Response

from splicewright.actions.incoming import keep_mapping
from splicewright.errors import Fault, InputError
from splicewright.files.toml import LARGEST
from splicewright.store.incoming import Incoming
from splicewright.store.sites import covers
from splicewright.web.app.rendering import Entry, file_sent, render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of

router = APIRouter(prefix="/incoming")
NAVIGATION = (Entry("/incoming", "Incoming values", Role.ADMIN, place=92),)
Admin = Annotated[Visitor, Depends(needs(Role.ADMIN))]
_NAME = "mapping.toml"


@router.get("")
def incoming(request: Request, who: Admin) -> Response:
    """What came in at each site, and what was wrong."""
    return _page(request, who)


@router.post("")
def upload(request: Request, who: Admin, file: UploadFile | None = None) -> Response:
    """Keep a mapping of the site that it names."""
    try:
        if file is None or not file.filename:
            raise InputError(Fault("file", "is not chosen; accepted is a mapping, .toml"))
        raw = file.file.read(LARGEST + 1)
        if len(raw) > LARGEST:
            raise InputError(Fault("file", "is larger than 1 MB; a mapping is a few kB"))
        keep_mapping(room_of(request).register, _incoming(request), who.actor, raw, _NAME)
    except InputError as error:
        return _page(request, who, error.faults, 422)
    return RedirectResponse("/incoming", 303)


@router.get("/{site}/mapping.toml")
def mapping(request: Request, who: Admin, site: UUID) -> Response:
    """The mapping of a site, as it was given."""
    kept = _incoming(request).mapping(site)
    if kept is None or not covers(who.sites, frozenset({site})):
        raise HTTPException(404)
    return file_sent(kept.file, _NAME, "application/toml")


@router.post("/{site}/clear")
def clear(request: Request, who: Admin, site: UUID) -> Response:
    """Clear the list of what was wrong."""
    if room_of(request).register.site(site) is None:
        raise HTTPException(404)
    _incoming(request).forget_faults(who.actor, site)
    return RedirectResponse("/incoming", 303)


def _page(
    request: Request, who: Visitor, faults: tuple[Fault, ...] = (), status: int = 200
) -> Response:
    kept = _incoming(request)
    shown = [
        {
            "site": site,
            "mapping": kept.mapping(site.site),
            "last": kept.last(site.site),
            "wrong": kept.faults(who.actor, site.site),
        }
        for site in room_of(request).register.sites()
    ]
    return render(request, "incoming.html", status=status, faults=faults, shown=shown)


def _incoming(request: Request) -> Incoming:
    incoming = room_of(request).incoming
    if incoming is None:
        raise HTTPException(404)
    return incoming
