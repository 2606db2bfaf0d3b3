"""Pages: photographs taken to be measured, with which sheet goes where; also without signal."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from splicewright.actions.photographs.proposals import SHOWN_AT
from splicewright.photographs.scale_sheet import BAR, CROSS_BAR, LARGEST, SMALLEST
from splicewright.photographs.trial import UNCONFIRMED
from splicewright.quantities import POLICY, Kind
from splicewright.store.facts.photo_facts import MOST_PHOTOGRAPHS, SHORT, SHOWN, Shows
from splicewright.store.present.measurings import measurings
from splicewright.web.app.rendering import render, static
from splicewright.web.app.visitor import Role, Visitor, needs, room_of
from splicewright.web.job.steps import unit_table
from splicewright.web.job.sync import SHELL, account_header

router = APIRouter()
_Crew = Annotated[Visitor, Depends(needs(Role.CREW))]


@router.get("/jobs/{job}/photograph/{step}")
def of_job(request: Request, job: UUID, step: str, who: _Crew) -> Response:
    """Photograph a belt end or its plates at a step of a job."""
    register = room_of(request).register
    there = register.job(job)
    if there is None:
        raise HTTPException(404)
    shows: Shows = SHOWN_AT.get(step, "cut")
    return _page(request, who, "job", job, there.name, f"/jobs/{job}", step=step[:120], shows=shows)


@router.get("/joints/{joint}/inspect/photograph")
def of_joint(request: Request, joint: UUID, who: _Crew) -> Response:
    """Photograph the plates of a joint that is inspected."""
    there = room_of(request).register.joint(joint)
    if there is None:
        raise HTTPException(404)
    return _page(
        request,
        who,
        "joint",
        joint,
        there.label,
        f"/joints/{joint}/inspect",
        step="",
        shows="plates",
    )


def _page(
    request: Request,
    who: Visitor,
    of: str,
    about: UUID,
    name: str,
    back: str,
    *,
    step: str,
    shows: Shows,
) -> Response:
    facts = room_of(request).register.facts_about(about)
    bar = POLICY[Kind.LENGTH].shown(who.units).unit
    data: dict[str, Any] = {
        "account": str(who.account),
        "of": of,
        "about": str(about),
        "step": step,
        "place": f"/{of}s/{about}",
        "keep": [request.url.path, *map(static, SHELL)],
        "bars": [[SMALLEST * drawn, LARGEST * drawn] for drawn in (BAR, CROSS_BAR)],
        "most": MOST_PHOTOGRAPHS,
        "shown": SHORT,
        "unit": bar,
        "kinds": unit_table({Kind.LENGTH}),
    }
    page = render(
        request,
        "photograph-taking.html",
        name=name,
        back=back,
        data=data,
        shows=shows,
        kinds=SHOWN,
        short=SHORT,
        standing=UNCONFIRMED,
        place=data["place"],
        measurings=measurings(facts)[::-1],
        unit=bar,
    )
    page.headers.update(account_header(who))
    return page
