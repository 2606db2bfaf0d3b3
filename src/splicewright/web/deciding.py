"""Pages: repair, re-make, insert or replace; joints for a shutdown and its bars."""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, HTTPException, Request, UploadFile
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from splicewright.actions.choose_joints import choose_recorded_joints
from splicewright.actions.decide_place import decide_place
from splicewright.actions.judge_shutdown import judge_shutdown
from splicewright.actions.study_lives import recorded_law
from splicewright.errors import Fault, InputError
from splicewright.history.choosing_study import ChoosingStudy
from splicewright.history.decision_study import DecisionStudy
from splicewright.history.options import Way
from splicewright.history.shutdown_study import ShutdownStudy
from splicewright.quantities import Kind, show
from splicewright.sheets.deciding_pages import choice_report, decision_report
from splicewright.sheets.deciding_words import (
    bought,
    choice_rows,
    choice_words,
    holds_up,
    shutdown_words,
    steady_words,
)
from splicewright.sheets.fleet_words import money
from splicewright.sheets.shutdown_sheet import shutdown_bars, shutdown_strip
from splicewright.sheets.svg import svg
from splicewright.web.conveyor import find_conveyor
from splicewright.web.fleet import amount_of, day_of
from splicewright.web.posted import as_files
from splicewright.web.rendering import Entry, render
from splicewright.web.visiting import Visitor, room_of, visitor

router = APIRouter()
NAVIGATION = (Entry("/decide", "Decide", place=44), Entry("/shutdown", "Shutdown", place=46))
_Who = Annotated[Visitor, Depends(visitor)]
_LARGEST = 200_000
PLACE = (
    "name", "window", "strength_needed", "belt_spare", "belt_in_stock", "stop_cost_per_hour",
    "failure_cost", "until",
)  # fmt: skip
"""Fields of the place, as in a decision file."""
WAYS = {
    "repair": (Way.REPAIR, "Mend it where it is: quick, and no stronger than the repair's data."),
    "remake": (Way.REMAKE, "Cut the place out and make one joint: the loop gets shorter."),
    "insert": (Way.INSERT, "Let in a piece: the loop keeps its length and gets one joint more."),
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
    """The ways beside each other, or the sheet as PDF."""
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


@dataclass(frozen=True, slots=True)
class AskedJoints:
    """What a shutdown has, as typed; it stands in the address."""

    window: str = ""
    crew: str = ""
    gang: str = "2"
    each: str = ""
    opening: str = ""
    until: str = ""
    failure: str = ""
    renewal: str = ""
    power: str = ""


def _asked_joints(request: Request) -> AskedJoints:
    given = request.query_params
    return AskedJoints(
        **{f.name: given[f.name][:40] for f in fields(AskedJoints) if f.name in given}
    )


_Joints = Annotated[AskedJoints, Depends(_asked_joints)]


@router.get("/shutdown")
def shutdown_page(request: Request, who: _Who, asked: _Joints) -> Response:
    """Joints to renew in a shutdown, from the register, and their bars."""
    if not asked.window:
        return _shutdown(request, asked, None, None, ())
    try:
        study = _chosen(request, asked)
    except InputError as error:
        return _shutdown(request, asked, None, None, error.faults)
    return _shutdown(request, asked, study, study.schedule, ())


@router.get("/shutdown.pdf")
def shutdown_pdf(request: Request, who: _Who, asked: _Joints) -> Response:
    """The report on the joints to renew."""
    try:
        data = choice_report(_chosen(request, asked))
    except InputError as error:
        raise HTTPException(422, error.faults[0].sentence) from None
    name = {"Content-Disposition": 'attachment; filename="choice.pdf"'}
    return Response(data, media_type="application/pdf", headers=name)


@router.post("/shutdown")
def judge(request: Request, who: _Who, file: UploadFile | None = None) -> Response:
    """Whether the tasks of a shutdown file fit its window."""
    asked, room = AskedJoints(), room_of(request)
    raw = file.file.read(_LARGEST + 1) if file is not None else b""
    try:
        if not raw:
            raise InputError(Fault("file", "is missing or empty; choose a shutdown file (TOML)"))
        if len(raw) > _LARGEST:
            raise InputError(Fault("file", f"is larger than {_LARGEST // 1000} kB"))
        with as_files({"shutdown.toml": raw}) as folder:
            study = judge_shutdown(folder / "shutdown.toml", register=room.register, now=room.now())
    except InputError as error:
        return _shutdown(request, asked, None, None, error.faults)
    return _shutdown(request, asked, None, study, ())


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
        request, "decide.html", status=422 if faults else 200, typed=typed, study=study,
        ways=WAYS, faults=faults, steady=steady_words(study) if study else "", money=money,
        learnt=learnt,
    )  # fmt: skip


def _chosen(request: Request, asked: AskedJoints) -> ChoosingStudy:
    room = room_of(request)
    faults: list[Fault] = []
    people = {key: _whole(getattr(asked, key), key, faults) for key in ("crew", "gang")}
    until = day_of(asked.until, "until")
    for key, value in (("until", asked.until), ("each", asked.each), ("failure", asked.failure),
                       ("renewal", asked.renewal), ("window", asked.window)):  # fmt: skip
        if not value.strip():
            faults.append(Fault(key, "is not given"))
    if faults or until is None:
        raise InputError(*faults)
    share = amount_of(asked.power, "power") / 100 if asked.power.strip(" %") else 1.0
    return choose_recorded_joints(
        room.register, room.now(), asked.window, people["crew"], until=until, each=asked.each,
        failure_cost=amount_of(asked.failure, "failure"),
        renewal_cost=amount_of(asked.renewal, "renewal"), opening=asked.opening,
        gang=people["gang"], power_share=share,
    )  # fmt: skip


def _whole(typed: str, key: str, faults: list[Fault]) -> int:
    plain = typed.strip()
    if not plain.isdecimal() or not 1 <= int(plain[:4]) <= 200:
        faults.append(Fault(key, f'"{typed}" is no number of people; accepted is 1 to 200'))
        return 1
    return int(plain)


def _shutdown(
    request: Request, asked: AskedJoints, study: ChoosingStudy | None,
    schedule: ShutdownStudy | None, faults: tuple[Fault, ...],
) -> Response:  # fmt: skip
    return render(
        request, "shutdown.html", status=422 if faults else 200, asked=asked, study=study,
        schedule=schedule, faults=faults,
        words=[w.strip() for w in choice_words(study)] if study else [],
        rows=choice_rows(study) if study else [],
        told=[w.strip() for w in shutdown_words(schedule)] if schedule else [],
        holds=holds_up(schedule) if schedule else [], buys=bought(schedule) if schedule else [],
        wide=_data(svg(shutdown_bars(schedule))) if schedule else "",
        narrow=_data(svg(shutdown_strip(schedule))) if schedule else "",
        query=request.url.query,
    )  # fmt: skip


def _data(drawing: str) -> str:
    """A drawing as an address of its own."""
    return f"data:image/svg+xml;base64,{base64.b64encode(drawing.encode()).decode()}"
