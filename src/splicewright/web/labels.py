"""Pages: stickers with a QR code that leads to a joint, a job or a conveyor."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Literal
from urllib.parse import urlencode
from uuid import UUID

from fastapi import APIRouter, Depends, HTTPException, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, Field

from splicewright.actions.register.use import conveyor_labels
from splicewright.errors import Fault, InputError
from splicewright.sheets.canvas.paper import PAPERS
from splicewright.sheets.labels import GRID, MOST, Sticker, StickerSize, code_svg, sticker_sheet
from splicewright.store import Register, State
from splicewright.web.app.rendering import file_sent, render
from splicewright.web.app.visitor import Visitor, room_of, visitor

router = APIRouter()
Anybody = Annotated[Visitor, Depends(visitor)]
Several = Annotated[list[UUID], Field(max_length=200)]
MOST_COPIES = 20
_BASE = re.compile(r"https?://[A-Za-z0-9.-]+(:\d{1,5})?(/[A-Za-z0-9._~/-]*)?")
_LONGEST_BASE = 120


@dataclass(frozen=True, slots=True)
class Labelled:
    """A thing with a page: what it is, its id, its sticker."""

    kind: Literal["joint", "job", "conveyor"]
    id: UUID
    sticker: Sticker


class Asked(BaseModel):
    """Which labels, and how; `all` adds the joints of the conveyors."""

    joint: Several = []
    job: Several = []
    conveyor: Several = []
    all: bool = False
    base: str = ""
    size: StickerSize = "large"
    copies: str = "1"
    paper: Literal["A4", "Letter"] = "A4"


@router.get("/joints/{joint}/label")
def of_joint(request: Request, joint: UUID, who: Anybody) -> Response:
    """The label of one joint."""
    if room_of(request).register.joint(joint) is None:
        raise HTTPException(404)
    return RedirectResponse(f"/labels?{urlencode({'joint': joint})}", 303)


@router.get("/labels")
def labels(request: Request, who: Anybody, asked: Annotated[Asked, Query()]) -> Response:
    """Choose stickers, and see what their codes say."""
    register = room_of(request).register
    own = _own_base(request)
    faults = []
    try:
        used = _checked(asked.base, own)
    except InputError as error:
        used, faults = own, list(error.faults)
    things = list(_things(register, used, asked))
    try:
        _copies(asked.copies, len(things))
    except InputError as error:
        faults.extend(error.faults)
    query = {
        "base": used,
        "size": asked.size,
        "copies": asked.copies,
        "paper": asked.paper,
        "joint": [t.id for t in things if t.kind == "joint"],
        "job": [t.id for t in things if t.kind == "job"],
        "conveyor": [t.id for t in things if t.kind == "conveyor"],
    }
    return render(
        request,
        "labels.html",
        status=422 if faults else 200,
        things=things,
        offered=[] if things else _offered(register),
        asked=asked,
        own=own,
        sizes={name: across * down for name, (across, down, _) in GRID.items()},
        query=urlencode(query, doseq=True),
        used=used,
        fault_at={f.key: [f] for f in faults},
        local=_is_local(used),
        swapped=False,
    )


@router.get("/labels.pdf")
def sheet(request: Request, who: Anybody, asked: Annotated[Asked, Query()]) -> Response:
    """The stickers on sheets to print and cut."""
    used = _checked(asked.base, _own_base(request))
    things = list(_things(room_of(request).register, used, asked))
    if not things:
        raise InputError(Fault("labels", "nothing is chosen; choose joints, jobs or conveyors"))
    wanted = [thing.sticker for thing in things for _ in range(_copies(asked.copies, len(things)))]
    data = sticker_sheet(wanted, asked.size, PAPERS[asked.paper])
    return file_sent(data, "labels.pdf", open_it=True)


@router.get("/labels/{kind}/{id}.svg")
def code(
    request: Request,
    who: Anybody,
    kind: Literal["joint", "job", "conveyor"],
    id: UUID,
    base: str = "",
) -> Response:
    """One code alone."""
    used = _checked(base, _own_base(request))
    things = list(_things(room_of(request).register, used, Asked.model_validate({kind: [id]})))
    return Response(code_svg(things[0].sticker.link), media_type="image/svg+xml")


def _own_base(request: Request) -> str:
    return str(request.base_url).rstrip("/")


def _checked(base: str, own: str) -> str:
    """Where the codes lead to: what was typed, else the address the page was asked at."""
    text = base.strip().rstrip("/")
    if not text:
        return own
    if len(text) > _LONGEST_BASE or not _BASE.fullmatch(text):
        say = (
            f'"{text[:60]}" is no address of this app; accepted is such as '
            "https://joints.example.org"
        )
        raise InputError(Fault("base", say))
    return text


def _is_local(base: str) -> bool:
    """Whether a code with this base leads a phone to itself."""
    host = base.partition("://")[2].partition("/")[0].rpartition(":")[0] or base.partition("://")[2]
    return host in {"127.0.0.1", "localhost", "[::1]"}


def _copies(text: str, things: int) -> int:
    most = min(MOST_COPIES, MOST // max(1, things))
    if not (text.isascii() and text.isdigit() and 1 <= int(text[:4]) <= most):
        raise InputError(
            Fault("copies", f'"{text[:20]}" copies cannot be made; accepted is 1 to {most}')
        )
    return int(text)


def _things(register: Register, base: str, asked: Asked) -> Iterable[Labelled]:
    """What is asked for, each with its sticker."""
    sites = {site.site: site.name for site in register.sites()}
    plants = {c.conveyor: c for c in register.conveyors()}
    chosen = list(dict.fromkeys(asked.conveyor))
    joints = list(dict.fromkeys(asked.joint))
    for id_ in chosen:
        if id_ not in plants:
            raise HTTPException(404)
        there = plants[id_]
        link = f"{base}/conveyors/{id_}"
        yield Labelled("conveyor", id_, Sticker(link, there.name, (sites.get(there.site, ""),)))
        if asked.all:
            joints += [
                j.joint
                for j in register.joints(id_)
                if j.state is not State.REMOVED and j.joint not in joints
            ]
    for id_ in joints:
        joint = register.joint(id_)
        if joint is None:
            raise HTTPException(404)
        plant = plants[joint.conveyor]
        lines = (f"joint on {plant.name}", sites.get(plant.site, ""))
        yield Labelled("joint", id_, Sticker(f"{base}/joints/{id_}", joint.label, lines))
    for id_ in dict.fromkeys(asked.job):
        work = register.job(id_)
        if work is None:
            raise HTTPException(404)
        plant = plants[work.conveyor]
        lines = (f"job on {plant.name}", sites.get(plant.site, ""))
        yield Labelled("job", id_, Sticker(f"{base}/jobs/{id_}", work.name, lines))


def _offered(register: Register) -> list[tuple[UUID, str]]:
    """Conveyors whose labels can be had, when nothing was chosen."""
    return list(conveyor_labels(register).items())
