"""What the crew works from: isolation, parts and tools, steps, acceptance, follow-up."""

from __future__ import annotations

from typing import Any

from splicewright.job import ClampPlace, JointPlan, Reading, Step
from splicewright.job import acceptance as job_acceptance
from splicewright.job.steps.drafts import done_beside
from splicewright.joint import Construction
from splicewright.joint.loads.making_limits import DERIVED
from splicewright.plant import Damage, JobKind, RoundWay
from splicewright.quantities import Figure, Given, Kind, Line, System, key_of, show, show_time
from splicewright.sheets.drawings.at_rest_words import belt_at_rest, if_one_lets_go

_SPARE_LINES = 2
_RECORDED = (
    "Belt each side: make, age",
    "Take-up before, after",
    "Hour meter at the restart",
    "Weather, belt temp.",
    "Parts beyond the plan",
    "Lots, dates on them",
    "Seen during the run-in",
)
"""What a record leaves room for, whatever joint was made."""
_FOUND_LINES = 12


def isolation(plan: JointPlan, system: System) -> dict[str, Any]:
    """The isolation sheet: energy sources, people and locks, the belt at rest."""
    return {
        "sources": [
            {
                "what": source.what,
                "how_much": source.how_much.say(system),
                "make_safe": source.make_safe.say(system),
                "prove": source.prove.say(system),
                "known": source.known,
                "later": source.later,
                "stays": source.stays,
            }
            for source in plan.isolation
        ],
        "clamped": plan.work.job.clamped,
        # Locks that come off and go on again in one job: the sheet alone would be signed for all.
        "again": (
            "Locks go on again at later steps: tick here the first time, then sign the step's hold "
            "point."
            if not plan.work.job.clamped and plan.work.round_way is not RoundWay.FOOT
            else ""
        ),
        "people": plan.work.crew + _SPARE_LINES,
        "factor": plan.work.clamp_factor.show(system),
        "factor_why": plan.work.clamp_factor.reason,
        **belt_at_rest(plan, system),
        "clamps": [_clamp(plan, place, system) for place in plan.clamps.places],
        "clamp_remarks": [s.say(system) for s in plan.clamps.remarks],
    }


def _clamp(plan: JointPlan, place: ClampPlace, system: System) -> dict[str, str]:
    return {
        "name": place.name,
        "along": place.stands(system),
        "station": place.station.show(system),
        "beyond": place.goes_on(system),
        "force": place.force.show(system),
        "rating": place.rating.show(system),
        "failing": if_one_lets_go(plan, place).show(system),
    }


def parts_and_tools(plan: JointPlan, system: System) -> dict[str, Any]:
    """Parts with spares, tools with ratings."""
    return {
        "parts": [
            {
                "name": part.name,
                "count": str(part.count),
                "spare": str(part.spare),
                "total": str(part.total),
                "size": part.size.say(system),
            }
            for part in plan.parts
        ],
        "tools": [
            {"name": tool.name, "count": str(tool.count), "note": tool.note.say(system)}
            for tool in plan.tools
        ],
    }


def steps(plan: JointPlan, system: System) -> list[dict[str, Any]]:
    """Every step with its cautions, readings and hold point.

    A caution that stood in full at an earlier step is said by its first sentence again: a page of
    the same words is not read.
    """
    seen_cautions: set[str] = set()
    rows = []
    times = {key_of(entry): entry for entry in plan.worksheet.entries}
    hands = hands_words(plan)
    for step in plan.steps:
        whence = learnt_words(plan, step) or _whence(times.get(step.time.key))
        rows.append(
            _step(step, system, seen_cautions) | {"whence": whence, "hands": hands[step.key]}
        )
        seen_cautions |= set(step.cautions)
    return rows


def hands_words(plan: JointPlan) -> dict[str, str]:
    """How many people do a step, and beside which others, by the step's key; "" where the plan is
    from before steps were shared out."""
    beside = done_beside(plan.steps)
    return {step.key: _hands(step, beside.get(step.key, ())) for step in plan.steps}


def _hands(step: Step, beside: tuple[int, ...]) -> str:
    if not step.hands:
        return ""
    text = "1 person" if step.hands == 1 else f"{step.hands} people"
    if not beside:
        return text
    numbers = ", ".join(str(n) for n in beside[:-1])
    return f"{text}, beside step{'s' if numbers else ''} " + (
        f"{numbers} and {beside[-1]}" if numbers else str(beside[-1])
    )


def learnt_words(plan: JointPlan, step: Step) -> str:
    """Where the time of a step that past jobs timed comes from, with its range; else ""."""
    past = plan.past.get(step.key)
    if past is None or step.assumed is None:
        return ""
    low, high = (show_time(share * step.assumed.value) for share in (past.low, past.high))
    return f"from {past.jobs} past jobs, {low} to {high}"


def _whence(line: object) -> str:
    """Where a time comes from: this tool's assumption, or the range's data."""
    rests = [name for _, name in line.inputs] if isinstance(line, Line) else []
    guessed = any(name.startswith(("timing.", "time.")) for name in rests)
    return "assumed" if guessed else "range data"


def _step(step: Step, system: System, seen_cautions: set[str]) -> dict[str, Any]:
    return {
        "number": str(step.number),
        "title": step.title,
        "time": step.time.show(system),
        "text": [s.say(system) for s in step.text],
        "cautions": [
            c.split(". ")[0].rstrip(".") + "." if c in seen_cautions else c for c in step.cautions
        ],
        "readings": [_reading(reading, system) for reading in step.readings],
        "hold_point": step.hold_point,
    }


def _reading(reading: Reading, system: System) -> dict[str, Any]:
    # A short distance is read in the unit of lengths, as its limit is written.
    free = 3600.0 if reading.kind is Kind.TIME else 1.0
    shown = show(reading.high or reading.low or free, reading.kind, system).split(" ", 1)
    unit = shown[1] if len(shown) > 1 else ""
    return {
        "what": reading.what,
        # Feet and inches are one number: "19 ft 8-1/4 in".
        "unit": "ft, in" if unit.startswith("ft ") else unit,
        "boxes": reading.boxes,
        # Why a limit is what it is stands once, above the steps.
        "limit": reading.limit.say(system).replace(f" ({DERIVED})", "\u00a0*"),
    }


def acceptance(plan: JointPlan, system: System) -> dict[str, Any] | None:
    """What is looked at and measured before the joint may run; None without a joint."""
    asked = job_acceptance(plan)
    if asked is None:
        return None
    measured = [
        {"what": r.what, "planned": r.limit.say(system), "boxes": r.boxes} for r in asked.measured
    ]
    titles = ("",) if plan.work.joints == 1 else (", first joint", ", second joint")
    return {"titles": list(titles), "lines": list(asked.lines), "measured": measured}


def follow_up(plan: JointPlan, system: System) -> dict[str, Any] | None:
    """Re-tightening, first inspection and what is recorded; None where nothing was made."""
    best, layout, joint = plan.fastener, plan.layout, plan.step_joint
    if plan.work.job is JobKind.ALONG:
        return _after_repair(
            [_due("Re-tighten the plates", "after the first shift of running")]
            if plan.work.damage is Damage.RIP
            else []
        )
    if best is None or (layout is None and joint is None):
        return None
    after = plan.follow_up
    joint_row = (
        ("Plates, holes on each end", f"{layout.count}, {len(layout.leading.holes)}")
        if layout is not None
        else ("Cured", f"{joint.cure_time.show()} at {joint.cure_temperature.show(system)}")
        if joint is not None
        else ("", "")
    )
    record = (
        ("Fastener" if layout is not None else "Joint", best.name),
        joint_row,
        ("Take-up planned after", plan.belt.position_after.show(system)),
    )
    again = (
        []
        if layout is None
        else [
            _due(
                "Inspect the whole joint"
                if plan.work.damage is Damage.PIN
                else "Inspect every rivet"
                if best.construction is Construction.RIVETED
                else "Re-tighten all nuts",
                f"after {after.retighten_after.show()} of running",
                _why(plan, after.retighten_after),
            )
        ]
    )
    if not plan.work.job.joins:
        return _after_repair(again)
    joints = ("first joint", "second joint")[: plan.work.joints]
    return {
        "opening": "A new joint settles. Inspect it often at first; the crew fills in the dates.",
        "due": [
            *again,
            _due(
                "First inspection",
                f"{after.inspect_after.show()} after the restart",
                _why(plan, after.inspect_after),
            ),
            *(
                [_due("Inspection", "")]
                if len(joints) < 2
                else [_due(f"Inspection, {one}", "") for one in joints]
            ),
        ],
        "heading": "Record of the joint" if len(joints) < 2 else "Record of both joints",
        "record": [{"what": label, "value": value} for label, value in record],
        "blank": [
            *(
                ["Joint number, mark"]
                if len(joints) < 2
                else [f"{one.capitalize()}, mark" for one in joints]
            ),
            *_RECORDED,
        ],
    }


def room_for_findings(plan: JointPlan) -> dict[str, Any] | None:
    """Room to write down what a round or a look at tracking found; None for other kinds."""
    if plan.work.job.clamped:
        return None
    joints = plan.work.job is JobKind.INSPECTION
    return {
        "head": ["Joint, end", "Plate no.", "What was found", "Photograph"]
        if joints
        else ["Where", "Measured", "What is to blame, what was moved", "Photograph"],
        "lines": _FOUND_LINES,
        "blank": [
            "Hour meter",
            "Weather",
            "Left open, who, by when",
            "Next inspection" if joints else "Watched again on",
        ],
    }


def _after_repair(again: list[dict[str, str]]) -> dict[str, Any]:
    """What follows a repair: it has an end, and the crew does not decide when."""
    return {
        "opening": "This repair has an end. Its limits stand on the tag at the start button.",
        "due": [
            _due("First look", "after one hour of running", "common practice, no source"),
            *again,
            _due("It stops", "on the date and after the hours decided, whatever it looks like"),
        ],
        "heading": "Record of the repair",
        "record": [],
        "blank": [
            "What was found, its cause",
            "What was done",
            "Stops on: date, hours",
            "Decided by",
            "Told in person",
            "Parts used, lots, dates",
            "Hour meter at the restart",
            "Seen during the run-in",
        ],
    }


def _due(task: str, when: str, why: str = "") -> dict[str, str]:
    return {"what": task, "when": when, "why": why}


def _why(plan: JointPlan, figure: Figure) -> str:
    entry = plan.worksheet.find(figure.key)
    return entry.reason if isinstance(entry, Given) else ""
