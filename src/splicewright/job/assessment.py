"""Can it run? A damaged joint judged on its conveyor: plates, margin, tension, tonnage.

Every answer is a range over all that is not known of belt, plates and guidance; the verdict
goes by the worst of it and is never leave to run.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from splicewright.errors import Fault, InputError
from splicewright.job.joined_belt import BREAK_OVER_RATED, JoinedBelt
from splicewright.job.tonnage import Tonnage, largest_load
from splicewright.joint import Which
from splicewright.joint.damage import (
    DECISION,
    LEAST_SHARE,
    Assessment,
    CaseResult,
    PlateRating,
    Verdict,
    Zipper,
    can_it_run,
    sound_margin,
)
from splicewright.joint.findings import Findings, condition
from splicewright.joint.inspection import Inspection, findings_of, reading_assumptions, torn_faults
from splicewright.joint.making_limits import plate_rating
from splicewright.joint.places import Place
from splicewright.joint.stiffness import PLATE_MOVEMENT, Case
from splicewright.quantities import Kind, Sentence, sentence, show

_TURNS = {
    Zipper.OPENS: "opens now: the largest pull tears it apart from the damage as it is",
    Zipper.NEXT: "opens next: with one more plate lost the largest pull tears it apart",
    Zipper.HOLDS: "holds one more: with one more plate lost the rest still stands the largest pull",
}


@dataclass(frozen=True, slots=True)
class PlateLoad:
    """One plate of the end worst off, where the joint is worst off; loads [N].

    number : from the left, facing in the direction of travel
    kept : share of a sound plate's strength that is left [1]
    load : in the typical case; low, high : over all cases; None where nothing balances
    used : largest load over what the plate may carry; None for a lost plate [1]
    """

    number: int
    kept: float
    load: float | None
    low: float | None
    high: float | None
    used: float | None


@dataclass(frozen=True, slots=True)
class JointAssessment:
    """The answer to "can it run?".

    end : belt end that is worst off; place : of the loop where it is
    plates : of that end, from the left
    margin : permitted over actual load of the worst plate, lowest and highest [1]
    sound_margin : the same of the joint without damage [1]
    running, largest : largest running tension now, and the largest the joint carries with
        every plate within its rating, the lowest of all cases [N/m]
    largest_typical : the same in the typical case [N/m]
    tonnage : None where there is no conveyor, or where not even the empty belt may run
    next_plate : which plate goes next, from the left
    zipper : whether the joint opens plate by plate; losses_to_open : plates lost till then
    """

    name: str
    invented: bool
    verdict: Verdict
    end: Which
    place: str
    plates: tuple[PlateLoad, ...]
    margin: tuple[float, float]
    sound_margin: tuple[float, float]
    running: float
    largest: float
    largest_typical: float
    tonnage: Tonnage | None
    full_rate: float | None
    next_plate: int
    zipper: Zipper
    losses_to_open: int
    reasons: tuple[Sentence, ...]
    assumptions: tuple[Sentence, ...]
    decision: str


@dataclass(frozen=True, slots=True)
class _Judged:
    """One belt end judged."""

    end: Which
    findings: Findings
    whole: Assessment
    cases: tuple[Case, ...]


def assess(seen: Inspection, joined: JoinedBelt) -> JointAssessment:
    """Judge a damaged joint.

    Parameters
    ----------
    seen : what the inspection found
    joined : the joint with its belt, from `joined_by_plan` or `joined_by_hand`

    Raises
    ------
    InputError
        Findings that do not fit the joint, or that leave no plate. All faults at once.
    """
    found = _findings(seen, joined)
    rated = joined.rated_pull
    breaking = _breaking(seen, joined)
    rating = PlateRating(rated, plate_rating(breaking, joined.width, joined.plates))
    peak = max(1.0, joined.starting / joined.running)
    conveyor = joined.conveyor
    # With a conveyor the load itself tells whether running is of use; without, its share of pull.
    least = LEAST_SHARE if conveyor is None else 0.0
    places = [place for _, place in joined.places]
    ends = []
    for end, findings in found:
        cases = joined.cases(end)
        ends.append(_judge(end, findings, cases, rating, places, peak, joined, least))
    worst = min(ends, key=lambda e: (_rank(e.whole.verdict), e.whole.carries[0]))
    sound = sound_margin(worst.cases, rating, places, joined.curve_depth)
    tonnage = _tonnage(joined, worst)
    verdict = worst.whole.verdict
    if conveyor is not None and tonnage is None:
        verdict = Verdict.STOP
    opens = min(worst.whole.cases, key=lambda c: c.losses_to_open)
    made = JointAssessment(
        name=seen.name,
        invented=seen.invented or (conveyor is not None and conveyor.invented),
        verdict=verdict,
        end=worst.end,
        place=worst.whole.typical.place,
        plates=_plate_loads(worst, joined, rated),
        margin=worst.whole.margin,
        sound_margin=sound,
        running=joined.running,
        largest=worst.whole.carries[0] * joined.running,
        largest_typical=worst.whole.typical.carries * joined.running,
        tonnage=tonnage,
        full_rate=None
        if conveyor is None
        else conveyor.material.line_mass.value * conveyor.speed.value,
        next_plate=worst.whole.worst.next_plate,
        zipper=opens.zipper,
        losses_to_open=opens.losses_to_open,
        reasons=(),
        assumptions=_assumptions(seen, joined, worst.findings, peak, breaking),
        decision=DECISION,
    )
    return _with_reasons(made, opens, peak)


def _findings(seen: Inspection, joined: JoinedBelt) -> list[tuple[Which, Findings]]:
    """Findings of each end with any, checked on both before anything is worked out."""
    faults = torn_faults(seen.torn_left, seen.torn_right, joined.width, seen.file)
    if faults:
        raise InputError(*faults)
    found = []
    for end in seen.ends():
        try:
            findings = findings_of(seen, end, joined.plates, joined.bolts, joined.pin)
            row = joined.row(end)
            condition(findings, row, joined.width)
            found.append((end, findings))
        except InputError as error:
            faults.extend(error.faults)
    if faults:
        raise InputError(*dict.fromkeys(faults))
    return found


def _breaking(seen: Inspection, joined: JoinedBelt) -> float:
    """Tension per width at which sound plates fail; low where nobody knows [N/m]."""
    if seen.breaking is not None:
        if seen.breaking < joined.rated:
            broken, rated = (show(t, Kind.WIDTH_FORCE) for t in (seen.breaking, joined.rated))
            what = f"{broken} is less than the rated {rated}: a joint breaks above its rating"
            raise InputError(Fault("fastener.breaking", what, seen.file))
        return seen.breaking
    return max(BREAK_OVER_RATED * joined.rated, joined.starting_rated or 0.0)


def _judge(
    end: Which, findings: Findings, cases: tuple[Case, ...], rating: PlateRating,
    places: Sequence[Place], peak: float, joined: JoinedBelt, least: float,
) -> _Judged:  # fmt: skip
    whole = can_it_run(
        cases, findings, rating, places, peak=peak, curve_depth=joined.curve_depth,
        least_share=least,
    )  # fmt: skip
    return _Judged(end, findings, whole, cases)


def _rank(verdict: Verdict) -> int:
    return list(Verdict).index(verdict)


def _tonnage(joined: JoinedBelt, worst: _Judged) -> Tonnage | None:
    if joined.conveyor is None:
        return None
    # The conveyor's tensions are per its own belt width, the joint's per the width measured there.
    narrower = joined.width / joined.conveyor.belt.width.value
    may = {
        pulley: min(case.by_place[at].carries for case in worst.whole.cases)
        * place.width_tension
        * narrower
        for at, (pulley, place) in enumerate(joined.places)
    }
    if min(may.values()) <= 0:
        return None
    return largest_load(joined.conveyor, joined.running * narrower, may)


def _plate_loads(worst: _Judged, joined: JoinedBelt, rated: float) -> tuple[PlateLoad, ...]:
    """Loads at the place where the typical case is worst off, over all cases."""
    names = [place.name for _, place in joined.places]
    there = names.index(worst.whole.typical.place)
    loads_there = [case.by_place[there].loads for case in worst.whole.cases]
    state = condition(worst.findings, worst.cases[0].edge.row, joined.width)
    balanced = [loads for loads in loads_there if loads]
    made = []
    for at, kept in enumerate(state.strength.tolist()):
        alive = bool(state.alive[at])
        if not alive or not balanced:
            made.append(PlateLoad(at + 1, kept if alive else 0.0, None, None, None, None))
            continue
        loads = [case[at] for case in balanced]
        typical = loads_there[0][at] if loads_there[0] else None
        high = max(loads)
        made.append(PlateLoad(at + 1, kept, typical, min(loads), high, high / (kept * rated)))
    return tuple(made)


def _with_reasons(made: JointAssessment, opens: CaseResult, peak: float) -> JointAssessment:
    low, high = made.margin
    sound_low, sound_high = made.sound_margin
    said = [
        sentence("The plate worst off has {low} to {high} of the strength it needs in running, "
                 f"over all assumptions; typically on the {made.end.value}, {made.place}. The "
                 "same joint without damage has {sound_low} to {sound_high}.",
                 low=(low, Kind.SHARE), high=(high, Kind.SHARE),
                 sound_low=(sound_low, Kind.SHARE), sound_high=(sound_high, Kind.SHARE)),
        sentence("It carries {largest} with every plate within its rating (typical case "
                 "{typical}); the belt pulls {running} now.",
                 largest=(made.largest, Kind.WIDTH_FORCE),
                 typical=(made.largest_typical, Kind.WIDTH_FORCE),
                 running=(made.running, Kind.WIDTH_FORCE)),
        _tonnage_said(made),
        sentence(f"Plate {made.next_plate} from the left goes next."),
        sentence(f"Plate by plate it {_TURNS[opens.zipper]}; it opens after "
                 f"{made.losses_to_open} more lost, worst first ({{pull}} of the running pull, "
                 f"{opens.case}).", pull=(peak, Kind.SHARE)),
    ]  # fmt: skip
    return replace(made, reasons=tuple(said))


def _tonnage_said(made: JointAssessment) -> Sentence:
    if made.full_rate is None:
        return sentence("Tonnage not worked out: belt and pull were typed in; name a conveyor.")
    load = made.tonnage
    if load is None:
        return sentence("Not even the empty belt keeps every plate within its rating.")
    if load.share >= 1:
        return sentence("The full load of {full} keeps every plate within its rating.",
                        full=(made.full_rate, Kind.MASS_FLOW))  # fmt: skip
    return sentence("With up to {rate}, {share} of the full {full}, every plate keeps to its "
                    "rating.", rate=(load.rate, Kind.MASS_FLOW), share=(load.share, Kind.SHARE),
                    full=(made.full_rate, Kind.MASS_FLOW))  # fmt: skip


def _assumptions(
    seen: Inspection, joined: JoinedBelt, findings: Findings, peak: float, breaking: float
) -> tuple[Sentence, ...]:
    low, typical, high = PLATE_MOVEMENT
    modulus = joined.modulus
    said = [
        sentence("A sound plate may carry {rated}: the rated tension {tension} shared evenly. "
                 "The maker's own reserve for uneven shares is not known and not counted.",
                 rated=(joined.rated_pull, Kind.FORCE), tension=(joined.rated, Kind.WIDTH_FORCE)),
        sentence("Sound plates fail at {breaking}, as stated.",
                 breaking=(breaking, Kind.WIDTH_FORCE))
        if seen.breaking is not None
        else sentence("No breaking figure given: sound plates taken to fail at {breaking}.",
                      breaking=(breaking, Kind.WIDTH_FORCE)),
        sentence("Largest pull, at starting: {peak} of the running pull.",
                 peak=(peak, Kind.SHARE)),
        sentence("Belt modulus {low} to {high}; weft and shear as shares of it by the kind of "
                 "carcass.", low=(modulus.low, Kind.WIDTH_FORCE),
                 high=(modulus.high, Kind.WIDTH_FORCE)),
        sentence("A plate moves {low} to {high} at its rating, typically {typical}.",
                 low=(low, Kind.LENGTH), high=(high, Kind.LENGTH), typical=(typical, Kind.LENGTH)),
        sentence("Side guidance from none to all along the belt."),
        *(sentence(text) for text in findings.assumptions()),
        sentence("Hinge pin straight; plates pull and never push; plates not named sound and "
                 "tight; belt behind the plates sound but for what is named."),
        *reading_assumptions(seen),
        *joined.assumptions,
    ]  # fmt: skip
    if joined.conveyor is not None:
        said.append(
            sentence("Tonnage by the resistance way, at the belt's speed and for every smaller "
                     "load too; what the motor plates make of the tension above it is kept at "
                     "every load. A blocked chute or a holdback pulls harder and is not counted.")
        )  # fmt: skip
    return tuple(said)


def as_tables(made: JointAssessment) -> dict[str, Any]:
    """The assessment as plain tables for machines, SI."""
    return {
        **asdict(made),
        "reasons": [said.say() for said in made.reasons],
        "assumptions": [said.say() for said in made.assumptions],
    }
