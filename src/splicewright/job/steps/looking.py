"""Jobs that mend nothing: the round of a site's joints, and a belt that runs off.

Common practice, no source. Turns, marks and what to compare are reckoned or written down; limits
are the site's.
"""

from __future__ import annotations

from splicewright.job.isolation import slopes
from splicewright.job.steps import cautions as care
from splicewright.job.steps.drafts import Draft, Setting
from splicewright.job.steps.readings import Reading
from splicewright.plant import RoundWay
from splicewright.quantities import Kind, sentence
from splicewright.tension.at_rest import Move

QUARTERS, TURNS = 4, 3


def look_running(job: Setting) -> list[Draft]:
    """The joints heard and seen while the belt runs, from outside the guards."""
    emptied = (
        (
            sentence(
                "Then stop the feed and run the belt empty: a lock on the drive holds no load on a "
                "slope. If it cannot be run empty, nobody reaches in: plan it with clamps."
            ),
        )
        if slopes(job.conveyor)
        else ()
    )
    return [
        Draft(
            "listen",
            "look",
            1,
            "Look and listen while it runs",
            (
                sentence(
                    "From outside the guards, one full turn: clicks, flutter, an edge that "
                    "lifts, light through a joint, sparks at scrapers. Count the joints by "
                    "their marks: none is missing from the list, none is new."
                ),
                *emptied,
            ),
            (care.MOVING,),
            hold_point="Every joint of the list was counted in one turn; one that opens in sight "
            "was reported and the belt stopped."
            + (" Belt seen empty over its length." if emptied else ""),
            running=True,
            tools=("radio", "camera"),
        )
    ]


def each_joint(job: Setting) -> list[Draft]:
    """Every joint of the round: brought to the place, locked and looked at; or, on foot, walked to
    along a belt that stays locked."""
    walked = job.work.round_way is RoundWay.FOOT
    drafts: list[Draft] = []
    gone = 0.0
    for number, joint in enumerate(sorted(job.work.round, key=lambda j: j.behind.value), 1):
        ahead = job.sheet.found(
            f"round.{number}.inch",
            f"way on to {joint.name}" if walked else f"belt to pass until {joint.name} comes",
            joint.behind.value - gone,
            Kind.DISTANCE,
            "from one joint to the next",
            [joint.behind],
            "geometry",
        )
        gone = joint.behind.value
        drafts.append(
            Draft(
                f"joint_{number}",
                "round",
                1,
                f"Joint {joint.name}",
                (
                    *(
                        (
                            sentence(
                                "Walk {ahead} on to "
                                + joint.name
                                + ", two together, on the walkway; "
                                "never over or under the belt. Every lock stays on.",
                                ahead=ahead,
                            ),
                            sentence(
                                "The belt stays under tension: nothing on it is loosened and no "
                                "pin is touched."
                            ),
                        )
                        if walked
                        else (
                            sentence(
                                "Everyone clear, warning; run {ahead} on, the last of it at "
                                "inching speed, until "
                                + joint.name
                                + " stands at the place. Stop.",
                                ahead=ahead,
                            ),
                            sentence(
                                "Lock, tag and try again, each with their own lock, before "
                                "anyone reaches in. The belt stays under tension: nothing on it "
                                "is loosened and no pin is touched."
                            ),
                        )
                    ),
                    sentence(
                        "Both ends plate by plate, from the left: bent, cracked, lost, loose; "
                        "bolts; loops; pin; belt behind the plates; edges. Write down what "
                        "was found by plate number; photograph."
                    ),
                    *(
                        ()
                        if walked
                        else (sentence("Locks off by their owners before the next is brought."),)
                    ),
                ),
                (care.STORED, care.HANDS, care.FALLING)
                if walked
                else (care.ISOLATION, care.HANDS, care.MOVING),
                (
                    Reading(
                        f"Pin at its thinnest, where it shows, {joint.name}",
                        Kind.LENGTH,
                        None,
                        None,
                        1,
                        sentence("judged when it is entered"),
                    ),
                    Reading(
                        f"Plates with something found, {joint.name}",
                        Kind.COUNT,
                        None,
                        None,
                        2,
                        sentence("leading and trailing end"),
                    ),
                ),
                hold_point="Looked at, drive locked and tried; nothing on the belt was loosened."
                if walked
                else "Looked at with the drive locked and tried; everyone is clear and every "
                "lock is off again.",
                moves=() if walked else (Move.LOCK_OUT, Move.LOCKS_OFF),
                people=2,
                tools=("locks", "radio", "gauge", "tape", "camera", "marker"),
            )
        )
    return drafts


def watch(job: Setting) -> list[Draft]:
    """Where the belt runs off: with one place of the machine, or with one piece of belt."""
    stop = job.sheet.found(
        "tracking.quarter",
        "time of a quarter turn",
        job.belt.new_length.value / job.conveyor.speed.value / QUARTERS,
        Kind.TIME,
        "length of the loop over speed, over four",
        [job.belt.new_length, job.conveyor.speed],
        "geometry",
    )
    return [
        Draft(
            "chalk",
            "clear",
            0,
            "Mark the joint and two places",
            (
                sentence(
                    "Stop the feed and run the belt empty: a lock on the drive holds no load on a "
                    "slope. If it cannot be run empty, nobody reaches in: plan it with clamps."
                    if slopes(job.conveyor)
                    else "Stop the feed and run the belt empty."
                ),
                sentence(
                    "Bring the joint to "
                    + job.work.run
                    + ", {distance} from its start, at inching speed.",
                    distance=job.work.distance,
                ),
                sentence(
                    "Belt stopped, locked and tried: chalk the joint across the belt. Choose "
                    "two fixed places on the structure beyond the guards, one on each side: a "
                    "rule there from which the belt edge is read."
                ),
                sentence("Locks off by their owners, everyone clear."),
            ),
            (care.ISOLATION, care.MOVING),
            hold_point="Joint chalked, both rules can be read from outside the guards, everyone "
            "clear and every lock off.",
            moves=(Move.LOCK_OUT, Move.LOCKS_OFF),
            people=2,
            tools=("locks", "marker", "tape"),
        ),
        Draft(
            "watch",
            "turns",
            0,
            "Read the edge over three turns",
            (
                sentence(
                    f"Empty belt, {TURNS} turns. From outside the guards read the edge at "
                    "both places when the chalk passes and every quarter turn after it, "
                    "{quarter} apart.",
                    quarter=stop,
                ),
                sentence(
                    "Off at one place of the machine whatever passes: structure (idlers, "
                    "pulley, loading, build-up). One piece of belt off wherever it goes: belt "
                    "or joint. Swing that changes sides where the joint passes: joint out of "
                    "square. A bowed belt shows over its length."
                ),
                sentence("Good when empty, bad when loaded: loading."),
                sentence("Then run it empty and stop with the chalk at the place."),
            ),
            (care.MOVING,),
            # A row of boxes for each turn: the same quarter stands below itself.
            tuple(
                Reading(
                    f"Edge at {place}, turn {turn}",
                    Kind.LENGTH,
                    None,
                    None,
                    QUARTERS,
                    sentence("each quarter, the chalk first"),
                )
                for place in ("place one", "place two")
                for turn in range(1, TURNS + 1)
            ),
            hold_point="The same quarter reads alike in all three turns, or the reason for the "
            "difference is found (load, wind, wet).",
            running=True,
            people=2,
            tools=("radio", "tape"),
        ),
    ]


def cause_of_swing(job: Setting) -> list[Draft]:
    """Belt stopped: the joint or the structure measured, and when to cut again."""
    limits = job.limits
    square = (
        sentence(
            "Joint to blame: diagonals over the joint, corners to marks {back} on each side. "
            "Cut again where they differ by more than {most}, or by more than this machine "
            "bears.",
            back=limits.back,
            most=limits.diagonals,
        )
        if limits is not None
        else sentence(
            "Joint to blame: equal lengths marked on both edges from the joint, then "
            "both diagonals. Their limit is the plan of that joint or the site's; a new "
            "cut is planned as a worn joint made anew."
        )
    )
    return [
        Draft(
            "diagnose",
            "check",
            0,
            "Measure joint or structure",
            (
                square,
                sentence(
                    "Structure to blame: string line along it, level across; idlers square to "
                    "it, pulley level and square, three to five sets before the place first. "
                    "Move several a little, never one a lot."
                ),
                sentence(
                    "Loading to blame: the chute, not the belt. Never tie, wedge or nudge a "
                    "running belt straight."
                ),
            ),
            (care.ISOLATION, care.STORED),
            (
                Reading("Diagonals over the joint", Kind.LENGTH, None, None, 2, sentence("equal")),
                Reading(
                    "Belt edge to string line, at the joint and either side",
                    Kind.LENGTH,
                    None,
                    None,
                    3,
                    sentence("straight through the joint"),
                ),
            ),
            hold_point="What is to blame is named and what will be done about it is written down.",
            people=2,
            tools=("tape", "string"),
        )
    ]


def unlock(job: Setting) -> list[Draft]:
    """Locks off again where nothing was opened."""
    del job
    return [
        Draft(
            "unlock",
            "release",
            0,
            "Everyone out, locks off",
            (
                sentence(
                    "Count people and tools, guards back, each takes off their own lock; "
                    "warning before the start. After anything was moved: watch three turns "
                    "again."
                ),
            ),
            (care.RESTART,),
            hold_point="People and tools counted, guards on, locks off by their owners.",
            moves=(Move.LOCKS_OFF,),
            people=2,
            tools=("radio",),
        )
    ]
