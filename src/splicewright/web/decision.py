"""Pages: repair, re-make, insert or replace."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response
from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool

from splicewright.actions.decision import DECIDE, decide_typed
from splicewright.actions.life.study import recorded_law
from splicewright.errors import Fault, InputError
from splicewright.files.question import asked_by
from splicewright.history.decision.file import LifeTable, OptionTable, PlaceTable
from splicewright.history.decision.options import Way
from splicewright.history.decision.study import DecisionStudy
from splicewright.quantities import Kind, show
from splicewright.sheets.pages.report import printed
from splicewright.sheets.reports.decision import decision_report
from splicewright.web.app.question_form import form_of, labels_of
from splicewright.web.app.rendering import Entry, file_sent, render
from splicewright.web.app.visitor import Visitor, room_of, visitor
from splicewright.web.conveyor.conveyor import find_conveyor
from splicewright.web.plan import words

router = APIRouter()
NAVIGATION = (Entry("/decide", "Decide", place=44),)
_Who = Annotated[Visitor, Depends(visitor)]
WAYS = {
    "repair": (Way.REPAIR, "Mend it where it is: quick, and no stronger than the repair's data."),
    "remake": (Way.REMAKE, "Cut the place out and make one joint: the loop gets shorter."),
    "insert": (Way.INSERT, "Insert a piece: the loop keeps its length and has one more joint."),
    "replace": (Way.REPLACE, "A new belt: the longest stop, and everything is new."),
}
_OF_WAY = (OptionTable, LifeTable)


@router.get("/decide")
def decide_page(request: Request, who: _Who) -> Response:
    """The first decision at a torn or worn place, asked step by step."""
    return _decide(request, who, _blank(), None, ())


@router.get("/conveyors/{conveyor}/decide")
def decide_on(request: Request, who: _Who, conveyor: UUID) -> Response:
    """The same with what the register knows of a conveyor."""
    room = room_of(request)
    there = find_conveyor(room.register, conveyor)
    typed = _blank() | {"name": there.name}
    law = recorded_law(room.register, room.now(), conveyor)
    if law is not None:
        for way in ("remake", "insert"):
            typed[f"{way}.scale"] = show(law.scale, Kind.RUN_TIME, who.units)
            typed[f"{way}.shape"] = f"{law.shape:.2g}"
    return _decide(request, who, typed, None, (), law is not None)


@router.post("/decide")
async def decide(request: Request, who: _Who) -> Response:
    """The options compared, or the sheet as PDF."""
    form = await request.form()
    typed = _blank() | {k: str(v)[:200] for k, v in form.items() if k in _blank() | {"act": ""}}
    for way in WAYS:
        typed[f"{way}.on"] = "yes" if f"{way}.on" in form else ""
    try:
        study = await run_in_threadpool(_judged, typed)
    except InputError as error:
        return _decide(request, who, typed, None, _by_labels(error.faults, typed))
    if form.get("act") == "pdf":
        data = await run_in_threadpool(printed, decision_report(study, who.units))
        return file_sent(data, "decision.pdf")
    return _decide(request, who, typed, study, ())


def _blank() -> dict[str, str]:
    typed = dict.fromkeys((f.name for f in asked_by(PlaceTable)), "")
    for way in WAYS:
        typed |= {f"{way}.{f.name}": "" for table in _OF_WAY for f in asked_by(table)}
        typed |= {f"{way}.on": "yes", f"{way}.shape": "2"}
    typed["insert.joints_more"] = "1"
    return typed


def _chosen(typed: Mapping[str, str]) -> list[str]:
    return [way for way in WAYS if typed[f"{way}.on"]]


def _judged(typed: Mapping[str, str]) -> DecisionStudy:
    """The typed place, judged like that of a decision file."""
    chosen = _chosen(typed)
    if not chosen:
        raise InputError(Fault("ways", "none is ticked; tick those that can be considered"))
    options = [
        {
            "way": WAYS[way][0].value,
            "life": _given(LifeTable, typed, way),
            **_given(OptionTable, typed, way),
        }
        for way in chosen
    ]
    return decide_typed({"place": _given(PlaceTable, typed), "option": options})


def _given(table: type[BaseModel], typed: Mapping[str, str], way: str = "") -> dict[str, str]:
    """What was typed of a table; what is empty is left out."""
    lead = f"{way}." if way else ""
    texts = {f.name: typed[lead + f.name].strip() for f in asked_by(table)}
    return {name: text for name, text in texts.items() if text}


def _by_labels(faults: Sequence[Fault], typed: Mapping[str, str]) -> tuple[Fault, ...]:
    """Faults of the tables by the labels of the page."""
    labels = labels_of(PlaceTable, "place")
    for number, way in enumerate(_chosen(typed), 1):
        labels |= labels_of(OptionTable, f"option.{number}", _lead(way))
        labels |= labels_of(LifeTable, f"option.{number}.life", _lead(way))
    return tuple(replace(f, key=labels.get(f.key, f.key)) for f in faults)


def _lead(way: str) -> str:
    return f"{WAYS[way][0].value.capitalize()}: "


def _decide(
    request: Request,
    who: Visitor,
    typed: Mapping[str, str],
    study: DecisionStudy | None,
    faults: tuple[Fault, ...],
    learnt: bool = False,
) -> Response:
    lines = words.explained(DECIDE.worksheet(study) if study else None, who.units)
    place = form_of(PlaceTable, typed, who.units, faults)
    ways = {
        way: [
            form_of(table, typed, who.units, faults, prefix=f"{way}.", lead=_lead(way))
            for table in _OF_WAY
        ]
        for way in WAYS
    }
    ids = place.ids
    for way, forms in ways.items():
        ids |= {_lead(way) + label: id for form in forms for label, id in form.ids.items()}
    return render(
        request,
        "decision.html",
        status=422 if faults else 200,
        typed=typed,
        document=decision_report(study, who.units) if study else None,
        ways=WAYS,
        faults=faults,
        learnt=learnt,
        place=place,
        of_way=ways,
        forms=ids,
        lines=lines,
        keys={line.key for line in lines},
    )
