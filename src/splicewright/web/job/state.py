"""What was written down on a job so far, as its page and its script read it."""

from __future__ import annotations

from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

from splicewright.quantities import System, show
from splicewright.store.facts.job_facts import (
    DeviationSigned,
    HoldPointSigned,
    JobCommented,
    JobHandedOver,
    JobPlannedAgain,
    OnePersonAllowed,
    SignedOff,
    StepTicked,
    ValueRecorded,
)
from splicewright.store.facts.joint_facts import PhotoAdded
from splicewright.store.facts.photo_facts import ToMeasure
from splicewright.store.present.job_sheet import Answer, Entry
from splicewright.store.present.job_view import JobView

_SHOWN: dict[type[Any], tuple[str, ...]] = {
    StepTicked: ("step", "line", "done"),
    ValueRecorded: ("step", "what", "box", "measure", "value", "typed", "sure"),
    HoldPointSigned: ("step", "statement", "why", "gaps"),
    PhotoAdded: ("photo", "caption", "step", "measure"),
    JobCommented: ("text",),
    JobPlannedAgain: ("plan", "why"),
    JobHandedOver: ("to", "note"),
    DeviationSigned: (
        "step",
        "what",
        "box",
        "measure",
        "value",
        "limit",
        "why",
        "to_do",
        "until",
        "statement",
    ),
    OnePersonAllowed: ("why", "allowed"),
    SignedOff: ("role", "statement", "seen", "closes"),
}


def job_state(view: JobView, now: datetime, system: System) -> dict[str, Any]:
    """The job as it stands, ready for JSON.

    Parameters
    ----------
    now : when it was read; a copy tells its age by it
    """
    sheet, job = view.sheet, view.job
    return {
        "version": view.version,
        "mark": view.mark,
        "read": now.astimezone(UTC).isoformat(),
        "plan": plan_id(view),
        "closed": job.closed.isoformat() if job.closed is not None else None,
        "changed": job.changed,
        "ticks": [_answer(answer) for answer in sheet.ticks.values()],
        "values": [_answer(answer) for answer in sheet.values.values()],
        "holds": [_entry(e) for signed in sheet.hold_points.values() for e in signed],
        "photos": [_entry(e) for e in sheet.photos],
        "measured": [str(measuring) for measuring in sheet.measured],
        "times": sheet.times,
        "handed": [_entry(e) for e in sheet.handed_over],
        "comments": [_entry(e) for e in sheet.comments],
        "again": [_entry(e) for e in sheet.planned_again],
        "overtaken": [
            _deviation(e, system) if isinstance(e.what, DeviationSigned) else _entry(e)
            for e in sheet.overtaken
        ],
        "signed": [_entry(e) for e in sheet.signatures],
        "deviations": [_deviation(e, system) for e in sheet.deviations],
        "judged": _judged(view),
        "keepsOpen": list(view.keeps_open()),
        "forLead": list(view.for_lead()),
        "outOfOrder": list(view.out_of_order()),
        "alone": _entry(sheet.one_person) if sheet.alone and sheet.one_person else None,
    }


def plan_id(view: JobView) -> str:
    """Which plan the job is worked by; "" for none."""
    return view.plan.id if view.plan is not None else ""


def _answer(answer: Answer) -> dict[str, Any]:
    return {"conflict": answer.conflict, "entries": [_entry(e) for e in answer.entries]}


def _entry(entry: Entry) -> dict[str, Any]:
    event = entry.what
    return {
        "fact": str(entry.fact),
        "seq": entry.seq,
        "by": entry.by,
        "at": entry.when.isoformat(),
        "device": entry.device,
        "account": str(entry.person) if entry.person is not None else None,
    } | {name: _plain(getattr(event, name)) for name in _SHOWN[type(event)]}


def _plain(value: Any) -> Any:
    if isinstance(value, ToMeasure):
        return {"measuring": str(value.measuring)}
    return [asdict(gap) for gap in value] if isinstance(value, tuple) else value


def _deviation(entry: Entry, system: System) -> dict[str, Any]:
    deviation = entry.what
    assert isinstance(deviation, DeviationSigned)  # job_sheet has sorted them
    until = f"{deviation.until:%Y-%m-%d}" if deviation.until is not None else None
    return _entry(entry) | {
        "until": until,
        "shown": show(deviation.value, deviation.measure, system),
    }


def _judged(view: JobView) -> list[dict[str, Any]]:
    """Values outside their limits, as the server judges them."""
    steps = view.plan.steps if view.plan is not None else ()
    return [
        {"step": step.key, "what": a.what, "box": a.box, "verdict": a.verdict.value}
        for step in steps
        for a in view.outside(step)
    ]
