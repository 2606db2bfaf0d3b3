"""Can it run? A damaged joint judged on its conveyor: plates, margin, tension, tonnage.

Every answer is a range over all that is not known of belt, plates and guidance; the verdict
goes by the worst of it and is never leave to run.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, replace
from typing import Any

from splicewright.errors import Fault, InputError
from splicewright.job.inspection.joined_belt import JoinedBelt
from splicewright.job.inspection.joint_assessment import NOT_YET, JointAssessment, PlateLoad
from splicewright.job.inspection.tonnage import Tonnage, largest_load
from splicewright.job.inspection.worksheet import explained
from splicewright.joint import End
from splicewright.joint.inspection.damage import (
    DECISION,
    Assessment,
    CaseResult,
    PlateRating,
    Zipper,
    can_it_run,
    margins,
)
from splicewright.joint.inspection.plate_condition import Condition, Findings, condition, merged
from splicewright.joint.inspection.plates_found import findings_of, reading_assumptions
from splicewright.joint.inspection.seen import Inspection, torn_faults
from splicewright.joint.inspection.verdict import Verdict
from splicewright.joint.loads.making_limits import plate_rating
from splicewright.joint.loads.stiffness import PIN_OVER_PITCH, PLATE_MOVEMENT
from splicewright.quantities import Kind, Sentence, sentence, show

MARGIN_SAID = (
    "The worst plate has {low} to {high} of the strength it needs in running, over all "
    "assumptions; typically on the {end}, {place}. The same joint without damage has {sound_low} "
    "to {sound_high}."
)
CARRIES_SAID = (
    "It carries {largest} with every plate within its rating (typical case {typical}); the belt "
    "pulls {running} now."
)
NEXT_SAID = {
    True: "Plate {plate} of the {end} from the left fails next.",
    False: "Plate {plate} from the left fails next.",
}
"""By whether the joint is hinged: else a plate is one piece across both ends."""
PIN_SAID = (
    "Both ends and the pin worked as one: a pin of {pin}, from a solid steel one to a stranded one "
    "with a hundredth of its stiffness in bending."
)
PIN_ASSUMED_SAID = "Pin diameter not known: taken as {share} of the pitch."
BREAKING_SAID = {
    True: "Sound plates fail at {breaking}, as stated.",
    False: "No breaking figure given: sound plates taken to fail at {breaking}.",
}
"""By whether somebody stated it."""
TURNS = {
    Zipper.OPENS: "opens now: the largest pull tears it apart from the damage as it is",
    Zipper.NEXT: "opens next: with one more plate lost the largest pull tears it apart",
    Zipper.HOLDS: "holds one more: with one more plate lost the rest still stands the largest pull",
}


def assess(seen: Inspection, joined: JoinedBelt) -> JointAssessment:
    """Judge a damaged joint.

    seen : what the inspection found
    joined : the joint with its belt, from `joined_by_plan` or `joined_by_hand`
    Raises InputError: findings that do not fit the joint, or that leave no plate. All faults at
    once.
    """
    leading, trailing = _findings(seen, joined)
    if not joined.hinged:
        leading = trailing = merged(leading, trailing)
    breaking = _breaking(seen, joined)
    broken = plate_rating(breaking, joined.width, joined.plates)
    # The rating covers some unevenness; a plate never carries more than it breaks at.
    rating = PlateRating(min(joined.permitted_pull, broken), broken)
    peak = joined.peak
    conveyor = joined.conveyor
    places = [place for _, place in joined.places]
    cases = joined.cases(seen.pin_now)
    answer = can_it_run(
        cases,
        leading,
        rating,
        places,
        trailing=trailing if joined.hinged else None,
        peak=peak,
        curve_depth=joined.curve_depth,
        least_share=joined.least_share,
    )
    sound = margins(joined.cases(), Findings(), rating, places, joined.curve_depth)
    tonnage = _tonnage(joined, answer)
    verdict = answer.verdict
    if conveyor is not None and tonnage is None:
        verdict = Verdict.STOP
    opens = min(answer.cases, key=lambda c: c.losses_to_open)
    both = _plate_loads(rating.running, joined, answer, (leading, trailing))
    torn = ((leading.torn_left, leading.torn_right), (trailing.torn_left, trailing.torn_right))
    assessment = JointAssessment(
        name=seen.name,
        invented=seen.invented or (conveyor is not None and conveyor.invented),
        verdict=verdict,
        width=joined.width,
        pitch=joined.pitch,
        plate_width=joined.plate_width,
        rated_pull=rating.running,
        hinged=joined.hinged,
        torn=torn,
        end=answer.typical.end or End.LEADING,
        place=answer.typical.place,
        plates=both[0],
        trailing=both[1],
        margin=answer.margin,
        sound_margin=sound,
        peak=peak,
        running=joined.running,
        largest=answer.carries[0] * joined.running,
        largest_typical=answer.typical.carries * joined.running,
        tonnage=tonnage,
        full_rate=None
        if conveyor is None
        else conveyor.material.line_mass.value * conveyor.speed.value,
        next_plate=answer.worst.next_plate,
        next_end=answer.worst.next_end or End.LEADING,
        zipper=opens.zipper,
        losses_to_open=opens.losses_to_open,
        reasons=(),
        assumptions=_assumptions(seen, joined, (leading, trailing), peak, breaking),
        decision=DECISION,
    )
    assessment = replace(assessment, reasons=_reasons(assessment, opens))
    return replace(assessment, worksheet=explained(assessment, seen, joined, len(cases), breaking))


def _findings(seen: Inspection, joined: JoinedBelt) -> tuple[Findings, Findings]:
    """Findings of both ends, checked before anything is worked out."""
    faults = torn_faults(seen.torn_left, seen.torn_right, joined.width, seen.file)
    if seen.pin_now is not None and not joined.hinged:
        faults.append(
            Fault("pin", "does not go with solid plates, which have none; leave it out", seen.file)
        )
    if faults:
        raise InputError(*faults)
    pair = []
    for end in End:
        try:
            findings = findings_of(seen, end, joined.plates, joined.bolts, joined.pin)
            condition(findings, joined.row(end), joined.width)
            pair.append(findings)
        except InputError as error:
            faults.extend(error.faults)
    if faults:
        raise InputError(*dict.fromkeys(faults))
    return pair[0], pair[1]


def _breaking(seen: Inspection, joined: JoinedBelt) -> float:
    """Tension per width at which sound plates fail; low where nobody knows [N/m]."""
    if seen.breaking is not None:
        if seen.breaking < joined.rated:
            broken, rated = (show(t, Kind.WIDTH_FORCE) for t in (seen.breaking, joined.rated))
            wording = f"{broken} is less than the rated {rated}: a joint breaks above its rating"
            raise InputError(Fault("fastener.breaking", wording, seen.file))
        return seen.breaking
    return joined.assumed_breaking


def _tonnage(joined: JoinedBelt, answer: Assessment) -> Tonnage | None:
    if joined.conveyor is None:
        return None
    # The conveyor's tensions are per its own belt width, the joint's per the width measured there.
    narrower = joined.narrower
    may: dict[str, float] = {}
    for at, (pulley, place) in enumerate(joined.places):
        bears = min(case.carries_at[at] for case in answer.cases) * place.width_tension * narrower
        # A pulley may have a transition and a crown: the lower of what they bear counts.
        may[pulley] = min(bears, may.get(pulley, bears))
    if min(may.values()) <= 0:
        return None
    return largest_load(joined.conveyor, joined.running * narrower, may)


def _plate_loads(
    rated: float, joined: JoinedBelt, answer: Assessment, findings: Sequence[Findings]
) -> list[tuple[PlateLoad, ...]]:
    """Loads of both ends at the place where the typical case is worst off, over all cases."""
    balanced = [case.loads_at[answer.typical.at] for case in answer.cases if case.loads_at]
    typical = answer.typical.loads
    both, first = [], 0
    for end, own in zip(End, findings, strict=True):
        row = joined.row(end)
        state = condition(own, row, joined.width)
        words = {plate.plate: plate.what for plate in own.plates}
        both.append(
            tuple(
                _plate_load(
                    number,
                    row.centres[number - 1],
                    words.get(number, ""),
                    state,
                    typical[first + number - 1] if typical else None,
                    [case[first + number - 1] for case in balanced],
                    rated,
                )
                for number in range(1, len(row) + 1)
            )
        )
        first += len(row) if joined.hinged else 0
    return both


def _plate_load(
    number: int,
    y: float,
    words: str,
    state: Condition,
    typical: float | None,
    loads: list[float],
    rated: float,
) -> PlateLoad:
    kept, alive = float(state.strength[number - 1]), bool(state.alive[number - 1])
    if not alive or not loads:
        remark = words or ("" if alive else "no belt under it")
        return PlateLoad(number, y, remark, kept if alive else 0.0, None, None, None, None)
    high = max(loads)
    return PlateLoad(number, y, words, kept, typical, min(loads), high, high / (kept * rated))


def _reasons(assessment: JointAssessment, opens: CaseResult) -> tuple[Sentence, ...]:
    low, high = assessment.margin
    sound_low, sound_high = assessment.sound_margin
    return (
        sentence(
            MARGIN_SAID.replace("{end}", assessment.end.value).replace("{place}", assessment.place),
            low=(low, Kind.SHARE),
            high=(high, Kind.SHARE),
            sound_low=(sound_low, Kind.SHARE),
            sound_high=(sound_high, Kind.SHARE),
        ),
        sentence(
            CARRIES_SAID,
            largest=(assessment.largest, Kind.WIDTH_FORCE),
            typical=(assessment.largest_typical, Kind.WIDTH_FORCE),
            running=(assessment.running, Kind.WIDTH_FORCE),
        ),
        _tonnage_said(assessment),
        sentence(
            NEXT_SAID[assessment.hinged]
            .replace("{plate}", str(assessment.next_plate))
            .replace("{end}", assessment.next_end.value)
        ),
        sentence(
            f"Plate by plate it {TURNS[opens.zipper]}; it opens after "
            f"{assessment.losses_to_open} more lost, worst first ({{pull}} of the running pull, "
            f"{opens.case}).",
            pull=(assessment.peak, Kind.SHARE),
        ),
    )


def _tonnage_said(assessment: JointAssessment) -> Sentence:
    if assessment.full_rate is None:
        return sentence("Tonnage not worked out: belt and pull were typed in; name a conveyor.")
    load = assessment.tonnage
    if load is None:
        return sentence("Even with the belt empty, some plate exceeds its rating.")
    if load.share >= 1:
        return sentence(
            "The full load of {full} keeps every plate within its rating.",
            full=(assessment.full_rate, Kind.MASS_FLOW),
        )
    return sentence(
        "With up to {rate}, {share} of the full {full}, every plate stays within its rating.",
        rate=(load.rate, Kind.MASS_FLOW),
        share=(load.share, Kind.SHARE),
        full=(assessment.full_rate, Kind.MASS_FLOW),
    )


def _assumptions(
    seen: Inspection, joined: JoinedBelt, findings: Sequence[Findings], peak: float, breaking: float
) -> tuple[Sentence, ...]:
    low, typical, high = PLATE_MOVEMENT
    modulus = joined.modulus
    assumptions = [
        sentence(
            "A sound plate may carry {may}: {evenness} times the {rated} of the rated tension "
            "{tension} shared evenly, for the rating covers uneven shares ("
            + ("assumed, ask the maker" if joined.evenness.assumed else "range data")
            + ").",
            may=(joined.permitted_pull, Kind.FORCE),
            evenness=joined.evenness,
            rated=(joined.rated_pull, Kind.FORCE),
            tension=(joined.rated, Kind.WIDTH_FORCE),
        ),
        sentence(BREAKING_SAID[seen.breaking is not None], breaking=(breaking, Kind.WIDTH_FORCE)),
        sentence("Largest pull, at starting: {peak} of the running pull.", peak=(peak, Kind.SHARE)),
        sentence(
            "Belt modulus {low} to {high}; weft and shear as shares of it by the kind of carcass.",
            low=(modulus.low, Kind.WIDTH_FORCE),
            high=(modulus.high, Kind.WIDTH_FORCE),
        ),
        sentence(
            "A plate moves {low} to {high} at its rating, typically {typical}.",
            low=(low, Kind.LENGTH),
            high=(high, Kind.LENGTH),
            typical=(typical, Kind.LENGTH),
        ),
        sentence("Side guidance from none to all along the belt."),
        *(sentence(text) for text in dict.fromkeys(t for f in findings for t in f.assumptions())),
        sentence(PIN_SAID, pin=(joined.pin_diameter(seen.pin_now), Kind.LENGTH))
        if joined.hinged
        else sentence(
            "Plates are one piece across both ends: what is lost on one is lost on "
            "both, and a plate takes as much from one end as it gives to the other."
        ),
        sentence(
            "Plates pull and never push; plates not named are sound and tight; belt behind "
            "the plates is sound except where named."
        ),
        *reading_assumptions(seen),
        *joined.assumptions,
    ]
    if joined.hinged and seen.pin_now is None and joined.pin is None:
        assumptions.append(sentence(PIN_ASSUMED_SAID, share=(PIN_OVER_PITCH, Kind.SHARE)))
    if joined.conveyor is not None:
        assumptions.append(
            sentence(
                "Tonnage by the resistance way, at the belt's speed and for every smaller "
                "load too; what the motor plates make of the tension above it is kept at "
                "every load. A blocked chute or a holdback pulls harder and is not counted."
            )
        )
    return tuple(assumptions)


def as_tables(assessment: JointAssessment) -> dict[str, Any]:
    """The assessment as plain tables for machines, SI; without its worksheet."""
    return {
        **asdict(replace(assessment, worksheet=NOT_YET)),
        "level": assessment.verdict.value,
        "verdict": assessment.verdict.sentence,
        "reasons": [line.say() for line in assessment.reasons],
        "assumptions": [line.say() for line in assessment.assumptions],
    }
