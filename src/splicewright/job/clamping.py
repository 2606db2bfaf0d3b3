"""Where the clamps stand: restraining and pulling clamps, what each carries, what is free.

The places are a proposal from named assumptions about room to work; the crew moves them to what
the structure offers, never nearer to a pulley, a transition or the cut.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from splicewright.loop import Path
from splicewright.plant import Conveyor, JobKind, Pulley, Reason, Role, Run, Side, Work
from splicewright.plant import assumptions as assume
from splicewright.plant.filling.origin import assuming
from splicewright.quantities import (
    Figure,
    Given,
    Kind,
    Number,
    Sentence,
    System,
    Worksheet,
    assumed,
    formula,
    sentence,
)
from splicewright.tension import AtRest
from splicewright.tension.across.load_section import middle_roll
from splicewright.tension.across.transition import LEAST_LENGTH_FACTOR, least_transition
from splicewright.tension.across.width import trough_depth
from splicewright.tension.at_rest import Way


@dataclass(frozen=True, slots=True)
class ClampPlace:
    """One clamp: on which run and how far along it and along the loop [m], force and rating [N].

    behind: it stands behind the place of work, seen with the travel; side: as crews call that
    side; restraining: it holds the belt, else it pulls; beyond: belt from it to the next pulley
    [m], called `end`; stage: in which its force is largest.
    """

    restraining: bool
    behind: bool
    side: str
    run: str
    along: Figure
    station: Figure
    beyond: Figure
    end: str
    force: Figure
    rating: Figure
    stage: str

    @property
    def key(self) -> str:
        """The key of its forces in the stages of the belt at rest."""
        return f"clamp_{'behind' if self.behind else 'ahead'}" if self.restraining else "hoists"

    @property
    def name(self) -> str:
        """Which clamp it is, as printed."""
        kind = "restraining" if self.restraining else "pulling"
        return f"{kind} clamp {self.side}"

    def stands(self, system: System = "metric") -> str:
        """Where it stands, in words."""
        if self.beyond.value < 0:
            return f"past {self.end}: does not fit"
        return f"{self.along.show(system)} along {self.run}"

    def goes_on(self, system: System = "metric") -> str:
        """How much belt goes on beyond it, in words."""
        return "none" if self.beyond.value < 0 else f"{self.beyond.show(system)} to {self.end}"


@dataclass(frozen=True, slots=True)
class Clamping:
    """All clamps in the order of travel, and the belt between the restraining ones.

    restraining, pulling: distance of each from the place of work [m]; free: between the
    restraining clamps [m]; idlers: sets between them; fits: all stand clear of what lies at the
    run's ends.
    """

    run: str
    places: tuple[ClampPlace, ...]
    restraining: Figure
    pulling: Figure
    free: Figure
    idlers: Figure
    fits: bool
    remarks: tuple[Sentence, ...]


@formula(
    "p = (c + a)/2 + r",
    gives=("p", Kind.DISTANCE),
    symbols={"cut_out": "c", "span": "a", "room": "r"},
    source="geometry",
    limits="place of work in the middle of what is cut out",
)
def pulling_distance(cut_out: Number, span: Number, room: Number) -> Number:
    """Distance of a pulling clamp from the place of work.

    Parameters
    ----------
    cut_out : belt that comes out [m]
    span : of the joint, cut line to cut line [m]
    room : to work at one belt end [m]

    Returns
    -------
    float or array [m]
    """
    return (cut_out + span) / 2 + room


@formula(
    "d = p + x + e",
    gives=("d", Kind.DISTANCE),
    symbols={"pulling": "p", "travel": "x", "gap": "e"},
    source="geometry",
    limits="all hoist travel on one side, whichever it is",
)
def restraining_distance(pulling: Number, travel: Number, gap: Number) -> Number:
    """Distance of a restraining clamp from the place of work.

    Parameters
    ----------
    pulling : distance of the pulling clamp, ends together [m]
    travel : of the hoists [m]
    gap : between the two clamps before the pull [m]

    Returns
    -------
    float or array [m]
    """
    return pulling + travel + gap


@formula(
    "n = ⌊F/a⌋",
    gives=("n", Kind.COUNT),
    symbols={"free": "F", "spacing": "a"},
    source="geometry",
    limits="at least; one more where they fall so",
)
def idlers_between(free: Number, spacing: Number) -> Number:
    """Idler sets on a length of belt [-], from the length and their spacing [m]."""
    return np.floor(free / spacing)


def clamping(
    conveyor: Conveyor, work: Work, path: Path, stopped: AtRest, span: Figure, sheet: Worksheet
) -> Clamping:
    """Place the clamps of a job and say what each carries.

    Parameters
    ----------
    span : of the joint, cut line to cut line [m]
    """
    run = next(r for r in conveyor.runs() if r.name == work.run)
    cut_out: Figure = work.cut_out
    if work.reason is Reason.NEW_BELT:
        cut_out = assuming("clamp.cut_out", "belt cut out at the place", assume.NOTHING_CUT)
    # A belt that stays whole is not drawn: its clamps stand clear of the damage, and none pulls.
    opened = work.job is not JobKind.ALONG
    if not opened and work.damage_length is not None:
        cut_out = work.damage_length
    pulling = sheet.work(
        "clamp.pulling",
        f"{'pulling' if opened else 'restraining'} clamps from the place of work",
        pulling_distance,
        cut_out=cut_out,
        span=span,
        room=assuming("clamp.room", "room at each belt end", assume.CLAMP_ROOM),
    )
    restraining = (
        sheet.work(
            "clamp.restraining",
            "restraining clamps from the place of work",
            restraining_distance,
            pulling=pulling,
            travel=stopped.movement.hoists,
            gap=assuming("clamp.gap", "pulling to restraining clamp", assume.CLAMP_GAP),
        )
        if opened
        else pulling
    )
    free = sheet.total(
        "clamp.free", "belt between the restraining clamps", [restraining, restraining]
    )
    idlers = sheet.work(
        "clamp.idlers",
        "idler sets between the restraining clamps",
        idlers_between,
        free=free,
        spacing=run.idlers.spacing,
    )
    ways = {
        behind: _reach(conveyor, work, run, -1 if behind else 1, sheet) for behind in (True, False)
    }
    places = tuple(
        _place(
            holds,
            behind,
            restraining if holds else pulling,
            ways[behind],
            (conveyor, work, path, stopped),
            sheet,
        )
        for behind, holds in _ORDER
        if holds or opened
    )
    clears = (
        _clear(conveyor, ways[True], True, sheet),
        _clear(conveyor, ways[False], False, sheet),
    )
    remarks = _fit(run, work, restraining, (places[0], places[-1]), clears)
    advice = (
        sentence(
            "Distances are a proposal for room to work; the anchors decide. Never nearer to "
            "a pulley, a transition or the " + ("cut." if opened else "damage.")
        ),
        sentence(
            "Idler sets between the restraining clamps, {idlers} or more: lower or take them out; "
            "no clamp stands on an idler.",
            idlers=idlers,
        ),
    )
    return Clamping(
        run.name, places, restraining, pulling, free, idlers, not remarks, (*remarks, *advice)
    )


_ORDER = ((True, True), (True, False), (False, False), (False, True))
"""The clamps in the order of travel: behind the place of work or ahead, holding or pulling."""


@dataclass(frozen=True, slots=True)
class _Reach:
    """Belt from the place of work to the next pulley one way: runs from there on, the pulley."""

    runs: tuple[Run, ...]
    pulley: Pulley
    length: Figure


def _reach(conveyor: Conveyor, work: Work, run: Run, step: int, sheet: Worksheet) -> _Reach:
    loop = conveyor.loop
    at = next(n for n, e in enumerate(loop) if e.name == run.name)
    runs, index = [run], at
    while True:
        index = (index + step) % len(loop)
        element = loop[index]
        if isinstance(element, Pulley):
            break
        runs.append(element)
    own = work.distance.value if step < 0 else run.length.value - work.distance.value
    length = sheet.found(
        f"clamp.reach_{_side(step < 0)}",
        f"belt from the place of work to {element.name}",
        own + sum(r.length.value for r in runs[1:]),
        Kind.DISTANCE,
        "rest of the run of the place, and runs up to the pulley",
        [work.distance, *(r.length for r in runs)],
        "geometry",
    )
    return _Reach(tuple(runs), element, length)


def _side(behind: bool) -> str:
    return "behind" if behind else "ahead"


def _place(
    restraining: bool,
    behind: bool,
    away: Figure,
    reach: _Reach,
    job: tuple[Conveyor, Work, Path, AtRest],
    sheet: Worksheet,
) -> ClampPlace:
    _, work, path, stopped = job
    run = reach.runs[0]
    kind, side = "restraining" if restraining else "pulling", _side(behind)
    key = f"clamp.{kind}_{side}"
    way_name = Way.BEHIND if behind else Way.AHEAD
    side_name = next(s.name for s in stopped.bounds.sides if s.way is way_name)
    label = f"{kind} clamp {side_name}"
    thing = f"clamp_{side}" if restraining else "hoists"
    offset = -away.value if behind else away.value
    station = sheet.found(
        f"{key}.station",
        f"{label}, along the loop",
        path.at(run.name).start + work.distance.value + offset,
        Kind.DISTANCE,
        f"place of work {'less' if behind else 'and'} its distance",
        [work.distance, away],
        "geometry",
    )
    # The run it stands on; past the pulley it stays counted from the last one before it.
    here, along = run, work.distance.value + offset
    for onward in reach.runs[1:]:
        if 0 <= along <= here.length.value:
            break
        along = along + onward.length.value if behind else along - here.length.value
        here = onward
    stands = sheet.found(
        f"{key}.along",
        f"{label}, along {here.name}",
        along,
        Kind.DISTANCE,
        "from the start of that run",
        [station],
        "geometry",
    )
    beyond = sheet.found(
        f"{key}.beyond",
        f"belt from the {label} to {reach.pulley.name}",
        reach.length.value - away.value,
        Kind.DISTANCE,
        "what is left of the way to the pulley",
        [reach.length, away],
        "geometry",
    )
    pulls = ((s.force(thing), s.name) for s in stopped.stages)
    forces = [(f.largest, name) for f, name in pulls if f is not None]
    force = sheet.largest(
        f"{key}.force",
        f"largest force on the {label}, all stages",
        list({f.key: f for f, _ in forces}.values()),
    )
    return ClampPlace(
        restraining,
        behind,
        side_name,
        here.name,
        stands,
        station,
        beyond,
        reach.pulley.name,
        force,
        stopped.ratings.clamps if restraining else stopped.ratings.hoists,
        max(forces, key=lambda pair: pair[0].value)[1],
    )


def _clear(conveyor: Conveyor, reach: _Reach, behind: bool, sheet: Worksheet) -> Figure:
    """What must stay free before the pulley: room, and its transition on the carry side [m]."""
    pulley, run = reach.pulley, reach.runs[-1]
    parts: list[Figure] = [assuming("clamp.clear", "clear of a pulley", assume.CLAMP_CLEAR)]
    if run.side is Side.CARRY and pulley.role in {Role.HEAD, Role.TAIL}:
        parts.append(pulley.transition or _transition(conveyor, run, pulley))
    return sheet.total(
        f"clamp.clear_{_side(behind)}",
        f"to be left free before {pulley.name}",
        [sheet.note(p) for p in parts],
    )


def _transition(conveyor: Conveyor, run: Run, pulley: Pulley) -> Given:
    belt = conveyor.belt
    depth = trough_depth(
        belt.width.value, middle_roll(run, belt.width).value, run.idlers.trough.value
    )
    length = float(least_transition(LEAST_LENGTH_FACTOR[belt.carcass.textile], depth))
    return assumed(
        "clamp.transition",
        f"transition at {pulley.name}",
        length,
        Kind.DISTANCE,
        "not stated: 8.5 (steel cord 14) times the height of the edges",
        (length, 2 * length),
    )


def _fit(
    run: Run,
    work: Work,
    away: Figure,
    ends: tuple[ClampPlace, ClampPlace],
    clears: tuple[Figure, Figure],
) -> tuple[Sentence, ...]:
    """What does not fit, and where it would; empty when every clamp stands clear."""
    remarks = []
    for place, clear in zip(ends, clears, strict=True):
        if place.beyond.value >= clear.value - 1e-9:
            continue
        where = "{beyond} before" if place.beyond.value >= 0 else "{beyond} beyond"
        remarks.append(
            sentence(
                f"The {place.name} would stand {where} {place.end}: {{clear}} must be free before "
                "it.",
                beyond=(abs(place.beyond.value), Kind.DISTANCE),
                clear=clear,
            )
        )
    if not remarks:
        return ()
    need = away.value + np.array([c.value for c in clears])
    reach = np.array([p.beyond.value + away.value for p in ends])
    if np.sum(need) <= np.sum(reach):
        # Move by what is short on one side; the other has room for it.
        first = work.distance.value - (reach[0] - need[0])
        last = work.distance.value + (reach[1] - need[1])
        remarks.append(
            sentence(
                f"Move the place of work to between {{first}} and {{last}} along {run.name}.",
                first=(max(float(first), 0.0), Kind.DISTANCE),
                last=(min(float(last), run.length.value), Kind.DISTANCE),
            )
            if max(first, 0.0) <= min(last, run.length.value)
            else sentence(f"Clamps on both sides fit on a run beside {run.name}: work there.")
        )
    else:
        remarks.append(
            sentence(
                f"{ends[0].end} and {ends[1].end} stand too near to each other for clamps on "
                "both sides, {needed} wanted between them: work on a longer run, or have a "
                "competent person set the clamps.",
                needed=(float(np.sum(need)), Kind.DISTANCE),
            )
        )
    return tuple(remarks)
