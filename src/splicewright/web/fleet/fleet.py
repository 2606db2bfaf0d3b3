"""Page: the fleet, what is due, worst first, and why; its table, report and drawing."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from splicewright.actions.fleet.counted import CHANGE_NOTHING
from splicewright.actions.fleet.fleet import fleet_table
from splicewright.actions.fleet.question import FLEET, FleetAsked
from splicewright.history.fleet.study import FleetStudy
from splicewright.history.fleet.urgency import Urgency
from splicewright.history.fleet.worksheet import record_of_fleet
from splicewright.quantities import System, percent
from splicewright.sheets.canvas.chart import PHONE
from splicewright.sheets.canvas.svg import svg
from splicewright.sheets.drawings.fleet import fleet_years
from splicewright.sheets.reports.fleet import fleet_report
from splicewright.sheets.words.fleet import (
    cause_trend_words,
    fleet_answer,
    group_cells,
    group_head,
    line_reasons,
    money,
    new_today,
)
from splicewright.web.app.answer_cache import Touches, always
from splicewright.web.app.question_page import QuestionPage
from splicewright.web.app.rendering import Entry, file_sent, render
from splicewright.web.app.room import Room
from splicewright.web.app.visitor import Visitor, visitor
from splicewright.web.plan.answer_numbers import numbers_page

router = APIRouter()
NAVIGATION = (Entry("/fleet", "Fleet", place=25),)
_Who = Annotated[Visitor, Depends(visitor)]
SHOWN = 40
"""Lines on the page; the table holds all."""
_MEDIA = {
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "pdf": "application/pdf",
}
LOOKS = {Urgency.NOW: "bad", Urgency.OVERDUE: "bad", Urgency.STOP: "warn", Urgency.LATER: ""}
"""How the urgency of a line looks; its word tells it."""


def _touches(room: Room, asked: FleetAsked, study: FleetStudy) -> Touches:
    if study.numbers is None:
        return always
    return lambda kind, _: kind not in CHANGE_NOTHING


_PAGE: QuestionPage[FleetAsked, FleetStudy] = QuestionPage(FLEET, touches=_touches)


@router.get("/fleet")
def fleet_page(request: Request, who: _Who) -> Response:
    """What is due, worst first, and why."""
    shown = _PAGE.show(request, who)
    study = shown.study
    return render(
        request,
        "fleet.html",
        **shown.context,
        answer=fleet_answer(study, who.units) if study else [],
        lines=_lines(study, who.units) if study else [],
        rest=max(0, study.all_lines - SHOWN) if study else 0,
        whole=study is not None and study.numbers is None,
        money=money,
        finite=math.isfinite,
        groups=_groups(study, who.units) if study else [],
        drawn=study is not None and any(y.failures for y in study.years),
        trends=cause_trend_words(study) if study else [],
    )


@router.get("/fleet.{ending}")
def fleet_file(
    request: Request, who: _Who, ending: Literal["xlsx", "pdf", "svg"], phone: bool = False
) -> Response:
    """The whole list as XLSX, the report as PDF, or failures by year as drawing.

    phone : the drawing for its width
    """
    study = _PAGE.answer(request)
    if ending == "xlsx":
        data = fleet_table(study, who.units)
    elif ending == "pdf":
        data = fleet_report(study, who.units)
    else:
        drawing = svg(fleet_years(study, *((PHONE,) if phone else ())), margin=5.0)
        return Response(drawing, media_type="image/svg+xml")
    return file_sent(data, f"fleet-{study.today}.{ending}", _MEDIA[ending])


@router.get("/fleet/why")
@router.get("/fleet/why/{key}")
def fleet_numbers(request: Request, who: _Who, key: str = "") -> Response:
    """How each number came about, or one of them."""
    study = _PAGE.answer(request)
    return numbers_page(
        request, record_of_fleet(study), who.units, title="Fleet", at="/fleet", key=key
    )


def study_of(request: Request, typed: Mapping[str, str]) -> FleetStudy:
    """The fleet as it is asked for; kept while nothing changes.

    Raises
    ------
    InputError
        What was asked cannot be.
    """
    return _PAGE.answer(request, typed)


def _groups(study: FleetStudy, units: System) -> list[dict[str, Any]]:
    """Conveyors and kinds of joint as tables, each row with the identity that links it."""
    return [
        {
            "title": title,
            "head": [h[0].upper() + h[1:] for h in group_head(name, study)],
            "rows": [(c.id, group_cells(c, study, units)) for c in groups],
            "dated": new_today(groups, study),
        }
        for title, name, groups in (
            ("Conveyors", "conveyor", study.conveyors[:SHOWN]),
            ("Kinds of joint", "kind", study.kinds),
        )
        if groups
    ]


def _lines(study: FleetStudy, units: System) -> list[dict[str, str]]:
    rows = []
    for line in study.lines[:SHOWN]:
        known = math.isfinite(line.chance)
        path = f"/joints/{line.id}" if line.joint else f"/conveyors/{line.id}/forecast"
        path = f"/jobs/{line.job}" if line.job else path
        rows.append(
            {
                "what": f"Joint {line.what}" if line.joint else line.what,
                "path": path,
                "conveyor": line.conveyor,
                "urgency": line.urgency.value,
                "look": LOOKS[line.urgency],
                "why": line_reasons(line, units),
                "chance": percent(line.chance, 1) if known else "",
            }
        )
    return rows
