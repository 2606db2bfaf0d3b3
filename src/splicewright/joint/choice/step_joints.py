"""A vulcanised step joint judged beside the plates, by the same list of requirements."""

from __future__ import annotations

from splicewright.joint.choice.candidates import (
    Candidate,
    Requirement,
    construction,
    material,
    number,
    pulleys,
    tensions,
    word,
)
from splicewright.joint.curing import cure_held, heats_asked
from splicewright.joint.fasteners.ranges import Range, StepSize
from splicewright.joint.vulcanised import bias_offset, joint_length, overlap, rating_of
from splicewright.plant import Carcass, Conveyor, Reason, Work
from splicewright.quantities import Figure, Kind, sentence
from splicewright.tension import Demand


def judge_steps(
    made_by: Range,
    size: StepSize,
    conveyor: Conveyor,
    work: Work,
    asked: Demand,
    wanted: Figure,
    thick: Figure,
) -> Candidate:
    """Judge one step joint on every requirement.

    Parameters
    ----------
    made_by, size : range and one of its step joints
    conveyor, work : plant and job
    asked : what the machine demands
    wanted : running tension with service factor [N/m]
    thick : thickest place of the belt [m]
    """
    running, starting = rating_of(size, conveyor.belt)
    stated = starting if size.starting_safety_factor is not None else None
    rubber, suits = material(made_by, conveyor, work)
    requirements = [
        construction(made_by, work),
        _carcass(size, conveyor),
        _plies(size, conveyor),
        _strength(size, conveyor),
        *pulleys(
            asked,
            [size.smallest_pulley] * len(asked.passings),
            [p.running.value / running for p in asked.passings],
        ),
        *tensions(asked, wanted, running, stated),
        _belt_for_it(size, conveyor, work),
        suits,
        word("scrapers", True, "lies flush once the covers are ground"),
        _surroundings(size, work.air or conveyor.ambient),
        _cure(size, work, thick),
    ]
    if work.window is not None:
        requirements.append(_window(size, conveyor, work, work.window))
    return Candidate(
        made_by.name, made_by.invented, made_by.construction, size, rubber, tuple(requirements)
    )


def _carcass(size: StepSize, conveyor: Conveyor) -> Requirement:
    carcass = conveyor.belt.carcass
    listed = ", ".join(c.value for c in size.carcass)
    met = carcass in size.carcass
    return word("carcass", met, f"{carcass.value} belt; data for {listed}")


def _plies(size: StepSize, conveyor: Conveyor) -> Requirement:
    plies = conveyor.belt.plies
    if conveyor.belt.carcass in {Carcass.SOLID_WOVEN, Carcass.STEEL_CORD}:
        plies = 1  # one cloth, however many layers it is woven of; one layer of cords
    if plies is None:
        return word(
            "plies", False, f"number of plies not known; data for {size.plies}: read the marking"
        )
    reason = sentence(f"belt of {plies} {'ply' if plies == 1 else 'plies'}, data for {size.plies}")
    return Requirement("plies", Kind.COUNT, plies, size.plies, None, plies == size.plies, reason)


def _strength(size: StepSize, conveyor: Conveyor) -> Requirement:
    low, high = size.strength
    strength = conveyor.belt.strength
    met = low * (1 - 1e-9) <= strength.value <= high * (1 + 1e-9)
    bound = low if strength.value < low else high
    reason = sentence(
        "belt of {strength}, data for {low} to {high}",
        strength=strength,
        low=(low, Kind.WIDTH_FORCE),
        high=(high, Kind.WIDTH_FORCE),
    )
    # Inside its window a joint has no share of reserve to rank by: it fits.
    margin = None if met else -abs(strength.value / bound - 1)
    return Requirement(
        "belt strength", Kind.WIDTH_FORCE, strength.value, bound, margin, met, reason
    )


def _belt_for_it(size: StepSize, conveyor: Conveyor, work: Work) -> Requirement:
    """Whether there is belt for the overlap: inserted, or given by the take-up."""
    width = (work.belt_width or conveyor.belt.width).value
    over = overlap(size.steps, size.step_length)
    needed = work.joints * joint_length(over, bias_offset(width, size.bias))
    if work.reason is Reason.NEW_BELT:
        return word(
            "belt for the joint",
            True,
            sentence("new belt: order {needed} more than the loop", needed=(needed, Kind.DISTANCE)),
        )
    take_up = conveyor.take_up
    has = take_up.strands * take_up.position.value + work.insert.value - work.cut_out.value
    reason = sentence(
        "the overlap takes {needed}; take-up and belt inserted, less what comes out, give {has}",
        needed=(needed, Kind.DISTANCE),
        has=(has, Kind.DISTANCE),
    )
    return number("belt for the joint", Kind.DISTANCE, needed, has, reason)


def _cure(size: StepSize, work: Work, thick: Figure) -> Requirement:
    """Whether the range's data say how long this belt is held, at the press's temperature."""
    at = work.press_temperature
    held = cure_held(size, thick.value, at.value if at is not None else None)
    where: Figure | tuple[float, Kind] = at or (size.cure_temperature, Kind.TEMPERATURE)
    if held is None:
        reason = sentence(
            "no time for a belt of {thick} at {temperature}: ask the maker",
            thick=thick,
            temperature=where,
        )
        return word("cure time", False, reason)
    reason = sentence(
        "{held} at {temperature} for a belt of {thick}",
        held=(held, Kind.TIME),
        temperature=where,
        thick=thick,
    )
    return word("cure time", True, reason)


def _surroundings(size: StepSize, air: Figure) -> Requirement:
    name = "working temperature"
    if size.work_temperature is None:
        return word(name, True, sentence("none stated by the range; ambient {air}", air=air))
    low, high = size.work_temperature
    reason = sentence(
        "ambient {air}, data for {low} to {high}",
        air=air,
        low=(low, Kind.TEMPERATURE),
        high=(high, Kind.TEMPERATURE),
    )
    return word(name, low <= air.value <= high, reason)


def _window(size: StepSize, conveyor: Conveyor, work: Work, window: Figure) -> Requirement:
    width = (work.belt_width or conveyor.belt.width).value
    over = overlap(size.steps, size.step_length)
    heats = 1 if size.cold else heats_asked(size, over, width, work)
    press = size.press_time * heats * work.joints
    reason = sentence(
        "heating, cure and cooling alone take {press} of the window of {window}"
        + (f": {heats * work.joints} heats" if heats * work.joints > 1 else ""),
        press=(press, Kind.TIME),
        window=window,
    )
    return number("shutdown window", Kind.TIME, press, window.value, reason)
