"""Pages: the inspections of a joint that were recorded, each beside the one before it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import Response

from splicewright.actions.inspection.assess_taps import OK
from splicewright.actions.inspection.recorded import Worked, phone_verdict, work_verdict
from splicewright.joint.layout import End
from splicewright.store.authority import NOT_HERE
from splicewright.store.facts.joint_facts import (
    InspectionClosed,
    JointAssessed,
    JointMeasured,
    PhotoAdded,
    PlateInspected,
    PlateJudged,
)
from splicewright.store.present.job_sheet import Inspection, inspections
from splicewright.store.present.present import JointNow
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import Visitor, room_of, visitor
from splicewright.web.inspection.tapped_joint import LEVELS, drawing_of
from splicewright.web.plan import words as plan_words

if TYPE_CHECKING:
    from splicewright.job.inspection.joint_assessment import JointAssessment

router = APIRouter()
Anybody = Annotated[Visitor, Depends(visitor)]


@router.get("/joints/{joint}/inspections")
def history(request: Request, joint: UUID, who: Anybody) -> Response:
    """Every inspection of a joint, the newest first."""
    register = room_of(request).register
    now = register.joint(joint)
    if now is None:
        raise HTTPException(404)
    rounds = inspections(register.facts_about(joint))
    rows = [
        (
            round_,
            _entry_of(round_.assessed, JointAssessed),
            _entry_of(round_.closed, InspectionClosed),
            phone_verdict(round_),
        )
        for round_ in reversed(rounds)
    ]
    not_here = NOT_HERE if now.plateless else ""
    return render(
        request, "inspections.html", joint=now, rows=rows, levels=LEVELS, not_here=not_here
    )


@router.get("/joints/{joint}/inspections/{inspection}")
def one(request: Request, joint: UUID, inspection: UUID, who: Anybody, sent: str = "") -> Response:
    """One inspection: what was found, what the calculation said, what was decided."""
    register = room_of(request).register
    now = register.joint(joint)
    rounds = inspections(register.facts_about(joint)) if now else ()
    round_ = next((each for each in rounds if each.inspection == inspection), None)
    if now is None or round_ is None:
        raise HTTPException(404)
    last, event = before(round_, rounds), _entry_of(round_.assessed, JointAssessed)
    kept = _kept(register.content(event.assessment).data) if event is not None else None
    if kept is not None:
        worked: Worked | None = Worked(now.label, kept, phone=phone_verdict(round_))
    else:
        # Of facts that came through an import, or before verdicts were worked on arrival.
        worked = work_verdict(register, joint, inspection)
        kept = worked.assessment if worked is not None else None
    return render(
        request,
        "inspection.html",
        joint=now,
        round=round_,
        picture=drawing_of(request, joint),
        states=states_of(round_),
        last=last,
        last_states=states_of(last) if last is not None else {},
        plates=plates_seen(round_, last),
        photos=whole_photos(round_),
        measured=_entry_of(round_.measured, JointMeasured),
        closed=_entry_of(round_.closed, InspectionClosed),
        level=LEVELS[kept.verdict.name] if kept is not None else None,
        worked=worked,
        on_phone=LEVELS[worked.phone.level.name] if worked and worked.phone else None,
        recorded=event is not None,
        kept=kept,
        reasons=[each.say(who.units) for each in kept.reasons] if kept else [],
        assumptions=[each.say(who.units) for each in kept.assumptions] if kept else [],
        sent=sent,
    )


@router.get("/joints/{joint}/inspections/{inspection}/why")
def worksheet(request: Request, joint: UUID, inspection: UUID, who: Anybody) -> Response:
    """Every number the calculation of an inspection worked out."""
    now, kept = _assessment(request, joint, inspection)
    return render(
        request,
        "plan-worksheet.html",
        title=f"Numbers of the inspection of {now.label}",
        lines=plan_words.worksheet(kept.worksheet, who.units),
        back=f"/joints/{joint}/inspections/{inspection}",
        back_word="Inspection",
        why=f"/joints/{joint}/inspections/{inspection}/why",
    )


@router.get("/joints/{joint}/inspections/{inspection}/why/{key}")
def explain(request: Request, joint: UUID, inspection: UUID, key: str, who: Anybody) -> Response:
    """One number of the calculation, down to its inputs."""
    _, kept = _assessment(request, joint, inspection)
    if key not in set(kept.worksheet.keys()):
        raise HTTPException(404)
    return render(
        request,
        "plan-why.html",
        lines=plan_words.why(kept.worksheet, key, who.units),
        back=f"/joints/{joint}/inspections/{inspection}",
        back_word="Inspection",
        why=f"/joints/{joint}/inspections/{inspection}/why",
        query="",
    )


def _assessment(
    request: Request, joint: UUID, inspection: UUID
) -> tuple[JointNow, JointAssessment]:
    register = room_of(request).register
    now = register.joint(joint)
    rounds = {i.inspection: i for i in inspections(register.facts_about(joint))}
    event = _entry_of(rounds[inspection].assessed, JointAssessed) if inspection in rounds else None
    if now is None or event is None:
        raise HTTPException(404)
    return now, _kept(register.content(event.assessment).data)


@lru_cache(maxsize=16)
def _kept(raw: bytes) -> JointAssessment:
    from splicewright.job.inspection.joint_assessment import JointAssessment as Kept

    return Kept.from_json(raw)


def _entry_of(entry: Any, kind: type[Any]) -> Any:
    """What a fact of that kind said; None when there is none."""
    return entry.what if entry is not None and isinstance(entry.what, kind) else None


def _word(end: End) -> str:
    return end.name.lower()


def states_of(round_: Inspection) -> dict[str, str]:
    """State of every plate that was said, by its field ("leading.3")."""
    whole = {
        f"{_word(end)}.{number}": OK
        for end, plates in round_.looked.items()
        for number in range(1, plates + 1)
    }
    states = {}
    for (end, number), answer in round_.plates.items():
        plate = answer.last.what
        assert isinstance(plate, PlateInspected)  # job_sheet has sorted them
        states[f"{_word(end)}.{number}"] = plate.state.value
    return whole | states


@dataclass(frozen=True, slots=True)
class PlateSeen:
    """A plate with something found on it or said of it, at this inspection or the one before.

    state, before : now and last time; "" where nobody said
    judged : None where nobody judged it; photos : their digests
    """

    field: str
    end: str
    number: int
    state: str
    before: str
    judged: PlateJudged | None
    note: str
    photos: tuple[str, ...]


def plates_seen(round_: Inspection, last: Inspection | None) -> tuple[PlateSeen, ...]:
    """Plates worth a line, beside what was said of them the time before; from the left."""
    now, before = states_of(round_), states_of(last) if last is not None else {}
    keys = {*round_.plates, *round_.judged}
    keys |= {(p.end, p.plate) for p in _photos(round_) if p.end is not None and p.plate is not None}
    keys |= set(last.plates) if last is not None else set()
    rows = []
    for end, number in sorted(keys, key=lambda k: (k[0].name, k[1])):
        field = f"{_word(end)}.{number}"
        answer, judged = round_.plates.get((end, number)), round_.judged.get((end, number))
        seen = _entry_of(answer.last if answer is not None else None, PlateInspected)
        row = PlateSeen(
            field,
            end.value,
            number,
            now.get(field, ""),
            before.get(field, ""),
            _entry_of(judged.last, PlateJudged) if judged is not None else None,
            seen.note if seen is not None else "",
            tuple(p.photo for p in _photos(round_) if (p.end, p.plate) == (end, number)),
        )
        bad_states = {row.state, row.before} - {OK, ""}
        if bad_states or row.note or row.judged is not None or row.photos:
            rows.append(row)
    return tuple(rows)


def _photos(round_: Inspection) -> list[PhotoAdded]:
    return [entry.what for entry in round_.photos if isinstance(entry.what, PhotoAdded)]


def whole_photos(round_: Inspection) -> tuple[str, ...]:
    """Digests of the photographs that show no single plate."""
    return tuple(photo.photo for photo in _photos(round_) if photo.plate is None)


def before(round_: Inspection, all_: tuple[Inspection, ...]) -> Inspection | None:
    """The inspection before one; None for the first."""
    earlier = [other for other in all_ if other.started < round_.started]
    return earlier[-1] if earlier else None
