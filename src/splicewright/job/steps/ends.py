"""The belt ends: measured and marked while the belt is whole, opened, cut, read at the cut.

Order and manner are common practice, no source, unless a number says otherwise; the maker's
instructions take precedence.
"""

from __future__ import annotations

from splicewright.job.steps import cautions as care
from splicewright.job.steps.drafts import Draft, Setting
from splicewright.job.steps.readings import Reading, equal_lengths, square_check
from splicewright.joint import belt_width
from splicewright.plant import JobKind, Travel, Work
from splicewright.quantities import Kind, Sentence, System, sentence
from splicewright.tension.at_rest import Move

MIDPOINT_REACH: dict[System, str] = {"metric": "5 to 7 m", "inch": "16 to 23 ft"}
"""How far back from the end midpoints are taken for the centreline (common practice, no source)."""

THICKNESS_PLACES = 5
"""Belt thickness is measured at this many places across each end."""

COVER_LEFT = 0.001
"""Cover that skiving leaves on the carcass [m]; common practice, no source."""

_CENTRELINE = (
    "Centreline: measure the middle of the belt at five or more places over {} on each side of the "
    "place, not from one edge, before clamps stand there. Snap a chalk line through them."
)
_ROLLED = (
    "Centreline of each new end: the middle of the belt at five or more places over {} back from "
    "the end, on both sides of the clamp, not from one edge. Snap a chalk line through them."
)
_ENDS = ("leading end", "trailing end")


def measure_whole(job: Setting) -> list[Draft]:
    """What can be measured on the whole belt: width, marking, thickness at its edges."""
    low, high, limit = window(job)
    width = job.layout.width if job.layout is not None else belt_width(job.conveyor, job.work)
    return [
        Draft(
            "whole",
            "measure",
            6,
            "Measure the belt",
            (
                sentence(
                    "Width on both sides of the place; thickness at both edges with the "
                    "calliper: worn belt is thinner in the middle, so the cut decides. Read "
                    "the marking on the cover."
                ),
                sentence(
                    "Chalk an arrow for the direction of travel on both covers, both sides of "
                    "the place."
                    if job.work.travel is not Travel.UNKNOWN
                    else "Direction of travel not known: find it out. If you cannot, notch both "
                    "ends."
                ),
                *_faces(job),
            ),
            (),
            (
                Reading(
                    "Belt thickness at the left and right edge", Kind.LENGTH, low, high, 2, limit
                ),
                Reading(
                    "Belt width, both ends",
                    Kind.LENGTH,
                    None,
                    None,
                    2,
                    sentence("planned for {width}; another width changes the joint", width=width),
                ),
            ),
            hold_point="Width, marking and edge thickness are those of the plan. If not: stop and "
            "plan again with these values.",
            tools=("tape", "marker"),
            after=None if job.work.job is JobKind.NEW_BELT else ("place",),
        )
    ]


def mark(job: Setting) -> list[Draft]:
    """Centreline and square line, on the whole belt, where no clamp stands yet."""
    two = job.joints > 1
    new = job.work.job is JobKind.NEW_BELT
    centre = _ROLLED if new else _CENTRELINE
    lines = "the square line of each of the two cuts" if two else "the square line"
    return [
        Draft(
            "mark",
            "mark",
            0,
            "Mark centreline and square line",
            (
                sentence(
                    centre.format(MIDPOINT_REACH["metric"]), centre.format(MIDPOINT_REACH["inch"])
                ),
                square_check(job.limits),
                *(
                    (_second_line(job),)
                    if new
                    else (
                        sentence(
                            f"Mark {lines} on the belt now: afterwards clamps stand beside it."
                        ),
                    )
                ),
            ),
            (),
            tuple(
                reading
                for end in _ENDS
                for reading in equal_lengths(
                    f"Point to left and right end of the line, {end}",
                    job.limits.arcs if job.limits is not None else None,
                )
            ),
            hold_point="A second person has checked both square lines.",
            people=2,
            tools=("tape", "marker"),
            after=None if new else ("whole",),
        )
    ]


def _second_line(job: Setting) -> Sentence:
    """Where a new belt is cut to length: both its ends lie past each other at the place."""
    take_up, moved, belt = job.conveyor.take_up, job.stopped.movement, job.belt
    let_go = min(moved.take_up.value, moved.there.value)
    past = job.sheet.found(
        "new_belt.past",
        "second cut line past the first",
        let_go
        + take_up.strands * (belt.position_after.value - take_up.position.value)
        - belt.joint_span.value,
        Kind.DISTANCE,
        "belt that the take-up takes up again, less cut line to cut line across the joint",
        [moved.take_up, moved.there, belt.position_after, take_up.position, belt.joint_span],
        "geometry",
    )
    whole = " The new belt is then {have} long, cut line to cut line."
    if past.value <= 0:
        return sentence(
            "Cut to length with the take-up where it is planned, the ends drawn snug." + whole,
            have=belt.belt_to_have,
        )
    return sentence(
        "Cut to length: take-up still released, belt drawn snug round the loop by the hoists, the "
        "ends lie past each other. Second cut line {past} past the first: that much the take-up "
        "takes up again." + whole + " In doubt leave more: what is cut off is gone.",
        past=past,
        have=belt.belt_to_have,
    )


def open_belt(job: Setting) -> list[Draft]:
    """The belt opened: the old pin drawn, or the belt cut through."""
    # With a new belt an old joint was brought to the place; nothing is marked yet.
    anew = job.work.job in {JobKind.ANEW, JobKind.NEW_BELT}
    lined = "" if job.work.job is JobKind.NEW_BELT else ", inside the marked lines"
    return [
        Draft(
            "open",
            "open",
            0,
            "Draw the old pin, or cut through beside it" if anew else "Cut the belt through",
            (
                sentence(
                    "A hinged joint: draw its pin by hand. A pin that does not slide is still "
                    "loaded: stop, and draw more slack."
                )
                if anew
                else sentence(
                    "Cut across between the two marked lines, from the side, board under the belt."
                ),
                sentence(f"Another kind of joint: cut across beside it{lined}.")
                if anew
                else sentence("Hold both ends with ropes: a stiff belt springs open."),
                sentence(
                    "The ends move a little when they part: hands and feet out from under "
                    "and between."
                ),
            ),
            (care.LINE_OF_FIRE, care.CUTTING),
            hold_point="Both ends lie still; both chains bear; marks have not moved.",
            moves=(Move.OPEN,),
            people=2,
            tools=("knife",),
        )
    ]


def cut(job: Setting) -> list[Draft]:
    """Both ends of the belt cut to the line; a plain square cut where there are no plates."""
    layout, limits, work = job.layout, job.limits, job.work
    if layout is None or limits is None:
        return []
    curved = layout.curve_depth.value > 0
    behind = ", behind the last bolt row of the old joint." if work.job is JobKind.ANEW else "."
    sentences = [
        sentence(
            "Cut both ends along the cut line, knife away from the body, board under the "
            "belt; in sound dry carcass" + behind
        ),
        sentence(
            "The middle is cut back {depth} behind the edges, along the template.",
            depth=layout.curve_depth,
        )
        if curved
        else sentence("The ends are cut straight on the square line."),
        # Before the notches: they take the corners away that the diagonals are measured from.
        sentence(
            "Check: {back} marked back from the cut along both edges, then both diagonals, "
            "corner to mark.",
            back=limits.back,
        ),
    ]
    for end in layout.ends:
        if end.notch_width > 0:
            sentences.append(
                sentence(
                    f"Notch both corners of the {end.which.value}: {{width}} wide at the "
                    "cut, running out at {length} along the edge.",
                    width=(end.notch_width, Kind.LENGTH),
                    length=(end.notch_length, Kind.LENGTH),
                )
            )
    if work.cut_out.value > 0:
        sentences.append(
            sentence(
                "{cut_out} comes out, cut line to cut line. Measure what came out and write it "
                "down: the belt's length is reckoned from it.",
                cut_out=work.cut_out,
            )
        )
    return [
        Draft(
            "cut",
            "cut",
            2,
            "Cut the ends",
            tuple(sentences),
            (care.CUTTING, care.LINE_OF_FIRE),
            (
                *(
                    reading
                    for end in _ENDS
                    for reading in equal_lengths(
                        f"Diagonals after the cut, {end}", limits.diagonals
                    )
                ),
                *came_out(work),
            ),
            hold_point="Cut line follows the template on both ends; both diagonals within "
            "their limit (if not, cut again); no ply cut behind the line.",
            tools=("knife", "batten", "template", "tape"),
        )
    ]


def came_out(work: Work) -> tuple[Reading, ...]:
    """What was cut out of the belt, where the plan cuts anything out."""
    if work.cut_out.value <= 0:
        return ()
    return (
        Reading(
            "Belt that came out",
            Kind.LENGTH,  # in the unit its box is filled in
            None,
            None,
            1,
            sentence("planned {cut_out}", cut_out=(work.cut_out.value, Kind.LENGTH)),
        ),
    )


def read_the_cut(job: Setting) -> list[Draft]:
    """Thickness across the fresh cut: it decides the size."""
    low, high, limit = window(job)
    limits = job.limits
    return [
        Draft(
            "measure",
            "measure",
            2 * THICKNESS_PLACES,
            "Measure across the fresh cut",
            (
                sentence(
                    f"Thickness at {THICKNESS_PLACES} places across each end. Look at the "
                    "plies: dry, not parted, no torn cords, no old holes."
                ),
                sentence(
                    "Outside the limits: take the next size, if it lies ready and the plan "
                    "for it is there; else stop and plan again."
                ),
                sentence(
                    "Ends that differ by more than {thick}: skive the carry cover of the "
                    "thicker one under its plates to match, or fill the thinner one by the "
                    "maker's instructions.",
                    thick=limits.thickness.smallest,
                )
                if limits is not None
                else sentence("Ends that differ: skive or fill by the maker's instructions."),
            ),
            (),
            tuple(
                Reading(f"Belt thickness, {end}", Kind.LENGTH, low, high, THICKNESS_PLACES, limit)
                for end in _ENDS
            ),
            hold_point="Every thickness across both cuts within its limits; carcass sound and dry. "
            "If not: cut back further or plan again.",
            tools=("tape",),
        )
    ]


def turn_ends(job: Setting) -> list[Draft]:
    """On the return side the pulley cover lies up: the ends are turned to be worked on."""
    if not job.on_return or not job.plated:
        return []
    faces, go = ("rivets", "are set") if job.riveted else ("nuts", "go")
    if job.hinged:
        title = "Turn both ends over"
        folded: tuple[Sentence, ...] = (
            sentence(
                "Here the carry cover faces down. Fold each end back over a bench, never "
                f"tighter than round a drum: its carry cover lies up, where the {faces} "
                f"{go}. Tie it down."
            ),
            sentence(
                "Too stiff or too short to fold: work from the pulley cover, bottom "
                f"plates on top, {faces} underneath, with room to reach them."
            ),
        )
    else:  # built as it lies: the plates span both ends
        title = "Mark the faces that lie up"
        folded = (
            sentence(
                "Here the pulley cover lies up, and the joint is built so: holes from above, "
                "bottom plates on top, nuts underneath, with room to reach them. Fold an end back "
                "over a bench only to skive it, never tighter than round a drum; tie it down."
            ),
        )
    return [
        Draft(
            "turn",
            "turn",
            2,
            title,
            (
                *folded,
                sentence(
                    "Carry centreline, arrow, LEFT and RIGHT over the cut to the cover that "
                    "now lies up."
                ),
            ),
            (care.LINE_OF_FIRE, care.HANDS),
            hold_point="Each end lies with its carry cover up or is marked PULLEY COVER; both "
            "arrows point with the travel; LEFT is on the same edge of both ends.",
            people=2,
            tools=("bench", "ropes", "marker"),
        )
    ]


def skive(job: Setting) -> list[Draft]:
    """Cover taken off under the plates where they must not stand proud."""
    best = job.candidate
    if best is None or not job.plated or not job.work.scrapers:
        return []
    return [
        Draft(
            "skive",
            "skive",
            2,
            "Skive where plates must not stand proud",
            (
                sentence(
                    "Scrapers run here and the plates stand {proud} proud. Where the maker's "
                    "instructions allow it, take the carry cover off under the top plates by "
                    "that much, on a slope behind them.",
                    proud=(best.size.proud_height, Kind.LENGTH),
                ),
                sentence(
                    "Leave {left} of rubber on the carcass (common practice, no source): bare "
                    "cloth holds no plate and lets water in. Less cover than that to spare: "
                    "do not skive; lift or change the scrapers.",
                    left=(COVER_LEFT, Kind.LENGTH),
                ),
                sentence(
                    "What is clamped is thinner then: it must still lie in the limits of the "
                    f"size, and the {'rivets' if job.riveted else 'bolts'} are chosen for it."
                ),
            ),
            (care.SKIVING,),
            (
                Reading(
                    "Rubber left on the carcass, both ends",
                    Kind.LENGTH,
                    COVER_LEFT,
                    None,
                    2,
                    sentence("{left} or more; only if skived", left=(COVER_LEFT, Kind.LENGTH)),
                ),
            ),
            tools=("skiver", "tape"),
        )
    ]


def window(job: Setting) -> tuple[float | None, float | None, Sentence]:
    """Thickness limits of the joint."""
    best = job.candidate
    if best is None:
        return None, None, sentence("no fastener chosen: thickness decides it")
    if best.steps is not None:
        return (
            None,
            None,
            sentence("both ends alike; skive or fill where they differ, by the maker"),
        )
    low, high = best.size.thickness
    return low, high, sentence("{low} to {high}", low=(low, Kind.LENGTH), high=(high, Kind.LENGTH))


def _faces(job: Setting) -> list[Sentence]:
    """On the return side the belt lies with its carry cover down: left and right change sides."""
    if not job.on_return:
        return []
    return [
        sentence(
            "Here the carry cover faces down. Left and right in this pack are meant with the "
            "carry cover up, facing the travel: seen from above the pulley cover they change "
            "sides. Chalk LEFT and RIGHT on both covers."
        )
    ]
