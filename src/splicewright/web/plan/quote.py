"""Pages: a quotation for a joint's plan at prices typed here or read from a prices file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import zip_longest
from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import Response
from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile

from splicewright.actions.register.kept_files import kept_plan
from splicewright.errors import Fault, InputError
from splicewright.files.question import asked_by
from splicewright.files.typed_file import InMemory
from splicewright.job import JointPlan
from splicewright.job.quotation import (
    HoursTable,
    PricesFile,
    Quotation,
    QuoteTable,
    load_prices,
    prices_typed,
    quotation,
)
from splicewright.sheets.pages.report import printed
from splicewright.sheets.reports.plan import quotation_sheet
from splicewright.web.app.question_form import form_of, labels_of
from splicewright.web.app.rendering import file_sent, render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of

router = APIRouter()
Crew = Annotated[Visitor, Depends(needs(Role.CREW))]
LARGEST = 200_000
"""Bytes of a prices file."""
EXTRAS = 4
"""Rows for what is no part and no hour."""
LONGEST = 400
"""Characters of one answer that are looked at."""
_TABLES: tuple[tuple[str, type[BaseModel]], ...] = (("quote", QuoteTable), ("hours", HoursTable))
_EXTRA = ("name", "price", "count")


@router.get("/joints/{joint}/quote")
def quote_page(request: Request, joint: UUID, who: Crew) -> Response:
    """The empty form."""
    return _page(request, joint, who, _plan(request, joint), {}, None, ())


@router.post("/joints/{joint}/quote")
async def quote(request: Request, joint: UUID, who: Crew) -> Response:
    """The quotation at the prices typed, as a page or a sheet; nothing is kept."""
    plan = await run_in_threadpool(_plan, request, joint)
    async with request.form() as form:
        typed = {n: [t[:LONGEST] for t in form.getlist(n) if isinstance(t, str)] for n in form}
        act = form.get("act")
        file = form.get("file")
        sent = await file.read(LARGEST + 1) if isinstance(file, UploadFile) else b""
    try:
        if act == "read":
            typed = _typed_of(_prices(sent), plan)
        offer = await run_in_threadpool(quotation, plan, prices_typed(_tables(typed, plan)))
    except InputError as error:
        return _page(request, joint, who, plan, typed, None, _by_labels(error.faults, plan))
    if act == "pdf":
        pdf = await run_in_threadpool(printed, quotation_sheet(offer, who.units))
        return file_sent(pdf, "quotation.pdf")
    return _page(request, joint, who, plan, typed, offer, ())


def _prices(sent: bytes) -> PricesFile:
    if not sent:
        raise InputError(Fault("file", "is missing or empty; choose a prices file (TOML)"))
    if len(sent) > LARGEST:
        raise InputError(Fault("file", f"is larger than {LARGEST // 1000} kB"))
    return load_prices(InMemory("prices.toml", sent))


def _plan(request: Request, joint: UUID) -> JointPlan:
    register = room_of(request).register
    kept = kept_plan(register, joint) if register.joint(joint) is not None else None
    if kept is None:
        raise HTTPException(404)
    return kept[1]


Answers = Mapping[str, Sequence[str]]


def _tables(typed: Answers, plan: JointPlan) -> dict[str, Any]:
    """The answers as the tables of a prices file; what is blank is left out."""
    tables: dict[str, Any] = {
        table: {
            field.name: text
            for field in asked_by(model)
            if (text := _first(typed, f"{table}.{field.name}"))
        }
        for table, model in _TABLES
    }
    tables["parts"] = {
        part.name: text
        for n, part in enumerate(plan.parts, 1)
        if (text := _first(typed, f"part.{n}"))
    }
    rows = zip_longest(*(typed.get(f"extra.{key}", ()) for key in _EXTRA), fillvalue="")
    tables["extra"] = [
        {key: text.strip() for key, text in zip(_EXTRA, row, strict=True) if text.strip()}
        for row in rows
        if any(text.strip() for text in row)
    ]
    return tables


def _first(typed: Answers, name: str) -> str:
    return (typed.get(name) or [""])[0].strip()


def _typed_of(prices: PricesFile, plan: JointPlan) -> dict[str, list[str]]:
    """A prices file as the answers of the form."""
    answers = {
        f"{table}.{field.name}": [_written(getattr(getattr(prices, table), field.name))]
        for table, model in _TABLES
        for field in asked_by(model)
    }
    for n, part in enumerate(plan.parts, 1):
        answers[f"part.{n}"] = [_written(prices.parts.get(part.name))]
    return answers | {
        f"extra.{key}": [_written(getattr(extra, key)) for extra in prices.extra] for key in _EXTRA
    }


def _written(value: object) -> str:
    return "" if value is None else f"{value:.10g}" if isinstance(value, float) else str(value)


def _by_labels(faults: Sequence[Fault], plan: JointPlan) -> tuple[Fault, ...]:
    """Faults of the tables by the labels of the page."""
    labels = {
        key: label for table, model in _TABLES for key, label in labels_of(model, table).items()
    }
    labels |= {f"parts.{part.name}": f"Price of {part.name}" for part in plan.parts}
    return tuple(replace(f, key=labels.get(f.key, f.key), file="", line=None) for f in faults)


def _page(
    request: Request,
    joint: UUID,
    who: Visitor,
    plan: JointPlan,
    typed: Answers,
    offer: Quotation | None,
    faults: tuple[Fault, ...],
) -> Response:
    forms = {
        table: form_of(
            model,
            {name: _first(typed, name) for name in typed},
            who.units,
            faults,
            prefix=f"{table}.",
        )
        for table, model in _TABLES
    }
    extras = list(zip_longest(*(typed.get(f"extra.{key}", ()) for key in _EXTRA), fillvalue=""))
    extras += [("", "", "")] * (EXTRAS - len(extras))
    return render(
        request,
        "quote.html",
        status=422 if faults else 200,
        joint=room_of(request).register.joint(joint),
        plan=plan,
        faults=faults,
        document=quotation_sheet(offer, who.units) if offer is not None else None,
        parts=[
            (n, p, p.size.say(who.units), _first(typed, f"part.{n}"))
            for n, p in enumerate(plan.parts, 1)
        ],
        extras=extras,
        of=forms,
        forms={label: at for form in forms.values() for label, at in form.ids.items()},
    )
