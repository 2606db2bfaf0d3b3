"""The steps that make the stopped belt safe to open: each reads the belt at rest.

Clamps, take-up, slack at the place, chains taken up: common practice, no source, in the order of
the moves of `tension.at_rest`.
"""

from __future__ import annotations

from splicewright.job.steps import cautions as care
from splicewright.job.steps.drafts import Draft, Setting
from splicewright.job.steps.readings import Reading
from splicewright.plant import JobKind, TakeUpKind
from splicewright.quantities import Figure, Kind, Sentence, sentence
from splicewright.tension.at_rest import Move

CREEP = "5 minutes"
"""How long loaded anchors are watched before the belt is opened; common practice, no source."""


def make_safe(job: Setting) -> list[Draft]:
    """The steps up to a belt that hangs slack between clamps that hold."""
    return [*_clamp(job), *_release(job), *_draw(job)]


def clamp_and_release(job: Setting) -> list[Draft]:
    """The steps up to a belt that the take-up pulls no more, for work that leaves it whole."""
    return [*_clamp(job), *_release(job)]


def _clamp(job: Setting) -> list[Draft]:
    stopped, clamps = job.stopped, job.clamps
    below, above = (side.name for side in stopped.bounds.sides)
    lined = job.work.job.joins and job.work.job is not JobKind.NEW_BELT
    drafts = [
        Draft(
            "rig",
            "rig",
            0,
            "Carry clamps and chains to both sides",
            (
                sentence(
                    "Clamps beside the belt where they will stand, {away} or more from the place "
                    "of work" + ("; clear of the lines that are being marked." if lined else "."),
                    away=clamps.restraining,
                ),
                sentence(
                    "Hang the chains on anchors of structure rated {rating} or more. Nothing is "
                    "put on the belt yet.",
                    rating=stopped.ratings.clamps,
                ),
            ),
            (care.LIFTING,),
            people=2,
            tools=("clamps", "tape"),
            after=("place",),
        ),
        Draft(
            "clamp",
            "clamp",
            0,
            "Set the restraining clamps",
            (
                sentence(
                    "Place of work: " + job.work.run + ", {distance} from the start of the run.",
                    distance=job.work.distance,
                ),
                sentence(
                    f"One clamp on each side of the place, {below} and {above}, square across "
                    "the belt, chained away from the place to structure. Clamp, chain and "
                    "anchor rated {rating} or more; they may have to hold up to {hold} if one "
                    "thing lets go.",
                    rating=stopped.ratings.clamps,
                    hold=job.sheet.get("at_rest.clamp_force") or clamps.places[0].force,
                ),
                sentence(
                    "Set them {away} or more from the place of work, one on each side, "
                    "{free} between them. See the drawing of the clamps.",
                    away=clamps.restraining,
                    free=clamps.free,
                ),
                sentence(
                    "Chains snug. Mark the belt at each clamp: if a mark moves, the clamp slips."
                ),
            ),
            (care.CLAMP, care.LINE_OF_FIRE, *((care.LOADED, care.RUN_BACK) if job.loaded else ())),
            hold_point="Both clamps seated over the whole width, chains snug, belt marked at each. "
            "Nobody and nothing on the belt: now the take-up may be touched.",
            moves=(Move.SET_CLAMPS,),
            people=2,
            tools=("clamps", "marker", "tape"),
        ),
    ]
    if job.loaded:
        drafts.append(
            Draft(
                "unload",
                "clear",
                0,
                "Unload what is left",
                (
                    sentence(
                        "From the top of the slope down, from the side, shovel or pump; both "
                        "clamps watched by one person for that alone."
                    ),
                ),
                (care.LOADED, care.RUN_BACK, care.LINE_OF_FIRE),
                hold_point="Carry side seen empty over its length, or clamps hold and are watched; "
                "marks have not moved.",
                people=2,
                tools=("shovels", "radio"),
            )
        )
    return drafts


_HOW = {
    TakeUpKind.GRAVITY: "Lift the counterweight",
    TakeUpKind.WINCH: "Let the rope of the winch off in control,",
    TakeUpKind.SCREW: "Slack both sides evenly, alternately,",
}
_THEN = {
    TakeUpKind.GRAVITY: "hang it and block it from below without a gap.",
    TakeUpKind.WINCH: "then isolate and lock the winch.",
    TakeUpKind.SCREW: "count the turns of each screw.",
}


def _hung(tackle: Figure | None, gravity: bool) -> tuple[Sentence, ...]:
    if tackle is not None:
        return (sentence("Tackle that lifts and holds it rated {tackle} or more.", tackle=tackle),)
    return (sentence("Its weight is not known: find it first."),) if gravity else ()


def _release(job: Setting) -> list[Draft]:
    take_up, moved, tackle = job.conveyor.take_up, job.stopped.movement, job.stopped.ratings.tackle
    gravity = job.weighted
    lift = moved.weight if moved.weight is not None else moved.lift
    return [
        Draft(
            "release",
            "release",
            0,
            "Lift and secure the counterweight" if gravity else "Slack the take-up",
            (
                sentence(
                    _HOW[take_up.kind]
                    + (
                        " by {lift}, the most it may need"
                        if moved.enough
                        else " to the end of its travel; it may need {lift}"
                    )
                    + " ({gives} of belt; the take-up has {there}); "
                    + _THEN[take_up.kind],
                    lift=lift,
                    gives=moved.take_up,
                    there=moved.there,
                ),
                *_hung(tackle, gravity),
                *moved.says[:3],
                *moved.says[4:],
            ),
            (care.COUNTERWEIGHT if gravity else care.STORED,),
            (Reading("Turns of each screw", Kind.COUNT, None, None, 2, sentence("alike")),)
            if take_up.kind is TakeUpKind.SCREW
            else (),
            hold_point=(
                "Counterweight hangs on its tackle and stands on its blocks; belt slack at "
                "the take-up pulley; clamp marks have not moved."
            )
            if gravity
            else "Belt slack at the take-up pulley; clamp marks have not moved.",
            moves=(Move.RELEASE,),
            people=2,
            tools=("tackle", "tape") if gravity else ("tape", "spanners"),
        )
    ]


def _draw(job: Setting) -> list[Draft]:
    stopped, moved = job.stopped, job.stopped.movement
    return [
        Draft(
            "slack",
            "slack",
            0,
            "Pull slack to the place of work",
            (
                sentence(
                    "Set pulling clamps and one hoist at each edge, inside the restraining "
                    "clamps, each rated {rating} or more: one may have to carry all.",
                    rating=stopped.ratings.hoists,
                ),
                sentence(
                    "Pull both sides evenly until the belt between them hangs in a loop: up "
                    "to {pull} together, {travel} of travel. If a hoist has less travel, "
                    "take up the chains and hook on again.",
                    pull=stopped.bounds.draw.largest,
                    travel=moved.hoists,
                ),
                sentence(
                    "The clamps move towards the place of work and their chains hang "
                    "slack: the next step takes them up."
                ),
            ),
            (care.LINE_OF_FIRE, care.LIFTING),
            hold_point="Belt between the pulling clamps hangs slack. Nobody is in line with it.",
            moves=(Move.SET_HOISTS, Move.DRAW),
            people=2,
            tools=("hoists",),
        ),
        Draft(
            "chains",
            "chains",
            0,
            "Take up the chains",
            (
                sentence(
                    "Shorten the chains of both restraining clamps until they are tight, then "
                    "ease the hoists a notch at a time until the chains bear."
                ),
                sentence(
                    "Look at clamps, chains and anchors now that they carry load, from the "
                    f"side, and at the marks for {CREEP}."
                ),
                sentence(
                    "Leave the hoists hooked on and snug: they catch the belt if a clamp slips."
                ),
            ),
            (care.CLAMP, care.LINE_OF_FIRE),
            hold_point="Both chains bear, their anchors seen under load; marks have not moved; "
            "hoists snug; belt between hangs slack. Only now may the belt be opened.",
            moves=(Move.TAKE_UP_CHAINS,),
            people=2,
            tools=("hoists",),
        ),
    ]
