"""Page: what a planner does now and at the stops, what to order, where to look, and why."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from splicewright.actions.planner import PLANNER, PlannerAsked
from splicewright.history.planner.study import PlannerStudy
from splicewright.history.planner.worksheet import record_of_planner
from splicewright.sheets.pages.report import printed
from splicewright.sheets.reports.planner import planner_report
from splicewright.web.app.question_page import QuestionPage
from splicewright.web.app.rendering import Entry, file_sent, render
from splicewright.web.app.visitor import Visitor, visitor
from splicewright.web.plan.answer_numbers import numbers_page

router = APIRouter()
NAVIGATION = (Entry("/planner", "Planner", place=24),)
_Who = Annotated[Visitor, Depends(visitor)]
_PAGE: QuestionPage[PlannerAsked, PlannerStudy] = QuestionPage(PLANNER)


@router.get("/planner")
def planner_page(request: Request, who: _Who) -> Response:
    """What to do, first things first."""
    return render(request, "planner.html", **_PAGE.show(request, who).context)


@router.get("/planner.pdf")
def planner_file(request: Request, who: _Who) -> Response:
    """The same page on paper."""
    study = _PAGE.answer(request)
    return file_sent(printed(planner_report(study, who.units)), f"planner-{study.today}.pdf")


@router.get("/planner/why")
@router.get("/planner/why/{key}")
def planner_numbers(request: Request, who: _Who, key: str = "") -> Response:
    """How each number came about, or one of them."""
    record = record_of_planner(_PAGE.answer(request))
    return numbers_page(request, record, who.units, title="Planner", at="/planner", key=key)
