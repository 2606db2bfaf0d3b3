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

from splicewright.plant import Conveyor, Run, Side
from splicewright.quantities import Figure, Given, Kind, Number, Worksheet
from splicewright.tension.at_rest.held import held_tension
from splicewright.tension.at_rest.strand import (
    Pull,
    Span,
    Strand,
    Unknown,
    hanging,
    largest,
    least,
    strand_tension,
)
from splicewright.tension.at_rest.strands import Loop, end_of
from splicewright.tension.at_rest.take_up import Holding

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
    if abs(run.rise.value) > np.sin(LEVEL) * run.length.value:
        return "downhill" if behind == (run.rise.value > 0) else "uphill"
    return "tail side" if behind == (run.side is Side.CARRY) else "head side"


@dataclass(frozen=True, slots=True)
class Between:
    """Least and largest of a force over everything that is not known [N]."""

    least: Figure
    largest: Figure


@dataclass(frozen=True, slots=True)
class StrandForces:
    """The strand on one side of an open place of work [N].

    way, name: which side, as crews say it; hold: what must hold it, the take-up released; acting:
    the same with the take-up pulling on it; let_go: the same when the drives hold nothing and all
    slack is used up; free: whether no driven pulley lies between it and the take-up.
    """

    way: Way
    name: str
    hold: Between
    acting: Figure
    let_go: Figure
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


@dataclass(frozen=True, slots=True)
class Rest:
    """A stopped conveyor: its loop, what is not known of it, what its take-up holds."""

    conveyor: Conveyor
    loop: Loop
    unknown: Unknown
    load_left: Given
    holds: Holding


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
    hung = hangs_on_take_up(rest, sheet)
    ways = tuple(_way(rest, run, along.value, reach, way) for way in (Way.BEHIND, Way.AHEAD))
    ends = [_whole(rest, way, hung, sheet) for way in ways]
    most = sheet.smallest("at_rest.released", "belt tension at the place, take-up released, at most",
                          [acting.largest, *(e.largest for e in ends)])  # fmt: skip
    fewest = sheet.largest("at_rest.released.bound", "the same, least, from either side",
                           [e.least for e in ends])  # fmt: skip
    released = Between(
        sheet.smallest("at_rest.released.least", "belt tension at the place, take-up released, least",
                       [most, fewest]),
        most,
    )  # fmt: skip
    draw = _draw(rest, ways, ends, sheet)
    sides = tuple(
        _side(rest, side_name(run, way.way), way, end, acting.largest, hung, sheet)
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


def hangs_on_take_up(rest: Rest, sheet: Worksheet) -> Figure:
    """Tension that stays at a released take-up where belt runs down from it to a lower place [N].

    Slack appears at the take-up; where the loop falls away from it, it runs down to the lowest
    point and the belt hangs on the take-up.
    """
    whole = rest.loop.whole
    return sheet.largest(
        "at_rest.hung", "belt that hangs on the released take-up, at most",
        [_written(f"at_rest.hung.{name}", f"belt that hangs on the take-up {name}",
                  hanging(way, rest.unknown), None, rest, sheet)
         for name, way in (("behind", whole.turned()), ("ahead", whole))],
    )  # fmt: skip


def acting_at(
    rest: Rest, run: Run, along: Number, key: str, sheet: Worksheet, where: str = "the place"
) -> Between:
    """Belt tension at a place of the whole stopped belt, the take-up acting [N].

    Parameters
    ----------
    rest : the stopped conveyor
    run, along : where, on a run, so far along it [m]
    key : of the figures
    sheet : takes the lines
    where : the place in words
    """
    holds, unknown = rest.holds, rest.unknown
    label = f"belt tension at {where}, take-up acting"
    if holds.fixed:
        ring = rest.loop.round_from(run.name, along)
        parts = [holds.largest, holds.drum, *_inputs(rest, "high")]
        text = (
            "mean of the loop kept from when it was set; {} from there both ways as steeply as "
            "friction, slope and held drums allow"
        )
        low, high = (
            held_tension(ring, unknown, holding.value, holds.drum.value, largest=most)
            for holding, most in ((holds.least, False), (holds.largest, True))
        )
        return Between(
            sheet.found(f"{key}.least", f"{label}, least", _float(low), Kind.FORCE,
                        text.format("rising"), parts, "elastic"),
            sheet.found(key, f"{label}, at most", _float(high), Kind.FORCE,
                        text.format("falling"), parts, "elastic"),
        )  # fmt: skip
    ways = {"behind": rest.loop.behind(run.name, along), "ahead": rest.loop.ahead(run.name, along)}
    most = [
        _written(f"{key}.{name}", f"{label}, from {name}",
                 largest(strand, unknown, holds.largest.value), holds.largest, rest, sheet)
        for name, strand in ways.items()
    ]  # fmt: skip
    fewest = [
        _written(f"{key}.{name}.least", f"{label}, from {name}, least",
                 least(strand, unknown, holds.least.value), holds.least, rest, sheet)
        for name, strand in ways.items()
    ]  # fmt: skip
    return Between(
        sheet.largest(f"{key}.least", f"{label}, least", fewest),
        sheet.smallest(key, f"{label}, at most", most),
    )


def released_at(
    rest: Rest, run: Run, along: Number, key: str, hung: Figure, sheet: Worksheet, where: str
) -> Figure:
    """Largest belt tension at a place of the whole belt, the take-up released [N]."""
    label = f"belt tension at {where}, take-up released"
    ways = {"behind": rest.loop.behind(run.name, along), "ahead": rest.loop.ahead(run.name, along)}
    return sheet.smallest(
        key, f"{label}, at most",
        [_written(f"{key}.{name}", f"{label}, from {name}",
                  largest(strand, rest.unknown, hung.value), hung, rest, sheet)
         for name, strand in ways.items()],
    )  # fmt: skip


def _whole(rest: Rest, way: _Way, hung: Figure, sheet: Worksheet) -> Between:
    """Both ends of what one way allows at the place of the whole belt, the take-up released."""
    key, label = f"at_rest.released.{way.way.value}", "belt tension at the place, take-up released"
    return Between(
        _written(f"{key}.least", f"{label}, from {way.way.value}, least",
                 least(way.rounds[0], rest.unknown, 0.0), None, rest, sheet),
        _written(key, f"{label}, from {way.way.value}, at most",
                 largest(way.strands[0], rest.unknown, hung.value), hung, rest, sheet),
    )  # fmt: skip


def _draw(rest: Rest, ways: Sequence[_Way], ends: Sequence[Between], sheet: Worksheet) -> Between:
    """Force to draw slack to the place.

    The strand without a driven pulley is drawn from the take-up, all of it with what lies on it,
    and on either side what hangs on the place this side of any drive. Where driven pulleys lie on
    both ways one of them must be slipped over: the easier gives way first.
    """
    easy = replace(
        rest.unknown, belt=Span(rest.unknown.belt.low, rest.unknown.belt.low), metres=0.0,
        friction=Span(rest.unknown.friction.low, rest.unknown.friction.low),
    )  # fmt: skip
    lightest = [
        _written(f"at_rest.draw.{w.way.value}.least", f"force to draw the strand {w.way.value}, least",
                 largest(w.strands[0], easy, 0.0, held=False), None, rest, sheet, "low")
        for w in ways
    ]  # fmt: skip
    free = [e.largest for w, e in zip(ways, ends, strict=True) if w.strands[0].free]
    past = sheet.smallest("at_rest.draw.past", "force to draw a strand past a held drive",
                          [e.largest for e in ends])  # fmt: skip
    hung = [
        _written(f"at_rest.draw.{w.way.value}.hung", f"what hangs on the place {w.way.value}, drawn",
                 hanging(w.rounds[0].behind_drives(), rest.unknown), None, rest, sheet)
        for w in ways
    ]  # fmt: skip
    label = "force to draw slack to the place of work"
    return Between(
        sheet.smallest("at_rest.draw.least", f"{label}, least", lightest),
        sheet.largest("at_rest.draw", f"{label}, at most", [*(free or [past]), *hung]),
    )


def _side(
    rest: Rest, name: str, way: _Way, end: Between, acting: Figure, hung: Figure, sheet: Worksheet
) -> StrandForces:
    """The strand on one side, taken at the place or at the clamp, whichever pulls more."""
    unknown, top = rest.unknown, rest.holds.largest
    key, label = f"at_rest.strand_{way.way.value}", f"pull of the strand {name}"

    def most(key: str, label: str, pulls: Sequence[Pull], start: Figure | None) -> Figure:
        first = np.all(np.asarray(pulls[0].tension) >= np.asarray(pulls[1].tension))
        where = "at the place" if first else "at its clamp"
        return _written(key, f"{label}, {where}", pulls[0 if first else 1], start, rest, sheet)

    let_go = most(f"{key}.let_go", f"{label}, drives holding nothing, slack used up",
                  [hanging(r, unknown) for r in way.rounds], None)  # fmt: skip
    turning = most(f"{key}.turning", f"{label}, take-up released, drives turning",
                   [largest(s, unknown, hung.value, held=False) for s in way.strands], hung)  # fmt: skip
    kept = sheet.smallest(f"{key}.kept", f"{label}, kept by a held drive",
                          [end.largest, acting])  # fmt: skip
    hold = Between(
        _written(f"{key}.least", f"{label}, least", least(way.rounds[0], unknown, 0.0), None, rest,
                 sheet),
        sheet.largest(f"{key}.hold", f"{label}, take-up released, at most", [let_go, turning, kept]),
    )  # fmt: skip
    pulled = hold.largest
    if not rest.holds.fixed:
        back = most(f"{key}.pulled", f"{label}, take-up pulling on it",
                    [largest(s, unknown, top.value, held=False) for s in way.strands], top)  # fmt: skip
        pulled = sheet.largest(f"{key}.acting", f"{label}, take-up pulling on it, at most",
                               [back, hold.largest])  # fmt: skip
    return StrandForces(way.way, name, hold, pulled, let_go, way.strands[0].free)


def _written(
    key: str, label: str, pull: Pull, start: Figure | None, rest: Rest, sheet: Worksheet,
    friction_end: str = "high",
) -> Figure:  # fmt: skip
    """Write a bound with what it is made of."""
    belt = rest.conveyor.belt.line_mass
    low = np.ndim(pull.belt) == 0 and pull.belt == Span.of(belt).low
    inputs = _inputs(rest, friction_end)
    return sheet.work(
        key, label, strand_tension,
        ratio=pull.ratio,
        start=start if start is not None and np.any(pull.start) else pull.start,
        belt=end_of(belt, "low" if low else "high"),
        climb=sheet.found(f"{key}.climb", "height the belt gains on the way", _float(pull.climb),
                          Kind.DISTANCE, "from where the belt is counted from", []),
        load=end_of(rest.conveyor.material.line_mass, "high"),
        load_climb=sheet.found(f"{key}.load_climb", "height over which full load pulls",
                               _float(pull.load_climb), Kind.DISTANCE,
                               "load left lying where it adds most", [rest.load_left]),
        friction=sheet.found(f"{key}.friction", "friction on the way, signed",
                             _float(pull.friction), Kind.FORCE,
                             "g f (q_R l + (q_B + x q_G) a), summed over the way", inputs),
    )  # fmt: skip


def _inputs(rest: Rest, end: str) -> list[Figure]:
    conveyor = rest.conveyor
    return [
        end_of(conveyor.method.standing_friction, end), end_of(conveyor.belt.line_mass, "high"),
        end_of(conveyor.material.line_mass, "high"), rest.load_left,
    ]  # fmt: skip


def _float(value: Number) -> float:
    return value  # type: ignore[return-value]  # arrays of many variants go the same way
