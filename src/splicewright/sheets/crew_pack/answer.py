"""Page one in words and numbers: the answer, what it rests on, what would change it."""

from __future__ import annotations

from typing import Any

from splicewright.job import DEFER, JointLoads, JointPlan
from splicewright.job.plan_verdict import plan_verdict
from splicewright.joint import (
    Candidate,
    Construction,
    Requirement,
    StepForm,
    StepGeometry,
    StepSize,
)
from splicewright.joint.choice.verdict import Standing
from splicewright.plant import Damage, JobKind, RoundWay, Side
from splicewright.quantities import Given, Kind, System, show
from splicewright.sheets.canvas.paper import Paper
from splicewright.sheets.drawings.belt_end import pieces_in_words
from splicewright.sheets.drawings.worked import figure_of
from splicewright.sheets.pages.drawings import MARGIN

KNOWN_LIMITS = "What these numbers do not cover, and what to do instead: docs/known-limits.md"
_SHOWN_ASSUMPTIONS = 5
_NEAREST = 3
_RESTS_ON = ("choice.tension", "demand.starting", "at_rest.clamp_rating", "take_up.after")
"""Results on page one whose assumptions are named there."""


def answer(plan: JointPlan, system: System, loads: JointLoads | None = None) -> dict[str, Any]:
    """Everything page one says, as texts; with the loads of its plates, what they warn of too."""
    remarks = (loads.overload, loads.proposal) if loads is not None else ()
    warnings = (*plan.warnings, *(s for s in remarks if s is not None))
    conveyor, work, verdict = plan.conveyor, plan.work, plan_verdict(plan)
    run = next(r for r in conveyor.runs() if r.name == work.run)
    side = "carry side" if run.side is Side.CARRY else "return side"
    return {
        "conveyor": conveyor.name,
        "site": conveyor.site,
        "job": work.name if work.job.value in work.name else f"{work.name}: {work.job.value}",
        "place": f"{work.run} ({side}), {work.distance.show(system)} along it",
        "fastener": _fastener(plan, system, loads),
        "blocks": [s.say(system).rstrip(".") for s in verdict.blocks],
        "take_up": verdict.take_up.say(system),
        "plan": "JOINT PLAN" if work.job.plated else "JOB PLAN",
        "headline": "No fastener chosen" if work.job.plated else _headline(plan),
        "nearest": _nearest(plan, system),
        "gauges": [_gauge(r, system) for r in _tensions(plan)],
        "numbers": _numbers(plan, system),
        "reasons": [s.say(system) for s in plan.choice.reasons],
        "settle": [s.say(system) for s in plan.questions],
        "warnings": [s.say(system) for s in warnings if s.say() != DEFER],
        "assumed": [_assumed(given, system) for given in _assumptions(plan)],
        "assumed_count": len(plan.worksheet.assumptions()),
        "turns": [s.say(system) for s in plan.choice.turns],
        "defer": DEFER,
        "limits": KNOWN_LIMITS,
    }


def _headline(plan: JointPlan) -> str:
    """What is done where no joint is made."""
    damage = plan.work.damage
    return (damage.value if damage is not None else plan.work.job.value).capitalize()


def heading(plan: JointPlan, title: str, paper: Paper, witness: str = "") -> dict[str, Any]:
    """What every page of a plan's PDF says of itself, and its paper."""
    return {
        "id": plan.id,
        "mark": "Plan",
        "witness": witness,
        "version": plan.version,
        "title": title,
        "job": plan.work.name,
        "complete": plan.complete,
        "invented": invented(plan),
        "paper": {"width": paper.width, "height": paper.height, "margin": MARGIN},
    }


def plan_code(plan: JointPlan) -> str:
    """The plan's id as a QR code, in SVG: `splicewright:plan:<id>`."""
    import segno

    code = segno.make(f"splicewright:plan:{plan.id}", error="m", micro=False)
    return str(code.svg_inline(scale=4, border=4, light="#ffffff"))


def invented(plan: JointPlan) -> bool:
    """Whether anything in the plan is invented, so that every page must say so."""
    candidate = plan.choice.nearest
    return (
        plan.conveyor.invented
        or plan.work.invented
        or (candidate is not None and candidate.invented)
    )


def _fastener(plan: JointPlan, system: System, loads: JointLoads | None) -> dict[str, Any] | None:
    best, layout = plan.fastener, plan.layout
    if best is not None and best.steps is not None:
        return _vulcanised(best, best.steps, system)
    if best is None or layout is None:
        return None
    low, high = best.size.thickness
    return {
        "what": "Fastener"
        if loads is None or loads.standing is not Standing.OVER
        else "Not recommended: nearest fastener",
        "name": best.size.name,
        "range": best.range_name,
        "kind": best.construction.value,
        "material": best.material,
        "plates": f"{layout.count} plates "
        + ("on each end" if best.construction.hinged else "across both ends")
        + f": {pieces_in_words(layout)}",
        "measures": (
            f"pitch {show(best.size.pitch, Kind.LENGTH, system)}, belt "
            f"{show(low, Kind.LENGTH, system)} to {show(high, Kind.LENGTH, system)}"
        ),
        "same": system == "metric",
        "loops": best.construction.hinged,
    }


def _vulcanised(best: Candidate, size: StepSize, system: System) -> dict[str, Any]:
    step, bias = show(size.step_length, Kind.LENGTH, system), show(size.bias, Kind.ANGLE, system)
    return {
        "what": "Joint",
        "name": size.name,
        "range": best.range_name,
        "kind": f"vulcanised, {size.form.value}" + (", cured cold" if size.cold else ""),
        "material": best.material,
        "plates": f"{size.steps} steps of {step} at {bias} to the square line"
        if size.form is StepForm.STEP
        else f"{size.form.value} joint, {step} long, at {bias} to the square line",
        "measures": f"{size.form.value} {step}",
        "same": system == "metric",
    }


def _nearest(plan: JointPlan, system: System) -> list[dict[str, Any]]:
    """The candidates that come nearest and what each misses; empty when one was chosen."""
    if plan.fastener is not None:
        return []
    return [
        {
            "name": c.name,
            "missed": [{"name": r.name, "why": r.reason.say(system)} for r in c.missed],
        }
        for c in plan.choice.candidates[:_NEAREST]
    ]


def _tensions(plan: JointPlan) -> list[Requirement]:
    best: Candidate | None = plan.fastener
    if best is None:
        return []
    return [r for r in best.requirements if r.name in {"running tension", "starting tension"}]


def _gauge(requirement: Requirement, system: System) -> dict[str, Any]:
    needed, has = requirement.needed or 0.0, requirement.has or 1.0
    return {
        "name": requirement.name,
        "needed": requirement.show_needed(system),
        "has": requirement.show_has(system),
        "margin": show(requirement.margin or 0.0, Kind.SHARE),
        "share": max(0.0, min(1.0, needed / has)),
    }


def _numbers(plan: JointPlan, system: System) -> list[dict[str, str]]:
    """The key numbers, each with its name and a note."""
    work, belt, stopped, timing = plan.work, plan.belt, plan.at_rest, plan.timing

    def number(name: str, value: str, note: str = "") -> dict[str, str]:
        return {"name": name, "value": value, "note": note}

    if plan.step_joint is not None:
        rows = _step_numbers(plan.step_joint, system)
    else:
        rows = [*_joint_numbers(plan, system)] if plan.complete else _asked_numbers(plan, system)
    window = f"window {timing.window.show()}, {timing.words}" if timing.window else timing.words
    if work.job is JobKind.NEW_BELT:
        rows.append(number("new belt", belt.belt_to_have.show(system), "cut line to cut line"))
    elif work.job.joins:
        rows.append(
            number(
                "belt out / in",
                f"{work.cut_out.show(system)} / {work.insert.show(system)}",
                f"cut line to cut line; {work.joints} joint{'s' if work.joints > 1 else ''}",
            )
        )
    if work.job.clamped:
        clamps, hoists = stopped.ratings.clamps, stopped.ratings.hoists
        rows += [
            number(
                "take-up after",
                belt.position_after.show(system),
                plan_verdict(plan).take_up.say(system),
            ),
            number(
                "each restraining clamp / hoist",
                f"{clamps.show(system)} / {hoists.show(system)}",
                f"rated or more; {work.clamp_factor.show(system)} times the most it may hold, "
                f"{work.load_left.show(system)} of full load left",
            ),
        ]
    return [
        *rows,
        number(
            _time_of(plan),
            timing.likely.show(),
            "; ".join(
                filter(
                    None, (f"{timing.low.show()} to {timing.high.show()}", window, timing.man_hours)
                )
            ),
        ),
    ]


def _time_of(plan: JointPlan) -> str:
    whole = plan.fastener is not None or not plan.work.job.plated
    return "time" if whole else "time, up to the safe belt"


def _step_numbers(joint: StepGeometry, system: System) -> list[dict[str, str]]:
    """The numbers of a vulcanised joint."""
    rows = (
        ("belt for one joint", joint.belt_needed, "from two ends cut square"),
        ("overlap", joint.overlap, f"{joint.steps.show()} steps" if joint.steps.value > 1 else ""),
        *(
            (("offset of the bias", joint.bias_offset, f"at {joint.bias.show()}"),)
            if joint.bias.value
            else ()
        ),
        (
            "bonds at, or warmer" if joint.cold else "cure",
            joint.cure_temperature,
            f"for {joint.cure_time.show()}, range data",
        ),
        *(() if joint.cold else (("in the press", joint.press_time, "heating, cure and cooling"),)),
    )
    return [{"name": n, "value": f.show(system), "note": t} for n, f, t in rows]


def _joint_numbers(plan: JointPlan, system: System) -> list[dict[str, str]]:
    best, layout, lengths = plan.fastener, plan.layout, plan.lengths
    assert best is not None  # only called for a plan that has a joint
    assert layout is not None
    assert lengths is not None
    low, high = (show(t, Kind.LENGTH, system) for t in best.size.thickness)
    mended = not plan.work.job.joins
    rows = (
        []
        if mended
        else [
            {
                "name": "belt thickness",
                "value": f"{low} to {high}",
                "note": _thickness(plan, system),
            },
            {
                "name": "holes",
                "value": f"{len(layout.leading.holes)} × ⌀ {layout.hole.show(system)}",
                "note": "in each end",
            },
            {
                "name": "cut depth",
                "value": layout.curve_depth.show(system)
                if layout.curve_depth.value
                else "straight",
                "note": "middle cut back behind the edges"
                if layout.curve_depth.value
                else "no curve",
            },
        ]
    )
    if lengths.pin is not None and lengths.liner is not None and lengths.seating_strip is not None:
        pin = show(best.size.pin, Kind.LENGTH, system)
        rows += [
            {"name": "hinge pin", "value": lengths.pin.show(system), "note": f"⌀ {pin}"},
            {
                "name": best.words.wear_sleeve,
                "value": lengths.liner.show(system),
                "note": "trimmed after",
            },
        ]
        if not mended:
            rows.append(
                {
                    "name": f"{best.words.bedding_strip}s",
                    "value": f"{lengths.seating_strips} × {lengths.seating_strip.show(system)}",
                    "note": "one end pointed",
                }
            )
    riveted = best.construction is Construction.RIVETED
    name = "rivets" if riveted else "bolts and nuts"
    rows += [
        {"name": name, "value": f"{part.total} each", "note": part.size.say(system)}
        for part in plan.parts  # an emergency repair may need none
        if part.name == ("rivet" if riveted else "bolt")
    ]
    notches = [e for e in layout.ends if e.notch_width > 0 and not mended]
    if notches:
        width, long = (
            show(v, Kind.LENGTH, system) for v in (notches[0].notch_width, notches[0].notch_length)
        )
        where = "both ends" if len(notches) > 1 else notches[0].which.value
        rows.append({"name": "edge notch", "value": f"{width} × {long}", "note": where})
    return rows


def _asked_numbers(plan: JointPlan, system: System) -> list[dict[str, str]]:
    """What a fastener for this place must be: the numbers that hold without one."""
    asked = plan.demand
    pulleys = [p.diameter for p in asked.passings]
    if not plan.work.job.plated:
        belt = plan.conveyor.belt
        if plan.work.job is JobKind.INSPECTION:
            last = max((joint.behind for joint in plan.work.round), key=lambda g: g.value)
            return [
                {
                    "name": "joints to look at",
                    "value": str(len(plan.work.round)),
                    "note": f"over {last.show(system)}, on foot"
                    if plan.work.round_way is RoundWay.FOOT
                    else f"over {last.show(system)} of belt that passes the place",
                }
            ]
        damage = plan.work.damage
        if damage is not None:
            sides = (plan.work.damage_length, plan.work.damage_width)
            rows = figure_of(plan, "repair.rows") if damage is Damage.RIP else None
            entries = [
                (
                    damage.value,
                    " × ".join(side.show(system) for side in sides if side is not None),
                    "along × across the belt" if None not in sides else "",
                )
            ]
            if rows is not None:
                entries.append(("plates across it", rows.show(), "spacing assumed, see the step"))
            return [{"name": n, "value": v, "note": t} for n, v, t in entries]
        return [
            {"name": n, "value": v, "note": t}
            for n, v, t in (
                ("running tension", asked.running.show(system), asked.running_governed_by),
                ("starting tension", asked.starting.show(system), "largest pull"),
                ("belt", belt.width.show(system), belt.marking),
            )
        ]
    entries = [
        ("running tension", asked.running.show(system), "rating needed before any service factor"),
        ("starting tension", asked.starting.show(system), "starting rating needed"),
        ("belt thickness", _thickness(plan, system), "must lie in the size's window"),
        ("belt width", plan.conveyor.belt.width.show(system), plan.conveyor.belt.marking),
    ]
    if pulleys:
        least = min(pulleys, key=lambda figure: figure.value)
        entries.append(("smallest pulley", least.show(system), least.label))
    return [{"name": n, "value": v, "note": t} for n, v, t in entries]


def _thickness(plan: JointPlan, system: System) -> str:
    thin, thick = (figure_of(plan, key) for key in ("belt.thinnest", "belt.thickest"))
    low, high = thin.show(system), thick.show(system)
    text = low if low == high else f"{low} to {high}"
    return f"belt {text}" if plan.complete else text


def _assumptions(plan: JointPlan) -> list[Given]:
    """The assumptions with the widest spans among those page one rests on."""
    keys = set(plan.worksheet.keys())
    asked = {doubt.key for doubt in plan.at_rest.doubts}  # these stand above, as questions
    by_key: dict[str, Given] = {}
    for result in _RESTS_ON:
        for entry in plan.worksheet.below(result) if result in keys else ():
            if (
                isinstance(entry, Given)
                and entry.assumed
                and entry.low != entry.high
                and entry.key not in asked
            ):
                by_key.setdefault(entry.key, entry)
    widest = sorted(by_key.values(), key=lambda g: -abs((g.high - g.low) / (g.value or 1.0)))
    return widest[: max(_SHOWN_ASSUMPTIONS - len(asked), 1)]


def _assumed(given: Given, system: System) -> str:
    low, high = (show(v, given.kind, system) for v in (given.low, given.high))
    return f"{given.label} {given.show(system)} (plausible {low} to {high})"
