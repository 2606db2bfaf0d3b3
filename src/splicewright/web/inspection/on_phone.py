"""What lets a phone judge a joint by itself: its numbers, and the words the server would use."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import JSONResponse, Response

from splicewright.actions.inspection.assess_taps import condense, kept_by_state, worn_assumed
from splicewright.quantities import Kind
from splicewright.quantities.units import POLICY
from splicewright.web.app.rendering import environment
from splicewright.web.app.visitor import Role, Visitor, needs
from splicewright.web.inspection.tapped_joint import LEVELS, NotDescribedError, tapped_joint
from splicewright.web.job.steps import unit_table
from splicewright.web.job.sync import account_header

if TYPE_CHECKING:
    from splicewright.job.inspection.joint_assessment import JointAssessment
    from splicewright.quantities import System

router = APIRouter()
_READ = {Kind.LENGTH, Kind.SHARE, Kind.WIDTH_FORCE}
"""What is typed into fields that a verdict depends on."""


@router.get("/joints/{joint}/inspect/condensed")
def condensed(
    request: Request, joint: UUID, who: Annotated[Visitor, Depends(needs(Role.CREW))]
) -> Response:
    """A joint, condensed; kept by the phone with the page it belongs to."""
    from splicewright.job.inspection.assessment import CARRIES_SAID, MARGIN_SAID, NEXT_SAID, TURNS
    from splicewright.joint import End
    from splicewright.joint.inspection.verdict import Verdict

    try:
        here = tapped_joint(request, joint)
    except NotDescribedError:
        raise HTTPException(404) from None
    if here.tapped is None:
        raise HTTPException(404)
    model, units = condense(here.tapped), who.units
    words = environment().get_template("verdict-words.html").make_module({"units": units})
    macros: Any = words  # by name
    sound = model.sound
    document = {
        "numbers": model.numbers,
        "kept": kept_by_state(),
        "kinds": unit_table(_READ),
        "shown": {k.value: asdict(POLICY[k].shown(units)) for k in (Kind.SHARE, Kind.WIDTH_FORCE)},
        "levels": {
            v.name: str(macros.level_said(LEVELS[v.name], v, sound.decision, "")) for v in Verdict
        },
        "nothing": str(macros.nothing_found(here.known, sound.sound_margin, sound.decision)),
        "unsaid": [str(macros.unsaid_said(1)), str(macros.unsaid_said("{plates}"))],
        "worked_here": str(macros.on_this_phone()),
        "sound_margin": sound.sound_margin,
        "margin": MARGIN_SAID,
        "carries": CARRIES_SAID,
        "next": NEXT_SAID[sound.hinged],
        "turns": [f"Plate by plate it {turn}." for turn in TURNS.values()],
        "ends": {end.name.lower(): end.value for end in End},
        "places": model.places,
        "assumptions": _assumptions(sound, units),
    }
    return JSONResponse(document, headers=account_header(who))


def _assumptions(sound: JointAssessment, units: System) -> dict[str, Any]:
    """What is assumed always, and what by what was found or measured; {now}: as it was typed."""
    from splicewright.job.inspection import assessment
    from splicewright.joint.inspection import plate_condition, plates_found

    by_measure = {assessment.PIN_SAID, assessment.PIN_ASSUMED_SAID, assessment.BREAKING_SAID[False]}
    pins = {assessment.PIN_SAID, assessment.PIN_ASSUMED_SAID}
    return {
        "always": [s.say(units) for s in sound.assumptions if s.template not in by_measure],
        "pin": [s.say(units) for s in sound.assumptions if s.template in pins],
        "pin_now": [plates_found.PIN_NOW_SAID, assessment.PIN_SAID.replace("{pin}", "{now}")],
        "pin_worn": plate_condition.PIN_WORN_SAID,
        "not_broken": [
            s.say(units) for s in sound.assumptions if s.template == assessment.BREAKING_SAID[False]
        ],
        "broken": assessment.BREAKING_SAID[True].replace("{breaking}", "{now}"),
        "torn": [plate_condition.TORN_SAID, plates_found.TORN_END_SAID],
        "softer": plate_condition.SOFTER_SAID,
        "worn": worn_assumed().say(units),
        "cracked": plates_found.CRACKED_SAID.say(units),
        "bolts": plates_found.BOLTS_SAID.say(units),
    }
