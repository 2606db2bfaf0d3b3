"""The steps that make the stopped belt safe to open: each reads the belt at rest.

Isolation, clamps, take-up, slack at the place, chains taken up: common practice, no source, in the
order of the moves of `tension.at_rest`.
"""

from __future__ import annotations

from splicewright.job.clamping import Clamping
from splicewright.job.steps import cautions as care
from splicewright.job.steps.drafts import Draft
from splicewright.job.steps.readings import Reading
from splicewright.plant import Conveyor, TakeUpKind, Work
from splicewright.quantities import Kind, sentence
from splicewright.tension import AtRest


def make_safe(conveyor: Conveyor, work: Work, stopped: AtRest, clamps: Clamping) -> list[Draft]:
    """The steps up to a belt that hangs slack between clamps that hold.

    Parameters
    ----------
    conveyor, work : plant and job
    stopped : the belt at rest
    clamps : where they stand
    """
    drives = len(conveyor.drives)
    gravity = conveyor.take_up.kind is TakeUpKind.GRAVITY
    moved, tackle = stopped.movement, stopped.ratings.tackle
    lift = moved.weight if moved.weight is not None else moved.lift
    below, above = (side.name for side in stopped.bounds.sides)
    made = [
        Draft(
            "isolate", "isolate", drives, "Isolate, lock, tag, try",
            (
                sentence("Work through the isolation sheet line by line: lock, tag and "
                         "try every source yourselves."),
                sentence(f"{work.crew} people: {work.crew} locks. Nobody works under another "
                         f"person's lock."),
            ),
            (care.ISOLATION, care.STORED),
            hold_point="Every line of the isolation sheet is ticked. Nothing started when "
                       "tried.",
        ),
    ]  # fmt: skip
    if stopped.run_back.most.value > 0:
        made.append(
            Draft(
                "clear", "clear", 0, "Clear the load",
                (
                    sentence("If you can, run the belt empty before isolation."),
                    sentence("If load is left on it: it pulls {pull} down the slope. Clamp first, "
                             "then unload from the top down.", pull=stopped.run_back.most),
                ),
                (care.LOADED, care.RUN_BACK),
                hold_point="Carry side checked empty over its length, or clamped and watched.",
            )
        )  # fmt: skip
    made += [
        Draft(
            "clamp", "clamp", 0, "Set the restraining clamps",
            (
                sentence("Place of work: " + work.run + ", {distance} from the start of the run.",
                         distance=work.distance),
                sentence(f"One clamp on each side of the place, {below} and {above}, square across "
                         "the belt, chained away from the place to structure. Clamp, chain and "
                         "anchor rated {rating} or more; they may have to hold up to {hold}.",
                         rating=stopped.ratings.clamps, hold=clamps.places[0].force),
                sentence("Set them {away} or more from the place of work, one on each side, "
                         "{free} between them. See the drawing of the clamps.",
                         away=clamps.restraining, free=clamps.free),
                sentence("Chains snug. Mark the belt at each clamp: if a mark moves, the clamp "
                         "slips."),
            ),
            (care.CLAMP, care.LINE_OF_FIRE),
            hold_point="Both clamps seated over the whole width; chains snug; anchors checked; "
            "belt marked.",
        ),
        Draft(
            "release", "release", 0,
            "Lift and secure the counterweight" if gravity else "Slack the take-up",
            (
                sentence("The clamps must be on first. Write down the take-up position before "
                         "you move it."),
                sentence("Lift the counterweight by {lift}, the most it may need ({gives} of belt; "
                         "the take-up has {there}). Hang it on tackle rated {tackle} and block it "
                         "from below without a gap.", lift=lift, gives=moved.take_up,
                         there=moved.there, tackle=tackle)
                if gravity and tackle is not None
                else sentence("Lift the counterweight by {lift}, the most it may need ({gives} of "
                              "belt; the take-up has {there}), hang and block it. Its weight is "
                              "not known: find it first.", lift=lift, gives=moved.take_up,
                              there=moved.there)
                if gravity
                else sentence("Slack both sides evenly, alternately, by {lift}, the most it may "
                              "need ({gives} of belt; the take-up has {there}); count the turns "
                              "of each screw.",
                              lift=lift, gives=moved.take_up, there=moved.there),
                *moved.says[:3],
                *moved.says[4:],
            ),
            (care.COUNTERWEIGHT if gravity else care.STORED,),
            (
                Reading("Take-up travel used, before", Kind.DISTANCE, 0.0,
                        conveyor.take_up.travel.value, 1,
                        sentence("0 to {travel}", travel=conveyor.take_up.travel)),
            ),
            hold_point="Belt slack at the take-up pulley. Clamp marks have not moved.",
        ),
        Draft(
            "slack", "slack", 0, "Pull slack to the place of work",
            (
                sentence("Set pulling clamps and one hoist at each edge, inside the restraining "
                         "clamps, each rated {rating} or more: one may have to carry all.",
                         rating=stopped.ratings.hoists),
                sentence("Pull both sides evenly until the belt between them hangs in a loop: up "
                         "to {pull} together, {travel} of travel. If a hoist has less travel, "
                         "take up the chains and hook on again.", pull=stopped.bounds.draw.largest,
                         travel=moved.hoists),
                sentence("The clamps move towards the place of work and their chains go slack. "
                         "Take up the chains as you pull."),
            ),
            (care.LINE_OF_FIRE, care.LIFTING),
            hold_point="Belt between the clamps hangs slack. Nobody stands in line with it.",
        ),
        Draft(
            "chains", "chains", 0, "Take up the chains",
            (
                sentence("Shorten the chains of both restraining clamps until they are tight. Ease "
                         "the hoists a little: the chains must take the load and hold it."),
                sentence("Leave the hoists hooked on and snug: they catch the belt if a clamp "
                         "slips."),
            ),
            (care.CLAMP, care.LINE_OF_FIRE),
            hold_point="Both chains are tight; marks have not moved; hoists are snug; belt "
            "between hangs slack. Only now may the belt be opened.",
        ),
    ]  # fmt: skip
    return made
