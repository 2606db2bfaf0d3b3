"""A vulcanised joint in the press, or left still while it cures cold, and freed again.

Order and manner are common practice, no source; the instructions of the material's maker lead.
"""

from __future__ import annotations

from splicewright.job.steps import cautions as care
from splicewright.job.steps.drafts import Draft, Setting
from splicewright.job.steps.readings import Reading
from splicewright.joint import StepForm, StepGeometry, StepSize
from splicewright.quantities import Figure, Kind, Sentence, sentence
from splicewright.tension.at_rest import Move

OUTERMOST = {
    StepForm.STEP: "the outermost step",
    StepForm.FINGER: "the roots of the fingers",
    StepForm.OVERLAP: "the overlap",
    StepForm.CORD: "the outermost line",
}
"""Where each form of joint ends."""
STRETCH_MARKS = 0.5
"""Marks on both sides of the joint, measured before and after, from where it ends [m]; common
practice, no source."""


def bond(job: Setting, size: StepSize, joint: StepGeometry) -> list[Draft]:
    """A joint that cures cold: it lies still for its time, and nothing pulls on it."""
    time = job.sheet.total("time.cure", "time: Let it bond", [joint.press_time] * job.joints)
    return [
        Draft(
            "cure",
            "press",
            0,
            "Let it bond",
            (
                sentence(
                    "Boards and weights over the whole joint, by the maker. It lies still, {time} "
                    "at {temperature} or warmer (range data); colder, it does not bond: warm it.",
                    time=joint.cure_time,
                    temperature=joint.cure_temperature,
                ),
                sentence("The hoists hold the belt all that time: nobody slackens or moves them."),
            ),
            (care.SOLVENT, care.LINE_OF_FIRE),
            (
                Reading(
                    "Coldest face while it bonds",
                    Kind.TEMPERATURE,
                    joint.cure_temperature.value,
                    None,
                    2,
                    sentence("{least} or warmer", least=joint.cure_temperature),
                ),
                Reading(
                    "Bonding time",
                    Kind.TIME,
                    joint.cure_time.value,
                    None,
                    1,
                    sentence("{time} or more, by the maker", time=joint.cure_time),
                ),
            ),
            hold_point="Actual time and temperature written down; the joint was not moved.",
            given=time,
            tools=("vulcanising",),
        )
    ]


def press(job: Setting, size: StepSize, joint: StepGeometry) -> list[Draft]:
    """A joint that cures hot: the press set, heat and pressure held, cooled under pressure."""
    cure, sheet = joint.curing, job.sheet
    assert cure is not None
    heats = len(cure.places)
    time = sheet.total("time.cure", "time: Heat, cure, cool", [joint.press_time] * job.joints)
    return [
        Draft(
            "press",
            "press",
            0,
            "Set the press",
            (
                sentence(
                    f"Platens over {{length}} along the belt, {{beyond}} past "
                    f"{OUTERMOST[size.form]} at each end; both platens in line, wider than the "
                    "belt.",
                    length=cure.press_length,
                    beyond=cure.beyond,
                ),
                _heats(cure.platen, heats),
                sentence(
                    "Edge irons tight against both edges, {under} thinner than the belt, so "
                    "that the pressure comes on the joint.",
                    under=(size.iron_under, Kind.LENGTH),
                )
                if size.iron_under is not None
                else sentence(
                    "Edge irons tight against both edges, a little thinner than the belt "
                    "(by the maker), so that the pressure comes on the joint."
                ),
            ),
            (care.PRESS, care.LIFTING),
            people=2,
            tools=("vulcanising",),
        ),
        Draft(
            "cure",
            "press",
            0,
            "Heat, cure, cool" if heats == 1 else f"Heat, cure, cool: {heats} heats",
            (
                sentence(
                    "Pressure {pressure} (range data) before heat, held to the end.",
                    pressure=(size.pressure, Kind.PRESSURE),
                )
                if size.pressure is not None
                else sentence("Pressure by the maker, before heat, held to the end."),
                sentence(
                    "Heat to {temperature}, hold it for {time} (range data, for this "
                    "thickness) from when the coldest place of the platens is there.",
                    temperature=joint.cure_temperature,
                    time=joint.cure_time,
                ),
                sentence(
                    "Cool under pressure before it is let off: a joint released hot forms blisters."
                ),
            ),
            (care.PRESS, care.FIRE),
            (
                Reading(
                    "Platen temperature, coldest and hottest place, each heat",
                    Kind.TEMPERATURE,
                    None,
                    None,
                    2 * heats,
                    sentence(
                        "planned {temperature}; spread by the maker",
                        temperature=joint.cure_temperature,
                    ),
                ),
                Reading(
                    "Cure time, each heat",
                    Kind.TIME,
                    joint.cure_time.value,
                    None,
                    heats,
                    sentence("{time} or more, by the maker", time=joint.cure_time),
                ),
                Reading(
                    "Pressure before heat and before it is let off, each heat",
                    Kind.PRESSURE,
                    size.pressure,
                    None,
                    2 * heats,
                    sentence("{pressure} or more", pressure=(size.pressure, Kind.PRESSURE))
                    if size.pressure is not None
                    else sentence("by the maker"),
                ),
                Reading(
                    "Warmest place when the pressure is let off",
                    Kind.TEMPERATURE,
                    None,
                    None,
                    heats,
                    sentence("cold enough by the maker"),
                ),
            ),
            hold_point="Actual time, temperature and pressure written down; pressure held until "
            "the platens were cool.",
            given=time,
            tools=("vulcanising",),
        ),
    ]


def _heats(platen: Figure | None, heats: int) -> Sentence:
    if platen is None:
        return sentence(
            "Press not given: one heat is counted. A shorter press takes more heats, "
            "each with its own heating, cure and cooling."
        )
    if heats == 1:
        return sentence("One heat: the press of {platen} covers it.", platen=platen)
    return sentence(
        f"{heats} heats with the press of {{platen}}, one after another, placed as the "
        "press drawing shows; where they overlap the rubber is cured twice.",
        platen=platen,
    )


def unpress(job: Setting, size: StepSize) -> list[Draft]:
    """What comes off the joint, and what is looked at before anything pulls on it."""
    names = ("check",) if job.joints == 1 else ("check", "check_second")
    return [
        Draft(
            "unpress",
            "unpress",
            0,
            "Trim and check" if size.cold else "Open the press, trim and check",
            (
                sentence(
                    "Trim edges flush, buff the seams even."
                    if size.cold
                    else "Trim edges and overflow flush, grind the new rubber even."
                ),
                sentence(
                    "No blister, no open seam, no step in the cover."
                    if size.cold
                    else "No blister, no open butt, no step in the cover; hardness of the new "
                    "cover by the maker."
                ),
                _holds_full(size),
            ),
            (*(() if size.cold else (care.PRESS,)), care.CUTTING, care.BUFFING),
            (between_marks("after"),),
            hold_point="No blister, no soft place. If there is one, the joint must not run.",
            moves=(Move.PIN,),
            people=2,
            tools=("vulcanising", "knife", "tape"),
        ),
        *(
            Draft(
                key,
                "check",
                0,
                "Acceptance check"
                + ("" if job.joints == 1 else f", {('first', 'second')[n]} joint"),
                (
                    sentence(
                        "Fill in the acceptance sheet: one person who built it, one who did not."
                    ),
                ),
                (),
                hold_point="Acceptance sheet signed. If a line fails, the joint must not run.",
                people=2,
                tools=("tape", "marker", "vulcanising"),
            )
            for n, key in enumerate(names)
        ),
    ]


def _holds_full(size: StepSize) -> Sentence:
    """From when the joint carries everything."""
    if not size.cold:
        return sentence(
            "A joint cured by this press holds its full load only when it is cold through."
        )
    if size.full_load_after is None:
        return sentence("When it may carry its full load is the maker's word: ask for it.")
    return sentence(
        "Full load only {after} after the ends were laid together (range data); until then as the "
        "maker allows.",
        after=(size.full_load_after, Kind.TIME),
    )


def between_marks(when: str) -> Reading:
    """Whether the joint crept: between the paint marks, before and after it cured."""
    return Reading(
        f"Between the marks, left and right edge, {when}",
        Kind.LENGTH,
        None,
        None,
        2,
        sentence("both edges alike; the same before and after"),
    )
