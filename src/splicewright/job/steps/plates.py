"""The steps of this job in order, with cautions, values to write down, and hold points.

Order and manner are common practice, no source, unless a number says otherwise; the maker's
instructions take precedence.
"""

from __future__ import annotations

from splicewright.job.clamping import Clamping
from splicewright.job.lengths import CutLengths
from splicewright.job.parts import bolt_stand_out
from splicewright.job.steps import cautions as care
from splicewright.job.steps.drafts import Draft, Step, numbered
from splicewright.job.steps.making_safe import make_safe
from splicewright.job.steps.readings import Reading, equal_lengths, square_check, torque_window
from splicewright.job.steps.vulcanised import vulcanise
from splicewright.joint import Candidate, Construction, Layout, MakingLimits, StepGeometry
from splicewright.joint.belt_end.centreline import READING
from splicewright.joint.loads.making_limits import DERIVED
from splicewright.loop import BeltBudget
from splicewright.plant import Conveyor, Side, TakeUpKind, Travel, Work
from splicewright.quantities import Kind, Sentence, System, Worksheet, sentence
from splicewright.tension import AtRest

MIDPOINT_REACH: dict[System, str] = {"metric": "5 to 7 m", "inch": "16 to 23 ft"}
"""How far back from the end midpoints are taken for the centreline (common practice, no source)."""

THICKNESS_PLACES = 5
"""Belt thickness is measured at this many places across each end."""


def steps(
    conveyor: Conveyor,
    work: Work,
    stopped: AtRest,
    belt: BeltBudget,
    clamps: Clamping,
    candidate: Candidate | None,
    layout: Layout | None,
    lengths: CutLengths | None,
    limits: MakingLimits | None,
    sheet: Worksheet,
    step_joint: StepGeometry | None = None,
) -> tuple[Step, ...]:
    """The steps of this job; without a chosen fastener those of isolation and measuring only.

    Parameters
    ----------
    conveyor, work : plant and job
    stopped, belt : standstill forces and belt budget
    clamps : where they stand
    candidate, layout, lengths, limits : the joint; None when no fastener fits
    sheet : takes the times
    step_joint : the geometry of a vulcanised joint; None for plates
    """
    drafts = [
        *make_safe(conveyor, work, stopped, clamps),
        *_measure_and_mark(conveyor, work, candidate, layout, limits),
    ]
    if candidate is not None and layout is not None and lengths is not None and limits is not None:
        drafts += _build(work, candidate, layout, limits)
        drafts += _couple(work, stopped, candidate, layout, lengths)
        drafts += _finish(conveyor, work, belt, candidate)
    if candidate is not None and candidate.steps is not None and step_joint is not None:
        drafts += vulcanise(work, candidate.steps, step_joint, sheet)
        drafts += _finish(conveyor, work, belt, candidate)
    return numbered(drafts, work, sheet)


_CENTRELINE = (
    "Centreline: measure the middle of the belt at five or more places over {} back from the end, "
    "not from one edge. Snap a chalk line through them."
)


def _measure_and_mark(
    conveyor: Conveyor,
    work: Work,
    candidate: Candidate | None,
    layout: Layout | None,
    limits: MakingLimits | None,
) -> list[Draft]:
    low = high = None
    limit = sentence("no fastener chosen: thickness decides it")
    if candidate is not None and candidate.steps is not None:
        limit = sentence("both ends alike; skive or fill where they differ, by the maker")
    elif candidate is not None:
        low, high = candidate.size.thickness
        limit = sentence("{low} to {high}", low=(low, Kind.LENGTH), high=(high, Kind.LENGTH))
    unknown = work.travel is Travel.UNKNOWN
    width = layout.width if layout is not None else conveyor.belt.width
    return [
        Draft(
            "measure", "measure", 2 * THICKNESS_PLACES, "Measure the belt",
            (
                sentence(f"Thickness at {THICKNESS_PLACES} places across each end, width at both "
                         "ends. Read the marking on the cover."),
                *_faces(conveyor, work),
                sentence("Chalk an arrow for the direction of travel on both sides of the joint."
                         if not unknown else
                         "Direction of travel not known: find it out. If you cannot, notch both "
                         "ends."),
            ),
            (),
            (
                Reading("Belt thickness, leading end", Kind.LENGTH, low, high, THICKNESS_PLACES,
                        limit),
                Reading("Belt thickness, trailing end", Kind.LENGTH, low, high, THICKNESS_PLACES,
                        limit),
                Reading("Belt width, both ends", Kind.LENGTH, None, None, 2,
                        sentence("planned for {width}; another width changes the joint",
                                 width=width)),
            ),
            hold_point="Every thickness within its limits. If not: stop and plan again with "
                       "these values.",
        ),
        Draft(
            "mark", "mark", 0, "Mark centreline and square line",
            (
                sentence(_CENTRELINE.format(MIDPOINT_REACH["metric"]),
                         _CENTRELINE.format(MIDPOINT_REACH["inch"])),
                square_check(limits),
            ),
            (),
            tuple(
                reading
                for end in ("leading end", "trailing end")
                for reading in equal_lengths(
                    f"Point to left and right end of the line, {end}",
                    limits.arcs if limits is not None else None,
                )
            ),
            hold_point="A second person has checked both square lines.",
        ),
    ]  # fmt: skip


def _faces(conveyor: Conveyor, work: Work) -> list[Sentence]:
    """On the return side the belt lies with its carry cover down: left and right change sides."""
    run = next(r for r in conveyor.runs() if r.name == work.run)
    if run.side is not Side.RETURN:
        return []
    return [
        sentence("Here the carry cover faces down. Left and right in this pack are meant with the "
                 "carry cover up, facing the travel: seen from above the pulley cover they change "
                 "sides. Chalk LEFT and RIGHT on both covers.")
    ]  # fmt: skip


def _build(work: Work, candidate: Candidate, layout: Layout, limits: MakingLimits) -> list[Draft]:
    size = candidate.size
    hinged = candidate.construction.hinged
    riveted = candidate.construction is Construction.RIVETED
    holes = len(layout.leading.holes)
    curved = layout.curve_depth.value > 0
    ends = 2 * work.joints
    cut_text = [
        sentence("Cut both ends along the cut line, knife away from the body, board under the "
                 "belt."),
        sentence("The middle is cut back {depth} behind the edges, along the template.",
                 depth=layout.curve_depth)
        if curved
        else sentence("The ends are cut straight on the square line."),
        # Before the notches: they take the corners away that the diagonals are measured from.
        sentence("Check: {back} marked back from the cut along both edges, then both diagonals, "
                 "corner to mark.", back=limits.back),
    ]  # fmt: skip
    for end in layout.ends:
        if end.notch_width > 0:
            cut_text.append(
                sentence(f"Notch both corners of the {end.which.value}: {{width}} in from the edge "
                         "at the cut, running out at {length} along the edge.",
                         width=(end.notch_width, Kind.LENGTH),
                         length=(end.notch_length, Kind.LENGTH))
            )  # fmt: skip
    if work.cut_out.value > 0:
        cut_text.append(
            sentence("{cut_out} comes out, cut line to cut line.", cut_out=work.cut_out)
        )
    plates = "strip" if layout.strip else "plates"
    seat = [
        sentence(f"Thread one {candidate.words.bedding_strip} under the top and one under the "
                 "bottom plates.")
        if hinged
        else sentence("Bottom plates under the joint, bolts up through both ends."),
        sentence(f"Set the {plates}: {_pieces(layout)}. " + (
            "Rivets from below, points on the carry side." if riveted
            else "Bolts from below, heads locked in the bottom plates, nuts on the carry side.")),
        sentence(f"Setting pin through the loops, {candidate.words.spacer}s on; the pin must "
                 "turn by hand.")
        if hinged
        else sentence("Ends butted, top plates on, nuts run on by hand."),
        sentence("Set-backs, leading end: {ll} left, {lr} right. Trailing end: {tl} left, {tr} "
                 "right.",
                 ll=(layout.leading.setback_left, Kind.LENGTH),
                 lr=(layout.leading.setback_right, Kind.LENGTH),
                 tl=(layout.trailing.setback_left, Kind.LENGTH),
                 tr=(layout.trailing.setback_right, Kind.LENGTH)),
    ]  # fmt: skip
    bolts = layout.count * size.bolts_per_plate
    return [
        Draft("cut", "cut", ends, "Cut the ends", tuple(cut_text), (care.CUTTING,),
               tuple(
                   reading
                   for end in ("leading end", "trailing end")
                   for reading in equal_lengths(f"Diagonals after the cut, {end}", limits.diagonals)
               ),
               hold_point="Cut line follows the template on both ends; both diagonals within "
               "their limit (if not, cut again); no ply cut behind the line."),
        Draft(
            "punch", "punch", holes * ends, "Punch the holes",
            (
                sentence("Template on the centreline and cut line; correct end and "
                         "correct face up."),
                sentence(f"{holes} holes ⌀ {{hole}} in each end. Punch them. Never burn or drill "
                         "oversize: cut plies tear.", hole=layout.hole),
                sentence("One plate of each end out of the hole line by {limit} uses up a tenth of "
                         "the margin, by {tape} {cost} of it: punch through the template only.",
                         limit=limits.hole_line.smallest, tape=(READING, Kind.LENGTH),
                         cost=limits.hole_line_cost),
            ),
            (care.PUNCH,),
            hold_point="First and last hole measured from the centreline against the drawing.",
        ),
        Draft("seat", "seat", bolts * ends,
              "Set plates and rivets" if riveted else "Set plates and bolts", tuple(seat),
              (care.HANDS,)),
        *(_set_rivets(bolts * ends) if riveted else _tighten(candidate, limits, bolts * ends)),
    ]  # fmt: skip


def _set_rivets(rivets: int) -> list[Draft]:
    return [
        Draft(
            "rivet", "rivet", rivets, "Set the rivets",
            (
                sentence("One plate in the middle, one at each edge, then all the rest from the "
                         "middle outwards."),
                sentence("Setter square on the rivet, anvil tight under it; a rivet that leans or "
                         "splits comes out and a new one goes in."),
            ),
            (care.PUNCH,),
            hold_point="Every rivet set full; plates drawn into both covers along the whole row; "
            "no plate tilted.",
        ),
    ]  # fmt: skip


def _tighten(candidate: Candidate, limits: MakingLimits, bolts: int) -> list[Draft]:
    size = candidate.size
    stand_out, stated = bolt_stand_out(candidate)
    source = "range data" if stated else "common practice, no source"
    torque = (
        sentence(
            "Then all to {torque} (range data), each within {spread} of it (" + DERIVED + ").",
            torque=(size.seat_torque, Kind.TORQUE),
            spread=limits.tightness.smallest,
        )
        if size.seat_torque is not None
        else sentence("Then to the torque or seat marks of the maker's instructions.")
    )
    torque_limit = (
        sentence(
            "{torque}, each within {spread} of it",
            torque=(size.seat_torque, Kind.TORQUE),
            spread=limits.tightness.smallest,
        )
        if size.seat_torque is not None
        else sentence("by the maker's instructions")
    )
    return [
        Draft(
            "tighten", "tighten", bolts, "Tighten in order",
            (
                sentence(f"Run all nuts down until {{stand_out}} of bolt stands out ({source}).",
                         stand_out=(stand_out, Kind.LENGTH)),
                sentence("Then one plate in the middle, one at each edge, then all the rest from "
                         "the middle outwards."),
                torque,
            ),
            (care.TOOLS,),
            (Reading("Torque at the last round", Kind.TORQUE, *torque_window(size, limits), 2,
                     torque_limit),),
            hold_point="Teeth through the pulley cover over the whole row; carry cover raised "
            "evenly behind the top plates; no plate tilted; no bolt head turned.",
        ),
        Draft(
            "break", "break", bolts, "Break off the bolt ends",
            (
                sentence("Press the breaker hard down on the nut. Catch the ends. Grind or peen "
                         "the stub flush with the nut."),
            ),
            (care.BOLT_ENDS, care.HOT),
        ),
    ]  # fmt: skip


def _pieces(layout: Layout) -> str:
    """How the pieces lie across the belt, in words."""
    if layout.strip:
        return f"one strip of {layout.count} plates"
    runs: list[tuple[int, int]] = []
    for members in layout.pieces:
        if runs and runs[-1][0] == members:
            runs[-1] = (members, runs[-1][1] + 1)
        else:
            runs.append((members, 1))
    names = {1: "single", 2: "double", 3: "triple"}
    words = [f"{n} {names.get(m, str(m))}{'s' if n > 1 else ''}" for m, n in runs]
    return "from the left " + ", ".join(words)


def _couple(
    work: Work, stopped: AtRest, candidate: Candidate, layout: Layout, lengths: CutLengths
) -> list[Draft]:
    hinged, words = candidate.construction.hinged, candidate.words
    made = []
    if hinged and lengths.pin is not None and lengths.liner is not None:
        made.append(
            Draft(
                "couple", "couple", work.joints, "Bring the ends together, pin",
                (
                    sentence("Draw evenly on both sides, up to {pull} together, until the loops "
                             "mesh; edges in line.", pull=stopped.bounds.draw.largest),
                    sentence(f"{words.wear_sleeve.capitalize()} of {{liner}} through the meshed "
                             "loops, then the hinge pin of {pin}, pushed, never hammered hard: a "
                             "pin that jams means loops out of line.",
                             liner=lengths.liner, pin=lengths.pin),
                    sentence(f"{lengths.retainers} pin retainers, one at each end."),
                ),
                (care.HANDS, care.LINE_OF_FIRE),
                hold_point="Pin turns freely, ends inside both plate edges, both retainers locked.",
            )
        )  # fmt: skip
        made.append(
            Draft(
                "trim", "trim", 0, "Trim",
                (
                    sentence(f"{words.wear_sleeve.capitalize()} and {words.bedding_strip}s flush; "
                             "nothing may stand past the belt edge."),
                ),
                (care.CUTTING,),
            )
        )  # fmt: skip
    made.append(
        Draft(
            "check", "check", 0, "Acceptance check",
            (
                sentence("Fill in the acceptance sheet: one person who built it, one who did not."),
            ),
            (),
            hold_point="Acceptance sheet signed. If a line fails, the joint must not run.",
        )
    )  # fmt: skip
    return made


def _finish(conveyor: Conveyor, work: Work, belt: BeltBudget, candidate: Candidate) -> list[Draft]:
    again = (
        sentence("Re-tighten after the first shift of running (common practice, no source), "
                 "isolated again as before.")
        if candidate.construction in {Construction.HINGED, Construction.SOLID}
        else sentence("Inspect the whole joint after the first shift of running (common practice, "
                      "no source), isolated again as before.")
    )  # fmt: skip
    return [
        Draft(
            "tension", "tension", 0, "Tension the belt, take the clamps off",
            (
                sentence("Everyone out of the line of fire. Ease the hoists evenly on both sides "
                         "until the joint takes the load. Take off hoists and pulling clamps."),
                sentence("Slack the chains; the restraining clamps stay on while the take-up comes "
                         "back, slowly and under control."),
                sentence("The take-up should stop at {after} of travel; {left} is left.",
                         after=belt.position_after, left=belt.left),
                sentence("When the belt is tight and the joint holds, take off the restraining "
                         "clamps."),
            ),
            (care.LINE_OF_FIRE, care.COUNTERWEIGHT
             if conveyor.take_up.kind is TakeUpKind.GRAVITY else care.STORED),
            (
                Reading("Take-up travel used, after", Kind.DISTANCE, 0.0,
                        conveyor.take_up.travel.value, 1,
                        sentence("0 to {travel}, planned {after}", travel=conveyor.take_up.travel,
                                 after=belt.position_after)),
            ),
        ),
        Draft(
            "run", "run", 0, "Run in",
            (
                sentence("Count the tools. Everyone out. Each person takes off their own lock. "
                         "Guards back on."),
                sentence("Empty first, at least three full turns: watch tracking, listen at every "
                         "pulley, scraper and skirt. Then loaded."),
                again,
            ),
            (care.RESTART,),
            hold_point="The joint does not knock or rub and runs straight over every pulley.",
        ),
        Draft(
            "record", "record", 0, "Write it down",
            (
                sentence("Place of the joint in the belt, measured values, parts used, take-up "
                         "before and after, who built and who checked, hour meter, next "
                         "inspection."),
            ),
        ),
    ]  # fmt: skip
