"""Bounds of what the stopped belt pulls at a place of work, and what holds it on either side.

Everything a crew meets follows from a few bounds: the tension with the take-up acting and with it
released, the pull of the strand on either side of an open place, and the same with one thing less
to hold it. Each is written on the worksheet with the inputs it was taken at.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from splicewright.plant import Run, Side
from splicewright.quantities import Figure, Kind, Number, Worksheet
from splicewright.tension.at_rest.rest import Between, Rest, acting_at, acting_most, written
from splicewright.tension.at_rest.strand import Pull, Span, Strand, hanging, largest, more, profile

if TYPE_CHECKING:
    from collections.abc import Sequence

LEVEL = np.radians(0.5)
"""Below this slope crews say head side and tail side, above it uphill and downhill [rad]."""


class Way(StrEnum):
    """The two sides of a place of work, seen with the travel of the belt."""

    BEHIND = "behind"
    AHEAD = "ahead"


def side_name(run: Run, way: Way) -> str:
    """What a crew calls one side of a place on a run: by the slope, or by head and tail."""
    behind = way is Way.BEHIND
    if np.ndim(run.rise.value):  # many conveyors at once: each would be called by its own slope
        return way.value
    if abs(run.rise.value) > np.sin(LEVEL) * run.length.value:
        return "downhill" if behind == (run.rise.value > 0) else "uphill"
    return "tail side" if behind == (run.side is Side.CARRY) else "head side"


@dataclass(frozen=True, slots=True)
class StrandForces:
    """The strand on one side of an open place of work [N].

    way, name: which side, as crews say it; hold: what must hold it, the take-up released; acting:
    the same with the take-up pulling on it; let_go: the same when the drives hold nothing and all
    slack is used up; sudden: what pulls when its end is let go at a stroke; free: whether no driven
    pulley lies between it and the take-up.
    """

    way: Way
    name: str
    hold: Between
    acting: Figure
    let_go: Figure
    sudden: Figure
    free: bool


@dataclass(frozen=True, slots=True)
class Bounds:
    """What pulls at a place of work [N].

    acting, released: belt tension there with the take-up acting and released; draw: force of the
    hoists to draw slack to the place; sides: the strand behind and the strand ahead.
    """

    acting: Between
    released: Between
    draw: Between
    sides: tuple[StrandForces, StrandForces]


def bounds_at(rest: Rest, run: Run, along: Figure, reach: Number, sheet: Worksheet) -> Bounds:
    """The bounds at one place of work.

    Parameters
    ----------
    rest : the stopped conveyor
    run, along : where the place is: on a run, so far along it
    reach : farthest a clamp stands from the place [m]; what hangs on it is taken where it is most
    sheet : takes every line
    """
    acting = acting_at(rest, run, along.value, "at_rest.acting", sheet)
    ways = tuple(_way(rest, run, along.value, reach, way) for way in (Way.BEHIND, Way.AHEAD))
    ends = [
        _end(rest, way, other, sheet) for way, other in ((ways[0], ways[1]), (ways[1], ways[0]))
    ]
    released = _released(ends, sheet)
    draw = _draw(rest, ways, ends, sheet)
    sides = tuple(
        _side(rest, side_name(run, way.way), way, end, acting.largest, sheet)
        for way, end in zip(ways, ends, strict=True)
    )
    return Bounds(acting, released, draw, (sides[0], sides[1]))


@dataclass(frozen=True, slots=True)
class _Way:
    """One way to the place: from the take-up, and the whole loop round; each also to the clamp."""

    way: Way
    strands: tuple[Strand, Strand]
    rounds: tuple[Strand, Strand]


def _way(rest: Rest, run: Run, along: Number, reach: Number, way: Way) -> _Way:
    loop, behind = rest.loop, way is Way.BEHIND
    away = along - np.asarray(reach) if behind else along + np.asarray(reach)
    places = along, np.clip(away, 0.0, run.length.value)
    one_way = loop.behind if behind else loop.ahead
    strands = [one_way(run.name, p) for p in places]
    rounds = [loop.round_from(run.name, p) for p in places]
    rounds = rounds if behind else [r.turned() for r in rounds]
    return _Way(way, (strands[0], strands[1]), (rounds[0], rounds[1]))


@dataclass(frozen=True, slots=True)
class _End:
    """What one way allows at the place of the whole belt, the take-up released [N].

    on_take_up: what hangs on the take-up from the other way; drawn: at the place, at most, with
    that at the take-up; hung: by the weight of belt that has run down to a lower place of this way.
    """

    on_take_up: Figure
    drawn: Figure
    hung: Figure


def _end(rest: Rest, way: _Way, other: _Way, sheet: Worksheet) -> _End:
    key, label = f"at_rest.released.{way.way.value}", "belt tension at the place, take-up released"
    hangs = written(
        f"{key}.take_up",
        f"belt that hangs on the released take-up from {other.way.value} the place",
        hanging(other.strands[0].turned(), rest.unknown),
        None,
        rest,
        sheet,
    )
    return _End(
        hangs,
        written(
            key,
            f"{label}, from {way.way.value}",
            largest(way.strands[0], rest.unknown, hangs.value),
            hangs,
            rest,
            sheet,
        ),
        written(
            f"{key}.hung",
            f"belt that hangs on the place {way.way.value}",
            hanging(way.strands[0], rest.unknown),
            None,
            rest,
            sheet,
        ),
    )


def _released(ends: Sequence[_End], sheet: Worksheet) -> Between:
    """Belt tension at the place with the take-up released.

    Slack appears at the take-up, or runs down from it to a lower place on one of the ways: both
    ways then bound the tension. Where it runs down through the place, no more stays than hangs on
    it. It may be nothing: slack belt on a slope can lean on what lies below it.
    """
    key, label = "at_rest.released", "belt tension at the place, take-up released"
    both = sheet.smallest(
        f"{key}.both", f"{label}, slack on the way of the take-up", [e.drawn for e in ends]
    )
    most = sheet.largest(key, f"{label}", [both, *(e.hung for e in ends)])
    return Between(sheet.total(f"{key}.least", f"{label}, least: slack", [], Kind.FORCE), most)


def _draw(rest: Rest, ways: Sequence[_Way], ends: Sequence[_End], sheet: Worksheet) -> Between:
    """Force to draw slack to the place.

    The strand without a driven pulley is drawn from the take-up, all of it with what lies on it,
    and on either side what hangs on the place this side of any drive. Where driven pulleys lie on
    both ways one of them must be slipped over: the easier gives way first.
    """
    easy = replace(
        rest.unknown,
        belt=Span(rest.unknown.belt.low, rest.unknown.belt.low),
        metres=0.0,
        friction=Span(rest.unknown.friction.low, rest.unknown.friction.low),
    )
    lightest = [
        written(
            f"at_rest.draw.{w.way.value}.least",
            f"force to draw the strand {w.way.value}, least",
            largest(w.strands[0], easy, 0.0, held=False),
            None,
            rest,
            sheet,
            "low",
        )
        for w in ways
    ]
    free = [e.drawn for w, e in zip(ways, ends, strict=True) if w.strands[0].free]
    past = sheet.smallest(
        "at_rest.draw.past", "force to draw a strand past a held drive", [e.drawn for e in ends]
    )
    hung = [
        written(
            f"at_rest.draw.{w.way.value}.hung",
            f"what hangs on the place {w.way.value}, drawn",
            hanging(w.rounds[0].behind_drives(), rest.unknown),
            None,
            rest,
            sheet,
        )
        for w in ways
    ]
    label = "force to draw slack to the place of work"
    return Between(
        sheet.smallest("at_rest.draw.least", f"{label}, least", lightest),
        sheet.largest("at_rest.draw", f"{label}", [*(free or [past]), *hung]),
    )


def _side(
    rest: Rest, name: str, way: _Way, end: _End, acting: Figure, sheet: Worksheet
) -> StrandForces:
    """The strand on one side, taken at the place or at the clamp, whichever pulls more."""
    unknown, top = rest.unknown, rest.holds.largest
    key, label = f"at_rest.strand_{way.way.value}", f"pull of the strand {name}"

    def most(key: str, label: str, pulls: Sequence[Pull], start: Figure | None) -> Figure:
        pull = more(pulls[0], pulls[1])
        where = "at the place" if pull is pulls[0] else "at its clamp"
        return written(key, f"{label}, {where}", pull, start, rest, sheet)

    let_go = most(
        f"{key}.let_go",
        f"{label}, drives holding nothing, slack used up",
        [hanging(r, unknown) for r in way.rounds],
        None,
    )
    turning = most(
        f"{key}.turning",
        f"{label}, take-up released, drives turning",
        [largest(s, unknown, end.on_take_up.value, held=False) for s in way.strands],
        end.on_take_up,
    )
    kept = sheet.smallest(f"{key}.kept", f"{label}, kept by a held drive", [end.drawn, acting])
    hold = Between(
        sheet.total(f"{key}.least", f"{label}, least: slack belt may lean below", [], Kind.FORCE),
        sheet.largest(f"{key}.hold", f"{label}, take-up released", [let_go, turning, kept]),
    )
    pulled = hold.largest
    if not rest.holds.fixed:
        back = most(
            f"{key}.pulled",
            f"{label}, take-up pulling on it",
            [largest(s, unknown, top.value, held=False) for s in way.strands],
            top,
        )
        pulled = sheet.largest(
            f"{key}.acting", f"{label}, take-up pulling on it", [back, hold.largest]
        )
    sudden = _sudden(rest, way, name, hold.largest, sheet)
    return StrandForces(way.way, name, hold, pulled, let_go, sudden, way.strands[0].free)


def _sudden(rest: Rest, way: _Way, name: str, hold: Figure, sheet: Worksheet) -> Figure:
    """Pull of a strand whose end is let go at a stroke.

    A held drum grips only as far as the belt on its near side pulls: when that goes slack the
    tight belt beyond the drum comes through, be it on the far side of a slacked take-up. It may
    have kept there what stood when the belt stopped, as far as the drum could hold it against what
    the clamp held.
    """
    out = way.rounds[0].turned()
    most = profile(out, rest.unknown, hold.value).leaving
    label = f"pull of the strand {name}, let go at a stroke"
    key = f"at_rest.strand_{way.way.value}.sudden"
    runs = {run.name: run for run in rest.conveyor.runs()}
    beyond: list[Figure] = []
    for n, driven in enumerate(out.driven):
        far = out.names[n + 1] if n + 1 < len(out.names) else None
        if not driven or far not in runs or np.all(most[..., n] <= hold.value):
            continue
        run, end = runs[far], way.way is Way.BEHIND
        there = f"{key}.{len(beyond)}"
        place, where = run.length.value if end else 0.0, f"the far side of {out.names[n]}"
        stood = acting_most(rest, run, place, there, sheet, where)
        gripped = sheet.found(
            f"{there}.gripped",
            f"tension that {out.names[n]} can hold on its far side against the clamp",
            most[..., n],
            Kind.FORCE,
            "from what the clamp holds, outwards with friction, weight and the grip of the drum",
            [hold],
            "eytelwein",
        )
        beyond.append(
            sheet.smallest(f"{there}.kept", f"tension kept beyond {out.names[n]}", [stood, gripped])
        )
    return sheet.largest(key, label, [*beyond, hold])
