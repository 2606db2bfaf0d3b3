"""The steps of a joint of plates: holes, plates, bolts or rivets, the ends together.

Order and manner are common practice, no source, unless a number says otherwise; the maker's
instructions take precedence.
"""

from __future__ import annotations

from splicewright.job.parts import bolt_stand_out
from splicewright.job.steps import cautions as care
from splicewright.job.steps.drafts import Draft, Setting
from splicewright.job.steps.readings import Reading, torque_said, torque_window
from splicewright.joint import Candidate, Layout, MakingLimits
from splicewright.joint.belt_end.centreline import READING
from splicewright.joint.loads.bolts import KEPT_CLAMP, assumed_relaxation, retightening_time
from splicewright.joint.loads.making_limits import DERIVED
from splicewright.plant import Damage, JobKind
from splicewright.quantities import Kind, Sentence, sentence
from splicewright.tension.at_rest import Move


def lay_out(job: Setting) -> list[Draft]:
    """What is set at the joint laid out on the bench, by one person beside the other steps."""
    layout, lengths = job.layout, job.lengths
    if layout is None or lengths is None:
        return []
    emergency = job.work.job is JobKind.EMERGENCY
    pinned = (
        (
            sentence(
                f"Hinge pin and {job.words.wear_sleeve} against the belt: {{pin}} and {{liner}} "
                "long.",
                pin=lengths.pin,
                liner=lengths.liner,
            ),
        )
        if lengths.pin is not None and lengths.liner is not None
        else ()
    )
    strips = (
        (
            sentence(
                f"Cut {lengths.seating_strips} {job.words.bedding_strip}s, {{strip}} each, one "
                "end pointed.",
                strip=lengths.seating_strip,
            ),
        )
        if lengths.seating_strip is not None and not emergency
        else ()
    )
    held = "rivets" if job.riveted else "bolts and nuts"
    counted = (
        ()
        if job.work.damage is Damage.PIN
        else (
            sentence(
                f"On the bench, away from the belt: count plates, {held} against the parts list. "
                "Bent ones aside."
                if emergency
                else f"On the bench, away from the belt: count plates, {held} against the parts "
                "list, in the order of the drawing"
                + (", each end by itself" if job.hinged else "")
                + ". Bent ones aside."
            ),
        )
    )
    spare = (
        ()
        if emergency
        else (
            sentence(
                "Plates of the next size within reach, if the site has them: the fresh cut "
                "decides. Write down the lots on the boxes."
            ),
        )
    )
    return [
        Draft(
            "lay_out",
            "lay out",
            0,
            "Lay out the parts on the bench",
            (*counted, *pinned, *strips, *spare),
            (care.CUTTING,),
            tools=("bench", "knife", "tape"),
            after=("place",) if emergency else ("whole",),
            by="couple" if emergency else "seat",
        )
    ]


def punch(job: Setting) -> list[Draft]:
    """The holes of the two ends that are made in the belt itself."""
    layout, limits = job.layout, job.limits
    if layout is None or limits is None:
        return []
    holes = len(layout.leading.holes)
    return [
        Draft(
            "punch",
            "punch",
            holes * 2,
            "Punch the holes",
            (
                sentence(
                    "Template on the centreline and cut line; correct end and correct face up."
                ),
                sentence(
                    f"{holes} holes ⌀ {{hole}} in each end. Punch them. Never burn or drill "
                    "oversize: cut plies tear.",
                    hole=layout.hole,
                ),
                sentence(
                    "One plate of each end out of the hole line by {limit} uses up a tenth of "
                    "the margin, one of {tape} {cost} of it: punch through the template only.",
                    limit=limits.hole_line.smallest,
                    tape=(READING, Kind.LENGTH),
                    cost=limits.hole_line_cost,
                ),
            ),
            (job.punch_care,),
            hold_point="First and last hole measured from the centreline against the drawing.",
            tools=("template", "punch", "tape"),
        )
    ]


def bring_together(job: Setting) -> list[Draft]:
    """Solid plates: the ends butted on the bench before plates span them."""
    if not job.plated or job.hinged or job.candidate is None:
        return []
    gap = 2 * job.candidate.size.cut_line
    return [
        Draft(
            "butt",
            "couple",
            0,
            "Butt the ends on the bench",
            (
                sentence(
                    "Draw evenly on both sides, up to {pull} together, until the ends butt "
                    + ("square, {gap} from cut to cut," if gap else "square without a gap")
                    + " over a bench; edges in line. Fix both to the bench.",
                    pull=job.stopped.bounds.draw.largest,
                    gap=(gap, Kind.LENGTH),
                ),
                *(
                    ()
                    if job.joints == 1
                    else (
                        sentence(
                            "Two joints: lay the piece in with a sling and butt it to the end "
                            "that moves least; build that joint whole, as the next steps say. "
                            "Then butt and build the other."
                        ),
                    )
                ),
                *(
                    ()
                    if not job.on_return
                    else (
                        sentence(
                            "Ends turned over are laid back first: they butt as they will run, "
                            "carry cover down, worked from above and below."
                        ),
                    )
                ),
                sentence("The hoists hold them until the last plate is on."),
            ),
            (care.LINE_OF_FIRE, care.HANDS),
            hold_point="Ends butted over the whole width, both hoists hold, edges in line, carry "
            "cover on the same side of both.",
            moves=(Move.BRING_TOGETHER,),
            people=2,
            tools=("hoists", "bench") if job.joints == 1 else ("hoists", "bench", "slings"),
        )
    ]


def seat(job: Setting) -> list[Draft]:
    """Plates set, and rivets or bolts drawn tight."""
    best, layout, limits = job.candidate, job.layout, job.limits
    if best is None or layout is None or limits is None:
        return []
    hinged = job.hinged
    plates = "strip" if layout.strip else "plates"
    text = (
        sentence(
            f"Thread one {best.words.bedding_strip} under the top and one under the bottom plates."
        )
        if hinged
        # The ends were laid back to be butted: on the return side the pulley cover lies up.
        else sentence(
            "The pulley cover lies up: bottom plates on top, one across both ends, bolts down "
            "through both."
            if job.on_return
            else "Bottom plates under the joint, one across both ends, bolts up through both."
        ),
        sentence(
            f"Set the {plates}: {_pieces(layout)}. "
            + (
                "Rivets from the pulley cover, points on the carry cover."
                if job.riveted
                else "Bolts from the pulley cover, heads locked in the bottom plates, nuts on the "
                "carry cover."
            )
        ),
        *(
            ()
            if not job.on_return or job.riveted or not hinged
            else (
                sentence(
                    "Ends that were not turned over: the bottom plates lie above, bolts go down "
                    "through them, nuts are run on from below, on the carry cover."
                ),
            )
        ),
        sentence(
            f"Setting pin through the loops, {best.words.spacer}s on; the pin must turn by hand."
        )
        if hinged
        else sentence(
            "Top plates on from below, nuts run on by hand: middle, edges, then the rest."
            if job.on_return
            else "Top plates on, nuts run on by hand: middle, edges, then the rest."
        ),
        sentence(
            "Set-backs, leading end: {ll} left, {lr} right. Trailing end: {tl} left, {tr} right.",
            ll=(layout.leading.setback_left, Kind.LENGTH),
            lr=(layout.leading.setback_right, Kind.LENGTH),
            tl=(layout.trailing.setback_left, Kind.LENGTH),
            tr=(layout.trailing.setback_right, Kind.LENGTH),
        ),
    )
    bolts = layout.count * best.size.bolts_per_plate * 2 * (1 if hinged else job.joints)
    pins = () if hinged else (Move.PIN,)
    return [
        Draft(
            "seat",
            "seat",
            bolts,
            "Set plates and rivets" if job.riveted else "Set plates and bolts",
            text,
            (care.HANDS,),
            tools=("setting",) if hinged else (),
        ),
        *(
            _set_rivets(bolts, pins)
            if job.riveted
            else _tighten(best, limits, bolts, pins, job.wrench_care)
        ),
    ]


def _set_rivets(rivets: int, moves: tuple[Move, ...]) -> list[Draft]:
    return [
        Draft(
            "rivet",
            "rivet",
            rivets,
            "Set the rivets",
            (
                sentence(
                    "One plate in the middle, one at each edge, then all the rest from the "
                    "middle outwards."
                ),
                sentence(
                    "Guide block on the plate, setter square on the rivet, anvil tight under "
                    "it; a rivet that leans or splits comes out and a new one goes in."
                ),
            ),
            (care.HAND_PUNCH,),
            hold_point="Every rivet set full; plates drawn into both covers along the whole row; "
            "no plate tilted.",
            moves=moves,
            tools=("rivet",),
        )
    ]


def _tighten(
    candidate: Candidate,
    limits: MakingLimits,
    bolts: int,
    moves: tuple[Move, ...],
    wrench_care: str,
) -> list[Draft]:
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
    return [
        Draft(
            "tighten",
            "tighten",
            bolts,
            "Tighten in order",
            (
                sentence(
                    f"Run all nuts down until {{stand_out}} of bolt stands out ({source}).",
                    stand_out=(stand_out, Kind.LENGTH),
                ),
                sentence(
                    "Then one plate in the middle, one at each edge, then all the rest from "
                    "the middle outwards."
                ),
                torque,
            ),
            (wrench_care,),
            (
                Reading(
                    "Torque at the last round",
                    Kind.TORQUE,
                    *torque_window(size, limits),
                    2,
                    torque_said(size, limits),
                ),
            ),
            hold_point="Teeth through the pulley cover over the whole row; carry cover raised "
            "evenly behind the top plates; no plate tilted; no bolt head turned.",
            moves=moves,
            tools=("wrench",),
        ),
        Draft(
            "break",
            "break",
            bolts,
            "Break off the bolt ends",
            (
                sentence(
                    "Press the breaker hard onto the nut. Catch the ends. File or grind "
                    "the stub level with the nut."
                ),
                sentence(
                    "Do not peen it now: a peened nut cannot be gone over. Where the maker "
                    "asks for peening, do it after the last tightening."
                ),
            ),
            (care.BOLT_ENDS, care.HOT),
            tools=("breaker",),
        ),
    ]


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


def couple(job: Setting) -> list[Draft]:
    """The ends of a hinged joint brought together and pinned."""
    lengths = job.lengths
    if not job.hinged or lengths is None or lengths.pin is None or lengths.liner is None:
        return []
    last = "Bring the ends together, pin" if job.joints == 1 else "Close the second joint, pin"
    return [
        Draft(
            "couple",
            "couple",
            1,
            last,
            (
                *_turned_back(job),
                sentence(
                    "Draw evenly on both sides, up to {pull} together, until the loops "
                    "mesh; edges in line. The chains hang slack as the ends come in.",
                    pull=job.stopped.bounds.draw.largest,
                ),
                *_pin(job),
            ),
            (care.HANDS, care.LINE_OF_FIRE),
            hold_point="Carry cover on the same side of both ends, arrows point one way. Pin turns "
            "freely, ends inside both plate edges, both retainers locked.",
            moves=(Move.BRING_TOGETHER, Move.PIN),
            people=2,
            tools=("hoists",),
        ),
        Draft(
            "trim",
            "trim",
            0,
            "Trim",
            (
                sentence(
                    job.words.wear_sleeve.capitalize()
                    + (f" and {job.words.bedding_strip}s" if job.work.job.joins else "")
                    + " flush; nothing may stand past the belt edge."
                ),
            ),
            (care.CUTTING,),
            tools=("knife",),
        ),
    ]


def couple_first(job: Setting) -> list[Draft]:
    """The first of two joints: the piece pinned to the end that lies away from the hoists."""
    if job.joints < 2 or not job.hinged:
        return []
    return [
        Draft(
            "couple_first",
            "couple",
            0,
            "Pin the first joint of the piece",
            (
                sentence(
                    "Lay the piece in by hand or with a sling, never with the hoists that "
                    "hold the belt: carry cover and arrow as the belt's."
                ),
                sentence(
                    "Pin it to the end that moves least; the other end of the piece lies "
                    "towards the hoists."
                ),
                *_turned_back(job),
                *_pin(job),
            ),
            (care.HANDS, care.LIFTING),
            hold_point="The piece lies with its covers and arrow as the belt's, LEFT on the same "
            "edge. First pin turns freely, both its retainers locked.",
            people=2,
            tools=("slings",),
        )
    ]


def _turned_back(job: Setting) -> tuple[Sentence, ...]:
    if not job.on_return or not job.work.job.joins:
        return ()
    which = "Ends" if job.joints == 1 else "The end, and the piece,"
    return (
        sentence(
            f"{which} turned over are turned back first: carry cover down, arrows with the travel."
        ),
    )


def _pin(job: Setting) -> tuple[Sentence, ...]:
    lengths = job.lengths
    assert lengths is not None and lengths.pin is not None and lengths.liner is not None
    return (
        sentence(
            f"{job.words.wear_sleeve.capitalize()} of {{liner}} through the meshed loops, "
            "then the hinge pin of {pin}, pushed, never hammered hard: a pin that jams means "
            "loops out of line.",
            liner=lengths.liner,
            pin=lengths.pin,
        ),
        sentence(f"{lengths.retainers} pin retainers, one at each end."),
    )


def go_over(job: Setting) -> list[Draft]:
    """The nuts gone over before the joint is handed over: rubber gives way under the plates."""
    best, limits, layout = job.candidate, job.limits, job.layout
    if best is None or limits is None or layout is None or job.riveted:
        return []
    if job.work.damage is Damage.PIN:
        return []
    loss = assumed_relaxation()
    soonest, likely = (
        (retightening_time(KEPT_CLAMP, share), Kind.TIME) for share in (loss.high, loss.value)
    )
    bolts = layout.count * best.size.bolts_per_plate * (2 if job.hinged else 1) * job.joints
    return [
        Draft(
            "again",
            "go over",
            bolts,
            "Go over the nuts",
            (
                sentence(
                    "Rubber gives way: {kept} of the clamp force is left after {soonest} "
                    "where it gives most, {likely} typically. Go over every nut in the same "
                    "order before the take-up pulls, as late as the window allows; if more than "
                    "{soonest} pass from then to full load, once more.",
                    kept=(KEPT_CLAMP, Kind.SHARE),
                    soonest=soonest,
                    likely=likely,
                ),
                sentence(
                    "Nuts must still turn: nothing is peened before the re-tightening after "
                    "the first shift."
                ),
            ),
            (job.wrench_care,),
            (
                Reading(
                    "Torque when gone over",
                    Kind.TORQUE,
                    *torque_window(best.size, limits),
                    2,
                    torque_said(best.size, limits),
                ),
            ),
            tools=("wrench",),
        )
    ]


def check(job: Setting) -> list[Draft]:
    """The acceptance check; of two joints each has its own."""
    if not job.plated:
        return []
    names = ("check",) if job.joints == 1 else ("check", "check_second")
    return [
        Draft(
            key,
            "check",
            0,
            "Acceptance check" + ("" if job.joints == 1 else f", {('first', 'second')[n]} joint"),
            (sentence("Fill in the acceptance sheet: one person who built it, one who did not."),),
            (),
            hold_point="Acceptance sheet signed. If a line fails, the joint must not run.",
            people=2,
            tools=("tape",) if job.riveted or job.work.damage is Damage.PIN else ("tape", "wrench"),
        )
        for n, key in enumerate(names)
    ]
