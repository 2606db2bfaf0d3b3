"""Repairs that leave the belt in one piece: a joint in an emergency, a rip, a hole, a torn edge.

Orders and manners are common practice, no source; what is reckoned (plates across a rip, width
lost) is named where it stands. The makers' instructions take precedence.
"""

from __future__ import annotations

from splicewright.job.steps import cautions as care
from splicewright.job.steps.damage import plates_lost, rows_across, taper, width_left
from splicewright.job.steps.drafts import Draft, Setting
from splicewright.job.steps.readings import Reading, torque_said, torque_window
from splicewright.plant import Damage, JobKind
from splicewright.quantities import Kind, Sentence, sentence
from splicewright.tension.at_rest import Move


def may_it_run(job: Setting) -> list[Draft]:
    """Whether this repair will do at all."""
    joint = job.work.job is JobKind.EMERGENCY
    never = (
        sentence(
            "Not when: the carcass is torn behind the bolts, holes are pulled to the end, "
            "loops are worn through over the width, the joint opens in sight, or people work "
            "below. Then the joint is made anew."
        )
        if joint
        else sentence(
            "Not when: plies or cords are broken across more of the width than the belt can do "
            "without, the damage grows under load, or fire or burning belt is suspected. Then, "
            "and for a rip too long for plates, a piece is inserted or the belt replaced."
        )
    )
    return [
        Draft(
            "may",
            "look",
            1,
            "Decide: will this repair do?",
            (
                sentence(
                    "Look at both covers, belt stopped, from outside. Photograph. The program's "
                    "assessment of an inspection says what the damaged joint carries."
                )
                if joint
                else sentence(
                    "Look at both covers over the whole length of the damage, belt stopped, "
                    "from outside. Photograph."
                ),
                *(
                    (
                        sentence(
                            "Least first: a new pin or retainer; single plates on sound holes; "
                            "a corner without plates cut back to a notch; half the joint; the "
                            "joint made anew."
                        ),
                    )
                    if joint
                    else ()
                ),
                never,
                *_width_said(job),
            ),
            (care.MOVING,),
            hold_point="The person whom the site's rules name has decided that this repair will "
            "do, and for how long.",
            running=True,
            people=2,
            tools=("camera", "radio"),
        )
    ]


def _width_said(job: Setting) -> tuple[Sentence, ...]:
    if job.work.damage_width is None or job.work.damage is Damage.PLATES:
        return ()
    share, tension = width_left(job)
    return (
        sentence(
            "{width} of width lost leaves {share} of it: the running pull rises to {tension} "
            "on what is left.",
            width=job.work.damage_width,
            share=share,
            tension=tension,
        ),
    )


def emergency(job: Setting) -> list[Draft]:
    """The old pin out, and what is damaged replaced; the joint is closed by the usual step."""
    best, limits = job.candidate, job.limits
    if best is None or limits is None or not job.plated:
        return []
    drafts = [
        Draft(
            "open",
            "open",
            0,
            "Draw the old pin",
            (
                sentence(
                    "Draw the pin by hand, from the side. A pin that does not slide is still "
                    "loaded: stop, and draw more slack. A broken one comes out at both edges; "
                    "a piece that stays is pushed on with the new pin."
                ),
                sentence("Look at every loop and hole of both ends."),
            ),
            (care.LINE_OF_FIRE, care.HANDS),
            hold_point="Both ends lie still, both chains bear. Loops are whole over the width and "
            "no hole is pulled; else: make the joint anew.",
            moves=(Move.OPEN,),
            people=2,
            tools=("gauge",),
        )
    ]
    if job.work.damage is Damage.PLATES:
        count = plates_lost(job.work, best.size.pitch, job.layout.count if job.layout else 1)
        per = best.size.bolts_per_plate
        drafts.append(
            Draft(
                "plates",
                "plates",
                count,
                "Replace the damaged plates",
                (
                    sentence(
                        f"Up to {count} plates ({{width}} of width). Take off bent, cracked "
                        f"and loose ones, {per} bolts each; never use an old bolt again.",
                        width=job.work.damage_width or job.conveyor.belt.width,
                    ),
                    sentence(
                        "New plates on sound holes only, loops in line on the setting pin. A "
                        "torn corner: cut it back to a notch; that width counts as lost, and "
                        "the plan is asked again."
                    ),
                    *_from_above(job),
                    sentence(
                        "Tighten the new bolts in order, then every bolt beside them. Break off "
                        "the ends of the new ones and file them level; do not peen them."
                    ),
                ),
                (care.CUTTING, care.HANDS, job.wrench_care, care.BOLT_ENDS, care.HOT),
                (
                    Reading(
                        "Torque of the new bolts",
                        Kind.TORQUE,
                        *torque_window(best.size, limits),
                        2,
                        torque_said(best.size, limits),
                    ),
                ),
                hold_point="Every new plate seated and tight on sound belt; loops in one line.",
                tools=("wrench", "setting", "gauge", "breaker", "knife"),
            )
        )
    return drafts


def _from_above(job: Setting) -> tuple[Sentence, ...]:
    """On the return side plates are mostly mended on the cover that lies up."""
    if not job.on_return:
        return ()
    return (
        sentence(
            "The pulley cover lies up here: bolts go down through the bottom plates, nuts are run "
            "on from below, on the carry cover. Make room to reach them, or turn the belt over."
        ),
    )


def limits(job: Setting) -> list[Draft]:
    """What the repair may carry, until when, and who is told."""
    asked = job.work.job is JobKind.EMERGENCY
    return [
        Draft(
            "limits",
            "record",
            0,
            "Limits, expiry, who is told",
            (
                sentence(
                    "Load, start, speed and how often it is looked at, as decided; no start "
                    "under load."
                    if asked
                    else "Limits as decided: load, speed, how often it is looked at."
                ),
                sentence(
                    "A date and a number of running hours after which it stops, whatever it "
                    "looks like then; first look after one hour of running."
                ),
                sentence(
                    "Tell in person: control room, shift leader, maintenance planner, who "
                    "works at this conveyor. Write down who was told."
                ),
            ),
            (),
            (
                Reading(
                    "Load allowed from now",
                    Kind.MASS_FLOW,
                    None,
                    None,
                    1,
                    sentence(
                        "as decided, no more than the assessment allows" if asked else "as decided"
                    ),
                ),
                Reading(
                    "Running hours until it stops",
                    Kind.TIME,
                    None,
                    None,
                    1,
                    sentence("as decided; not past the next planned stop"),
                ),
            ),
            hold_point="Tag on the start button: load, start, speed, date, hours, name of who "
            "decided. Control room has repeated it.",
            tools=("tag", "radio"),
            after=("check",) if asked else None,
            by="inch",
        )
    ]


def cause(job: Setting) -> list[Draft]:
    """Why it tore, found and removed before it is mended."""
    return [
        Draft(
            "cause",
            "look",
            2,
            "Find the cause and remove it",
            (
                sentence(
                    "A rip, hole or torn edge has a cause that is still there: trapped steel, "
                    "a bar or lump in the chute, a broken idler, a skirt, a frame the edge "
                    "rubs on. Follow the mark on the belt and on the structure."
                ),
                sentence("Chutes only by their own permit, feed locked and blocked."),
                sentence(
                    "Up to {remains} may still be in the belt: it is never cut across, and "
                    "nobody stands in line with it.",
                    remains=job.stopped.movement.remains,
                ),
            ),
            (care.FALLING,),
            hold_point="The cause is found and removed, or the belt does not run.",
            people=2,
            tools=("light", "camera"),
        )
    ]


def along(job: Setting) -> list[Draft]:
    """The repair itself, on a belt that is whole and without the pull of the take-up."""
    by_damage = {Damage.RIP: _rip, Damage.HOLE: _hole, Damage.EDGE: _edge}
    return by_damage[job.work.damage](job) if job.work.damage in by_damage else []


def _rip(job: Setting) -> list[Draft]:
    rows, spacing = rows_across(job.work, job.sheet)
    length = job.work.damage_length or job.conveyor.belt.width
    return [
        Draft(
            "ends_round",
            "cut",
            2,
            "Round off both ends of the rip",
            (
                sentence(
                    "Find where the plies end, not the cover: probe beyond the visible tip. A "
                    "round hole there keeps it from running on."
                ),
            ),
            (care.CUTTING, care.DRILL),
            hold_point="A round hole at each end of the rip, beyond the last torn ply; no cut "
            "starts from it.",
            tools=("drill", "knife"),
        ),
        Draft(
            "row",
            "row",
            rows,
            "Plates across the rip",
            (
                sentence(
                    f"{rows} plates over {{length}}: every {{spacing}} (assumed, no source; "
                    "the maker's instructions take precedence), and one more in the first gap "
                    "at each end.",
                    length=length,
                    spacing=spacing,
                ),
                sentence(
                    "Draw the edges together first. Each plate square across the rip, alike "
                    "on both sides; nothing proud where scrapers, skirts or flat return "
                    "idlers run: sink it, or lift them."
                ),
                sentence(
                    "Bolts from the pulley cover, nuts on the carry cover, tight by the maker's "
                    "instructions from the middle of the row outwards; break off their ends and "
                    "file them level."
                ),
                *_from_above(job),
                sentence(
                    "The row holds the halves together. It gives no strength along the belt "
                    "back: plies broken across are lost width."
                ),
            ),
            (care.DRILL, care.WRENCH, care.HANDS, care.BOLT_ENDS, care.HOT),
            (
                Reading(
                    "Length of the rip",
                    Kind.DISTANCE,
                    None,
                    None,
                    1,
                    sentence(
                        "planned {length}; longer: one more plate for every {spacing}",
                        length=length,
                        spacing=spacing,
                    ),
                ),
                Reading(
                    "Torque of the plates' bolts",
                    Kind.TORQUE,
                    None,
                    None,
                    2,
                    sentence("by the maker's instructions"),
                ),
            ),
            hold_point="Edges closed over the whole rip, every plate tight, bolt ends off, nothing "
            "proud against scrapers and skirts.",
            people=2,
            tools=("drill", "row", "tape", "breaker"),
        ),
    ]


def _hole(job: Setting) -> list[Draft]:
    return [
        Draft(
            "patch",
            "patch",
            1,
            "Cut the hole round and patch it",
            (
                sentence(
                    "Cut it to a round or an oval along the belt, back to sound carcass that "
                    "is dry and not parted. Measure it."
                ),
                sentence(
                    "Patch by the instructions of its system: buffed, clean, dry, within "
                    "date, within its temperatures. A patch seals; it carries nothing."
                ),
                sentence(
                    "It stays slack and untouched for the time its system asks before the "
                    "take-up pulls. That time is not in this window where it is longer than the "
                    "step: plan it."
                ),
            ),
            (care.CUTTING, care.SOLVENT, care.BUFFING),
            (
                _width_cut(job, "Width of the hole when cut"),
                Reading(
                    "Patch left slack for",
                    Kind.TIME,
                    None,
                    None,
                    1,
                    sentence("the time its system asks, or longer"),
                ),
            ),
            hold_point="Hole round, carcass dry and sound around it, patch bonded over its whole "
            "edge, and the time of its system over.",
            tools=("knife", "tape", "patching"),
        )
    ]


def _width_cut(job: Setting, name: str) -> Reading:
    planned = job.work.damage_width
    if planned is None:
        return Reading(name, Kind.LENGTH, None, None, 1, sentence("as planned"))
    said = sentence("{width} or less; more: plan again", width=planned)
    return Reading(name, Kind.LENGTH, None, planned.value, 1, said)


def _edge(job: Setting) -> list[Draft]:
    return [
        Draft(
            "edge",
            "trim edge",
            1,
            "Cut the torn edge away",
            (
                sentence(
                    "Cut it away on a long taper at both ends, {taper} of belt for each (ten "
                    "times its width; common practice, no source): no step that catches.",
                    taper=taper(job),
                ),
                sentence("Seal the cut edge by the maker's system: bare carcass draws water."),
                sentence(
                    "The width that is lost counts: tell it to whoever plans the next joint. Both "
                    "edges clear of the structure, and tracking set before load comes on."
                ),
            ),
            (care.CUTTING,),
            (_width_cut(job, "Width cut away"),),
            hold_point="No step, no loose ply and no thread at the edge; it clears the structure.",
            tools=("knife", "tape", "patching"),
        )
    ]


def slack_chains(job: Setting) -> list[Draft]:
    """The chains let out before the take-up pulls again, the belt in one piece."""
    return [
        Draft(
            "ease",
            "ease",
            0,
            "Slack the chains",
            (
                sentence(
                    "The belt is in one piece and the take-up still released: let out both "
                    "chains by {gives} or more, as far as the take-up may draw the belt; clamps "
                    "still on. A chain that bears is unloaded with a hoist first: a chain cannot "
                    "be eased.",
                    gives=job.stopped.movement.take_up,
                ),
            ),
            (care.LINE_OF_FIRE, care.CLAMP),
            hold_point="Both chains slack, clamps still on. Nobody and nothing on the belt, at the "
            "pulleys or under the take-up: count.",
            moves=(Move.SLACK_CHAINS,),
            people=2,
            tools=("hoist",),
        )
    ]
