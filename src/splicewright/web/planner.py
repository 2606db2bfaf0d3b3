"""Page: what a planner does now and at the stops, what to order, where to look, and why."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from splicewright.actions.planner import PLANNER, PlannerAsked
from splicewright.history.planner.study import PlannerStudy
from splicewright.history.planner.worksheet import record_of_planner
from splicewright.sheets.reports.planner import planner_report
from splicewright.sheets.words.planner import (
    PLANNER_CAUTIONS,
    WEIGHED_HEAD,
    after_lines,
    look_lines,
    now_lines,
    order_lines,
    past_lines,
    planner_answer,
    planner_sections,
    reading_lines,
    stop_lines,
    weighed_rows,
)
from splicewright.web.app.question_page import QuestionPage
from splicewright.web.app.rendering import Entry, file_sent, render
from splicewright.web.app.visitor import Visitor, visitor
from splicewright.web.plan.answer_numbers import numbers_page

router = APIRouter()
NAVIGATION = (Entry("/planner", "Planner", place=24),)
_Who = Annotated[Visitor, Depends(visitor)]
SHOWN = 40
"""Lines of a list on the page; the report's JSON holds all."""
_PAGE: QuestionPage[PlannerAsked, PlannerStudy] = QuestionPage(PLANNER)


@router.get("/planner")
def planner_page(request: Request, who: _Who) -> Response:
    """What to do, first things first."""
    shown = _PAGE.show(request, who)
    study = shown.study
    context: dict[str, Any] = {"lists": [], "answer": [], "rows": [], "rests": []}
    if study is not None:
        lists = (
            ("Now", now_lines(study, who.units)),
            (f"At the stop on {study.until}", stop_lines(study, who.units)),
            (f"At the stop on {study.after}", after_lines(study, who.units)),
            ("Order", order_lines(study)),
            ("Where to look, by what an inspection saves", look_lines(study, who.units)),
            ("Where one more reading decides", reading_lines(study)),
            ("Running past the cheapest age", past_lines(study, who.units)),
        )
        context = {
            "lists": [(title, lines[:SHOWN], len(lines)) for title, lines in lists if lines],
            "answer": planner_answer(study, who.units),
            "rows": list(weighed_rows(study, who.units))[:SHOWN],
            "rests": list(planner_sections(study, who.units)[-1].points),
        }
    return render(
        request,
        "planner.html",
        **shown.context,
        head=WEIGHED_HEAD,
        cautions=PLANNER_CAUTIONS,
        **context,
    )


@router.get("/planner.pdf")
def planner_file(request: Request, who: _Who) -> Response:
    """The same page on paper."""
    study = _PAGE.answer(request)
    return file_sent(planner_report(study, who.units), f"planner-{study.today}.pdf")


@router.get("/planner/why")
@router.get("/planner/why/{key}")
def planner_numbers(request: Request, who: _Who, key: str = "") -> Response:
    """How each number came about, or one of them."""
    record = record_of_planner(_PAGE.answer(request))
    return numbers_page(request, record, who.units, title="Planner", at="/planner", key=key)
