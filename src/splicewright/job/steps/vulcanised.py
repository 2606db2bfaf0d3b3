"""The steps of a vulcanised joint, from the bared carcass to the cooled press.

Order and manner are common practice, no source; the splicing instructions of the material's
maker lead the work, and whoever does it must have learnt it.
"""

from __future__ import annotations

from splicewright.job.steps import cautions as care
from splicewright.job.steps.drafts import Draft, Setting
from splicewright.job.steps.ends import came_out
from splicewright.job.steps.press import (
    OUTERMOST,
    STRETCH_MARKS,
    between_marks,
    bond,
    press,
    unpress,
)
from splicewright.job.steps.readings import Reading, equal_lengths
from splicewright.job.steps.timing import time_of
from splicewright.joint import End, StepForm, StepGeometry, StepSize
from splicewright.quantities import Kind, Sentence, sentence
from splicewright.tension.at_rest import Move


def vulcanise(job: Setting) -> list[Draft]:
    """The steps between the opened belt and tensioning; none where the joint is of plates."""
    if job.candidate is None or job.candidate.steps is None or job.step_joint is None:
        return []
    size, joint = job.candidate.steps, job.step_joint
    return [
        *_bare(job, size, joint),
        *_build(job, size, joint),
        *(bond(job, size, joint) if size.cold else press(job, size, joint)),
        *unpress(job, size),
    ]


def folded_end(on_return: bool) -> End:
    """The end whose steps are bared from below, so that it is folded back for it.

    The leading end lies on top at the carry cover: its steps face the pulley cover, which is above
    on the return side.
    """
    return End.TRAILING if on_return else End.LEADING


def _bare(job: Setting, size: StepSize, joint: StepGeometry) -> list[Draft]:
    ends = 2 * job.joints
    cut = [
        sentence(
            "Cut both ends square on the square line, knife away from the body, board under the "
            "belt."
        ),
        sentence(
            "Check: the same length marked back from the cut along both edges, then both "
            "diagonals, corner to mark."
        ),
        sentence(
            "The joint takes {needed} of belt: {over} overlap and {offset} for the bias."
            if joint.bias.value > 0
            else "The joint takes {needed} of belt, all of it overlap.",
            needed=joint.belt_needed,
            over=joint.overlap,
            offset=joint.bias_offset,
        ),
    ]
    if job.work.cut_out.value > 0:
        cut.append(
            sentence(
                "{cut_out} comes out, square cut to square cut. Measure what came out and write it "
                "down: the belt's length is reckoned from it.",
                cut_out=job.work.cut_out,
            )
        )
    return [
        Draft(
            "cut",
            "cut",
            ends,
            "Cut the ends",
            tuple(cut),
            (care.CUTTING,),
            (
                *(
                    reading
                    for end in End
                    for reading in equal_lengths(f"Diagonals after the cut, {end.value}", None)
                ),
                *came_out(job.work),
            ),
            hold_point="Both cuts on their lines, carcass sound and dry, no ply cut behind.",
            tools=("knife", "batten", "tape"),
        ),
        _strip(job, size, joint, ends),
        Draft(
            "buff",
            "buff",
            ends,
            "Buff and clean",
            (
                sentence(
                    "Buff plies and covers to a fresh, even, dull face; never through the "
                    "rubber into the cloth. Dust off dry, then by the maker's cleaner."
                )
                if size.form is not StepForm.CORD
                else sentence(
                    "Buff cords and covers dull; rubber stays on every cord, no bright "
                    "wire. Dust off dry, then by the maker's cleaner."
                ),
            ),
            (care.BUFFING, care.SOLVENT),
            hold_point="Every face dull, dry and free of dust. Do not touch it again by hand.",
            tools=("vulcanising",),
        ),
    ]


def _strip(job: Setting, size: StepSize, joint: StepGeometry, ends: int) -> Draft:
    """Baring the carcass, by the form of the joint."""
    feature, instruction = {
        StepForm.STEP: (
            "steps",
            sentence(
                f"{size.steps} steps of {{step}} on each end, measured along the "
                "belt, at {bias} to the square line.",
                step=joint.step_length,
                bias=joint.bias,
            ),
        ),
        StepForm.FINGER: (
            "fingers",
            sentence(
                "Fingers of {step} on each end, marked with the maker's template from the "
                "centreline, those of one end in the gaps of the other; the cloth over and "
                "under them by the maker.",
                step=joint.step_length,
            ),
        ),
        StepForm.OVERLAP: (
            "overlap",
            sentence(
                "An overlap of {step} on each end at {bias} to the square line, upper side of "
                "one end and lower side of the other.",
                step=joint.step_length,
                bias=joint.bias,
            ),
        ),
        StepForm.CORD: (
            "cords",
            sentence(
                f"Cords freed over {{step}}, and cut by your own table: a pattern of "
                f"{len(size.cords)} lines that repeats over the width, begun at the "
                "centreline.",
                step=joint.step_length,
            ),
        ),
    }[size.form]
    folded = folded_end(job.on_return)
    face = "carry" if job.on_return else "pulley"
    ply, cords = size.form is StepForm.STEP, size.form is StepForm.CORD
    return Draft(
        "strip",
        "strip",
        ends * size.steps,
        f"Mark and bare the {feature}",
        (
            sentence(
                "Tent up before the carcass is bared: dry, clean, shut to wind, warm enough"
                + ("." if size.cold else "; cables and press box dry, behind a safety switch.")
            ),
            instruction,
            sentence(
                "Mark every line from the square line at left edge, centreline and right "
                "edge, by the marking page"
                + (
                    "; the corner template sets the bias. The left edge lies ahead, with the "
                    "travel."
                    if joint.bias.value > 0
                    else "."
                )
            ),
            sentence(
                f"Fold the {folded.value} back, {face} cover up, over a bench: it is bared from "
                "there. "
                + ("Its lines then lean the other way to the eye. " if joint.bias.value > 0 else "")
                + "The other end is bared as it lies."
            ),
            sentence(
                "Cut one ply at a time, never into the one below: a nicked ply is lost "
                "strength. Draw it off with pincers, in strips."
            )
            if ply
            else sentence("Cut covers only: a nicked cord or cloth is lost strength."),
            *(() if size.cold else (_cover_strips(size),)),
        ),
        (care.PLY_KNIFE, *((care.CORDS,) if cords else ()), care.LINE_OF_FIRE),
        tuple(
            Reading(
                f"Length of {'each step' if ply else feature}, {end.value}",
                Kind.LENGTH,
                None,
                None,
                size.steps,
                sentence("planned {step}; limit by the maker", step=joint.step_length),
            )
            for end in End
        ),
        hold_point="No ply nicked behind a step. If one is: cut back and start again."
        if ply
        else "No cloth nicked. If it is: cut back and start again."
        if not cords
        else "No cord nicked or bare. If one is: cut back and start again.",
        tools=("vulcanising", *(("cords",) if cords else ()), "tape", "bench"),
    )


def _cover_strips(size: StepSize) -> Sentence:
    if size.form is StepForm.CORD:
        return sentence(
            "Both covers come off from the marked line to the end and are built anew: cut them on "
            "a slope there."
        )
    if size.cover_strip is None:
        return sentence(
            "Covers cut back on a slope for the cover strips; their width by the maker."
        )
    return sentence(
        "Covers cut back on a slope for the cover strips, {wide} wide.",
        wide=(size.cover_strip, Kind.LENGTH),
    )


def _build(job: Setting, size: StepSize, joint: StepGeometry) -> list[Draft]:
    cure = joint.curing
    assert cure is not None  # a plan made now always has it
    drying = (
        sentence(
            f"{size.coats} coats, {{each}} to dry after each (range data); then dry to the "
            "back of the hand.",
            each=(size.drying, Kind.TIME),
        )
        if size.coats is not None and size.drying is not None
        else sentence("Coats and drying by the maker; dry to the back of the hand.")
    )
    reads = (size.coats or 2) + 1  # before the first coat and after every one
    given = None
    if size.coats is not None and cure.drying is not None:
        coats = 2 * job.joints * size.coats
        brush = time_of(
            "time.coat", "Brush the coats on", "coat", coats, job.work, job.sheet, job.work.crew
        )
        given = job.sheet.total("time.cement", "time: Cement and let dry", [brush, cure.drying])
    return [
        Draft(
            "cement",
            "cement",
            2 * job.joints,
            "Cement and let dry",
            (
                sentence(
                    "Read air, humidity and the coldest face first; again after every coat. "
                    "At {air} and {humidity} dew forms at {dew}: open faces at {face} or "
                    "warmer. For other air see the dew table; warm the faces, or wait.",
                    air=cure.air,
                    humidity=cure.humidity,
                    dew=cure.dew,
                    face=cure.face,
                ),
                sentence(
                    "Cement of the kit, within its date, stirred; tins shut. Write down lot and "
                    "date of cement and rubber."
                ),
                *(
                    (
                        sentence(
                            "Where it is of two parts: mix only what is brushed on within its "
                            "pot life, by the maker; what has thickened is thrown away."
                        ),
                    )
                    if size.cold
                    else ()
                ),
                drying,
            ),
            (care.SOLVENT,),
            (
                Reading(
                    "Air temperature, first and after each coat",
                    Kind.TEMPERATURE,
                    *_air(size),
                    reads,
                    sentence(
                        "{low} to {high} (range data)",
                        low=(size.work_temperature[0], Kind.TEMPERATURE),
                        high=(size.work_temperature[1], Kind.TEMPERATURE),
                    )
                    if size.work_temperature is not None
                    else sentence("within the maker's limits"),
                ),
                Reading(
                    "Humidity of the air, first and after each coat",
                    Kind.SHARE,
                    None,
                    None,
                    reads,
                    sentence("for the dew table"),
                ),
                Reading(
                    "Coldest face, first and after each coat",
                    Kind.TEMPERATURE,
                    None,
                    None,
                    reads,
                    sentence("as the dew table says, or warmer"),
                ),
            ),
            hold_point="Every coat dry; faces warmer than the dew table asks; no dust, no rain on "
            "them.",
            given=given,
            tools=("vulcanising",),
        ),
        Draft(
            "lay",
            "lay",
            0,
            "Lay the ends together",
            (
                sentence(
                    "Draw evenly with the hoists, up to {pull} together, until the ends lie "
                    + (
                        "in each other's gaps"
                        if size.form in {StepForm.FINGER, StepForm.CORD}
                        else "over each other"
                    )
                    + " as marked; they hold the belt until the joint is cured. Fix both ends: "
                    "nothing may shift.",
                    pull=job.stopped.bounds.draw.largest,
                ),
                sentence(
                    "Carry cover on one side, arrows one way"
                    + (
                        "."
                        if size.form in {StepForm.FINGER, StepForm.CORD}
                        else "; the leading end on top at the carry cover, so that a scraper runs "
                        "off its seam."
                    )
                ),
                sentence(
                    "Centrelines of both ends in one chalk line over the whole length the "
                    "points were measured on."
                ),
                sentence(_LAID_COLD if size.cold else _LAID[size.form]),
                sentence("Seams of both covers filled by the system; straight edge to edge.")
                if size.cold
                else sentence(
                    "Cover rubber on both sides and edge strips in; joint straight edge to edge."
                    if size.form is StepForm.CORD
                    else "Cover strips and edge strips in; joint straight edge to edge."
                ),
                sentence(
                    f"Paint marks {{away}} past {OUTERMOST[size.form]}, both sides, both edges: "
                    "measure between them.",
                    away=(STRETCH_MARKS, Kind.LENGTH),
                ),
            ),
            (care.LINE_OF_FIRE,),
            (between_marks("before"),),
            hold_point="Straight along the chalk line; checked by a second person; no air trapped; "
            "carry cover on the same side of both ends.",
            moves=(Move.BRING_TOGETHER,),
            people=2,
            tools=("hoists", "vulcanising", "marker"),
        ),
    ]


def _air(size: StepSize) -> tuple[float | None, float | None]:
    return (None, None) if size.work_temperature is None else size.work_temperature


_LAID = {
    StepForm.STEP: "Intermediate rubber between the steps, ends laid from the middle outwards, "
    "rolled down; butts of the plies tight, never overlapped.",
    StepForm.FINGER: "Fingers laid from the middle outwards, each in its gap, tips to roots, none "
    "on another; gaps filled with rubber, cloth over and under them by the maker, rolled down.",
    StepForm.OVERLAP: "Intermediate rubber over the whole overlap, ends laid from the middle "
    "outwards, rolled down.",
    StepForm.CORD: "Cords laid one by one from the centreline, as the table says; gaps filled with "
    "core rubber, no cord on another, no air.",
}
_LAID_COLD = (
    "Laid once, from the middle outwards, no air under it: cement that has touched is not lifted "
    "again. Rolled, then hammered from the middle to the edges, every hand's breadth."
)
