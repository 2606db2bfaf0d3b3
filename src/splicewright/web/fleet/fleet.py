"""Page: the fleet, what is due, worst first, and why; its table, report and drawing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from splicewright.actions.fleet.counted import CHANGE_NOTHING
from splicewright.actions.fleet.fleet import fleet_table
from splicewright.actions.fleet.question import FLEET, FleetAsked
from splicewright.history.fleet.study import FleetStudy
from splicewright.history.fleet.worksheet import record_of_fleet
from splicewright.sheets.pages.report import printed
from splicewright.sheets.reports.fleet import fleet_report
from splicewright.web.app.answer_cache import Touches, always
from splicewright.web.app.document import drawing, pictures_at
from splicewright.web.app.question_page import QuestionPage
from splicewright.web.app.rendering import Entry, file_sent, render
from splicewright.web.app.room import Room
from splicewright.web.app.visitor import Visitor, visitor
from splicewright.web.plan.answer_numbers import numbers_page

router = APIRouter()
NAVIGATION = (Entry("/fleet", "Fleet", place=25),)
_Who = Annotated[Visitor, Depends(visitor)]
_MEDIA = {
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "pdf": "application/pdf",
}


def _touches(room: Room, asked: FleetAsked, study: FleetStudy) -> Touches:
    if study.numbers is None:
        return always
    return lambda kind, _: kind not in CHANGE_NOTHING


_PAGE: QuestionPage[FleetAsked, FleetStudy] = QuestionPage(FLEET, touches=_touches)


@router.get("/fleet")
def fleet_page(request: Request, who: _Who) -> Response:
    """What is due, worst first, and why."""
    shown = _PAGE.show(request, who)
    context = shown.context
    return render(
        request,
        "fleet.html",
        **context,
        pictures=pictures_at(shown.document, "/fleet", context["query"]) if shown.document else {},
        whole=shown.study is not None and shown.study.numbers is None,
    )


@router.get("/fleet.{ending}")
def fleet_file(request: Request, who: _Who, ending: Literal["xlsx", "pdf"]) -> Response:
    """The whole list as XLSX, or the report as PDF."""
    study = _PAGE.answer(request)
    if ending == "xlsx":
        data = fleet_table(study, who.units)
    else:
        data = printed(fleet_report(study, who.units))
    return file_sent(data, f"fleet-{study.today}.{ending}", _MEDIA[ending])


@router.get("/fleet/{name}.svg")
def fleet_drawing(request: Request, who: _Who, name: str, phone: bool = False) -> Response:
    """One of its drawings; phone : for its width."""
    return drawing(fleet_report(_PAGE.answer(request), who.units), name, phone=phone)


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
