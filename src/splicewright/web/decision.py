"""Pages: repair, re-make, insert or replace."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from splicewright.actions.decision import decide_place
from splicewright.actions.life.study import recorded_law
from splicewright.errors import Fault, InputError
from splicewright.history.decision.options import Way
from splicewright.history.decision.study import DecisionStudy
from splicewright.quantities import Kind, show
from splicewright.sheets.reports.decision import decision_report
from splicewright.sheets.words.decision import steady_words
from splicewright.sheets.words.fleet import money
from splicewright.web.app.posted_files import as_files
from splicewright.web.app.rendering import Entry, render
from splicewright.web.app.visitor import Visitor, room_of, visitor
from splicewright.web.conveyor.conveyor import find_conveyor
from splicewright.web.fleet.fleet import amount_of

router = APIRouter()
NAVIGATION = (Entry("/decide", "Decide", place=44),)
_Who = Annotated[Visitor, Depends(visitor)]
PLACE = (
    "name", "window", "strength_needed", "belt_spare", "belt_in_stock", "stop_cost_per_hour",
    "failure_cost", "until",
)  # fmt: skip
"""Fields of the place, as in a decision file."""
WAYS = {
    "repair": (Way.REPAIR, "Mend it where it is: quick, and no stronger than the repair's data."),
    "remake": (Way.REMAKE, "Cut the place out and make one joint: the loop gets shorter."),
    "insert": (Way.INSERT, "Insert a piece: the loop keeps its length and has one more joint."),
    "replace": (Way.REPLACE, "A new belt: the longest stop, and everything is new."),
}
OPTION = (
    "time", "cost", "kept_strength", "scale", "shape", "belt_taken", "belt_let_in", "joints_more",
)  # fmt: skip
"""Fields of a way."""
_TOLD = {"scale": "lasts", "life.scale": "lasts", "life.shape": "shape"}
_NUMBERS = {"stop_cost_per_hour", "failure_cost", "cost", "shape"}


@router.get("/decide")
def decide_page(request: Request, who: _Who) -> Response:
    """The first decision at a torn or worn place, asked step by step."""
    return _decide(request, _blank(), None, ())


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
    return _decide(request, typed, None, (), law is not None)


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
        return _decide(request, typed, None, tuple(_in_words(f, typed) for f in error.faults))
    if form.get("act") == "pdf":
        data = await run_in_threadpool(decision_report, study, who.units)
        name = {"Content-Disposition": 'attachment; filename="decision.pdf"'}
        return Response(data, media_type="application/pdf", headers=name)
    return _decide(request, typed, study, ())


def _blank() -> dict[str, str]:
    typed = dict.fromkeys(PLACE, "")
    for way in WAYS:
        typed |= {f"{way}.{name}": "" for name in OPTION} | {f"{way}.on": "yes"}
        typed[f"{way}.shape"] = "2"
    typed["insert.joints_more"] = "1"
    return typed


def _judged(typed: Mapping[str, str]) -> DecisionStudy:
    """The typed place as a decision file, read and judged like any other."""
    chosen = [way for way in WAYS if typed[f"{way}.on"]]
    if not chosen:
        raise InputError(Fault("ways", "none is ticked; tick those that can be considered"))
    lines = ["[place]", *_entries({name: typed[name] for name in PLACE})]
    for way in chosen:
        given = {name: typed[f"{way}.{name}"] for name in OPTION}
        life = {name: given.pop(name) for name in ("shape", "scale")}
        lines += ["[[option]]", f"way = {json.dumps(WAYS[way][0].value)}", *_entries(given)]
        lines += ["[option.life]", *_entries(life)]
    with as_files({"place.toml": "\n".join(lines) + "\n"}) as folder:
        return decide_place(folder / "place.toml")


def _entries(given: Mapping[str, str]) -> list[str]:
    """TOML lines of what was typed; what is empty is left out."""
    lines = []
    for name, text in given.items():
        plain = text.strip()
        if not plain:
            continue
        if name in _NUMBERS:
            value = amount_of(plain, name)
            lines.append(f"{name} = {value!r}")
        elif name == "joints_more":
            lines.append(f"{name} = {plain if plain.isdecimal() else json.dumps(plain)}")
        else:
            lines.append(f"{name} = {json.dumps(plain)}")
    return lines


def _in_words(fault: Fault, typed: Mapping[str, str]) -> Fault:
    """A fault of the file in the words of the page."""
    key = fault.key
    chosen = [way for way in WAYS if typed[f"{way}.on"]]
    parts = key.split(".")
    if parts[0] == "place":
        key = ".".join(parts[1:]).replace("_", " ")
    elif parts[0] == "option" and len(parts) > 2 and parts[1].isdecimal():
        number = int(parts[1]) - 1
        rest = ".".join(parts[2:])
        if 0 <= number < len(chosen):
            key = f"{WAYS[chosen[number]][0]}, {_TOLD.get(rest, rest).replace('_', ' ')}"
    return Fault(key.replace("_", " "), fault.sentence)


def _decide(
    request: Request, typed: Mapping[str, str], study: DecisionStudy | None,
    faults: tuple[Fault, ...], learnt: bool = False,
) -> Response:  # fmt: skip
    return render(
        request, "decision.html", status=422 if faults else 200, typed=typed, study=study,
        ways=WAYS, faults=faults, steady=steady_words(study) if study else "", money=money,
        learnt=learnt,
    )  # fmt: skip
