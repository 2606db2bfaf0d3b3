"""Page: what a planner does now and at the stops, what to order, where to look, and why."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import Response

from splicewright.actions.planner import PLANNER, PlannerAsked, answer_planner
from splicewright.errors import Fault, InputError
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
from splicewright.web.app.answer_cache import LastAnswers
from splicewright.web.app.long_question import long_question, refuse_long
from splicewright.web.app.question_form import (
    by_labels,
    form_of,
    read_form,
    source_of,
    typed_of,
)
from splicewright.web.app.rendering import Entry, render
from splicewright.web.app.visitor import Visitor, room_of, visitor
from splicewright.web.plan.answer_numbers import numbers_page

router = APIRouter()
NAVIGATION = (Entry("/planner", "Planner", place=24),)
_Who = Annotated[Visitor, Depends(visitor)]
SHOWN = 40
"""Lines of a list on the page; the report's JSON holds all."""
_KEPT: LastAnswers[PlannerStudy] = LastAnswers(8)


@router.get("/planner")
def planner_page(request: Request, who: _Who) -> Response:
    """What to do, first things first."""
    faults: tuple[Fault, ...] = ()
    study = long = None
    typed = typed_of(PlannerAsked, request.query_params)
    try:
        asked = read_form(PlannerAsked, typed)
        long = long_question(room_of(request), who, PLANNER.command, asked, typed)
        study = _study(request, asked) if long is None else None
    except InputError as error:
        faults = error.faults
    form = form_of(PlannerAsked, typed, who.units, faults)
    told: dict[str, Any] = {"lists": [], "answer": [], "rows": [], "rests": []}
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
        told = {
            "lists": [(title, lines[:SHOWN], len(lines)) for title, lines in lists if lines],
            "answer": planner_answer(study, who.units),
            "rows": list(weighed_rows(study, who.units))[:SHOWN],
            "rests": list(planner_sections(study, who.units)[-1].points),
        }
    return render(
        request,
        "planner.html",
        status=422 if faults else 200,
        study=study,
        form=form,
        long=long,
        forms=form.ids,
        query=f"?{form.query}" if form.query else "",
        faults=faults,
        head=WEIGHED_HEAD,
        cautions=PLANNER_CAUTIONS,
        **told,
    )


@router.get("/planner.pdf")
def planner_file(request: Request, who: _Who) -> Response:
    """The same page on paper."""
    try:
        asked = read_form(PlannerAsked, typed_of(PlannerAsked, request.query_params))
        refuse_long(room_of(request), asked)
        study = _study(request, asked)
    except InputError as error:
        raise HTTPException(422, error.faults[0].sentence) from None
    headers = {"Content-Disposition": f'attachment; filename="planner-{study.today}.pdf"'}
    return Response(planner_report(study, who.units), media_type="application/pdf", headers=headers)


@router.get("/planner/why")
@router.get("/planner/why/{key}")
def planner_numbers(request: Request, who: _Who, key: str = "") -> Response:
    """How each number came about, or one of them."""
    try:
        asked = read_form(PlannerAsked, typed_of(PlannerAsked, request.query_params))
        refuse_long(room_of(request), asked)
        study = _study(request, asked)
    except InputError as error:
        raise HTTPException(422, error.faults[0].sentence) from None
    return numbers_page(
        request, record_of_planner(study), who.units, title="Planner", at="/planner", key=key
    )


def _study(request: Request, asked: PlannerAsked) -> PlannerStudy:
    """The page as it is asked for; kept while nothing changes.

    Raises
    ------
    InputError
        What was asked cannot be.
    """
    room = room_of(request)
    with by_labels(PlannerAsked):
        return _KEPT.answer(
            room.register, room.now().date(), asked, lambda: answer_planner(asked, source_of(room))
        )
