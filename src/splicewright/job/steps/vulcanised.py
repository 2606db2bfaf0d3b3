"""The steps of a vulcanised step joint, from the bared plies to the cooled press.

Order and manner are common practice, no source; the splicing instructions of the material's
maker lead the work, and whoever does it must have learnt it.
"""

from __future__ import annotations

from splicewright.job.steps import cautions as care
from splicewright.job.steps.drafts import Draft, Setting
from splicewright.job.steps.readings import Reading
from splicewright.joint import StepForm, StepGeometry, StepSize
from splicewright.plant import Work
from splicewright.quantities import Kind, Worksheet, sentence
from splicewright.tension.at_rest import Move


def vulcanise(job: Setting) -> list[Draft]:
    """The steps between the opened belt and tensioning; none where the joint is of plates."""
    if job.candidate is None or job.candidate.steps is None or job.step_joint is None:
        return []
    work, size, joint, sheet = job.work, job.candidate.steps, job.step_joint, job.sheet
    ends = 2 * work.joints
    return [*_bare(size, joint, work, ends), *_build(ends), *_cure(size, joint, work, sheet)]


def _bare(size: StepSize, joint: StepGeometry, work: Work, ends: int) -> list[Draft]:
    cut = [
        sentence("Cut both ends square on the square line, board under the belt."),
        sentence("The joint takes {needed} of belt: {over} overlap and {offset} for the bias.",
                 needed=joint.belt_needed, over=joint.overlap, offset=joint.bias_offset),
    ]  # fmt: skip
    if work.cut_out.value > 0:
        cut.append(sentence("{cut_out} comes out, square cut to square cut.", cut_out=work.cut_out))
    return [
        Draft("cut", "cut", ends, "Cut the ends", tuple(cut), (care.CUTTING,),
              hold_point="Both cuts on their lines, carcass sound and dry, no ply cut behind.",
              tools=("knife", "batten", "tape")),
        _strip(size, joint, ends),
        Draft(
            "buff", "buff", ends, "Buff and clean",
            (
                sentence("Buff plies and covers to a fresh, even, dull face; never through the "
                         "rubber into the cloth. Dust off dry, then by the maker's cleaner."),
            ),
            (care.BUFFING, care.SOLVENT),
            hold_point="Every face dull, dry and free of dust. Do not touch it again by hand.",
            tools=("vulcanising",),
        ),
    ]  # fmt: skip


def _strip(size: StepSize, joint: StepGeometry, ends: int) -> Draft:
    """Baring the carcass, by the form of the joint."""
    what, told = {
        StepForm.STEP: (
            "steps",
            sentence(f"{size.steps} steps of {{step}} on each end, measured along the "
                     "belt, at {bias} to the square line; both ends lean the same way so that "
                     "they fit into each other.", step=joint.step_length, bias=joint.bias),
        ),
        StepForm.FINGER: (
            "fingers",
            sentence("Fingers of {step} on each end, marked with the maker's template from the "
                     "centreline, those of one end in the gaps of the other; their width, and the "
                     "cloth over and under them, by the maker.", step=joint.step_length),
        ),
        StepForm.OVERLAP: (
            "overlap",
            sentence("An overlap of {step} on each end at {bias} to the square line, upper side of "
                     "one end and lower side of the other.", step=joint.step_length,
                     bias=joint.bias),
        ),
    }[size.form]  # fmt: skip
    return Draft(
        "strip", "strip", ends * size.steps, f"Mark and bare the {what}",
        (
            told,
            sentence("Cut one ply at a time, never into the one below: a nicked ply is lost "
                     "strength. Draw it off with pincers, in strips.")
            if size.form is StepForm.STEP
            else sentence("Cut covers only: a nicked cloth is lost strength."),
            sentence("Covers cut back on a slope for the cover strips."),
        ),
        (care.PLY_KNIFE, care.LINE_OF_FIRE),
        (
            Reading(f"Length of {'each step' if size.form is StepForm.STEP else what}, along the "
                    "belt", Kind.LENGTH, None, None, size.steps,
                    sentence("planned {step}; limit by the maker", step=joint.step_length)),
        ),
        hold_point="No ply nicked behind a step. If one is: cut back and start again."
        if size.form is StepForm.STEP
        else "No cloth nicked. If it is: cut back and start again.",
        tools=("vulcanising", "tape"),
    )  # fmt: skip


def _build(ends: int) -> list[Draft]:
    return [
        Draft(
            "cement", "cement", ends, "Cement and let dry",
            (
                sentence("Cement of the kit, within its date; coats and drying by its maker, dry "
                         "to the back of the hand."),
            ),
            (care.SOLVENT, care.FIRE),
            (
                Reading("Air temperature", Kind.TEMPERATURE, None, None, 1,
                        sentence("within the maker's limits; well above the dew point")),
            ),
            hold_point="Every coat dry; no dew, no dust, no rain on it.",
            tools=("vulcanising",),
        ),
        Draft(
            "lay", "lay", 0, "Lay the ends together",
            (
                sentence("Draw evenly with the hoists until the ends lie over each other as "
                         "marked; they hold the belt until the joint is cured. Fix both ends: "
                         "nothing may shift."),
                sentence("Carry cover on one side, arrows one way."),
                sentence("Centrelines of both ends in one chalk line over the whole length the "
                         "points were measured on."),
                sentence("Intermediate rubber between the steps, ends laid from the middle "
                         "outwards, rolled down; butts of the plies tight, never overlapped."),
                sentence("Cover strips and edge strips in; joint straight edge to edge."),
            ),
            (care.LINE_OF_FIRE,),
            hold_point="Straight along the chalk line; checked by a second person; no air trapped; "
            "carry cover on the same side of both ends.",
            moves=(Move.BRING_TOGETHER,), people=2, tools=("hoists", "vulcanising", "marker"),
        ),
    ]  # fmt: skip


def _cure(size: StepSize, joint: StepGeometry, work: Work, sheet: Worksheet) -> list[Draft]:
    press = sheet.total("time.cure", "time: Heat, cure, cool",
                        [joint.press_time] * work.joints)  # fmt: skip
    return [
        Draft(
            "press", "press", 0, "Set the press",
            (
                sentence("Platens longer than the {length} of the joint and wider than the belt, "
                         "both ways by what the maker asks; edge bars tight; both platens in line.",
                         length=joint.belt_needed),
            ),
            (care.PRESS, care.LIFTING),
            people=2, tools=("vulcanising",),
        ),
        Draft(
            "cure", "press", 0, "Heat, cure, cool",
            (
                sentence("Heat to {temperature} (range data), hold it for {time} from when the "
                         "coldest place of the platens is there; pressure by the maker.",
                         temperature=joint.cure_temperature, time=joint.cure_time),
                sentence("Cool under pressure before it is let off: a joint released hot forms "
                         "blisters."),
            ),
            (care.PRESS, care.FIRE),
            (
                Reading("Platen temperature, coldest and hottest place", Kind.TEMPERATURE, None,
                        None, 2, sentence("planned {temperature}; spread by the maker",
                                          temperature=joint.cure_temperature)),
                Reading("Cure time", Kind.TIME, size.cure_time, None, 1,
                        sentence("{time} or more, by the maker", time=joint.cure_time)),
            ),
            hold_point="Actual time and temperature written down; pressure held throughout.",
            given=press, tools=("vulcanising",),
        ),
        Draft(
            "unpress", "unpress", 0, "Open the press, trim and check",
            (
                sentence("Trim edges and overflow flush, grind the cover strips even."),
                sentence("No blister, no open butt, no step in the cover; hardness of the cover "
                         "strip by the maker."),
            ),
            (care.PRESS, care.CUTTING),
            hold_point="No blister, no soft place. If there is one, the joint must not run.",
            moves=(Move.PIN,), people=2, tools=("vulcanising", "knife"),
        ),
        Draft(
            "check", "check", 0, "Acceptance check",
            (
                sentence("Straight by the chalk line, edges in line, thickness even with the belt: "
                         "one person who built it, one who did not."),
            ),
            (),
            hold_point="Signed by both. A joint that fails must not run.",
            people=2, tools=("tape", "marker", "vulcanising"),
        ),
    ]  # fmt: skip
