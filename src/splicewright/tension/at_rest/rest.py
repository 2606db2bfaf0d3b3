"""A stopped conveyor, and the tension its whole belt can have at any place.

Every bound is written on the worksheet with the inputs it was taken at (`written`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from splicewright.plant import Conveyor, Run
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


@dataclass(frozen=True, slots=True)
class Between:
    """Least and largest of a force over everything that is not known [N]."""

    least: Figure
    largest: Figure


@dataclass(frozen=True, slots=True)
class Rest:
    """A stopped conveyor: its loop, what is not known of it, what its take-up holds."""

    conveyor: Conveyor
    loop: Loop
    unknown: Unknown
    load_left: Given
    holds: Holding


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
    label = f"belt tension at {where}, take-up acting"
    most = acting_most(rest, run, along, key, sheet, where)
    if rest.holds.fixed:
        return Between(_held_at(rest, run, along, key, label, sheet, largest=False), most)
    fewest = [
        sheet.found(
            f"{key}.{name}.least",
            f"{label}, from {name}, least",
            least(strand, rest.unknown, rest.holds.least.value),
            Kind.FORCE,
            "take-up, less friction and pulleys on the way, belt and load as they take most; "
            "nothing where the belt may go slack",
            [rest.holds.least, *_inputs(rest, "high")],
            "statics",
        )
        for name, strand in _ways(rest, run, along)
    ]
    return Between(sheet.largest(f"{key}.least", f"{label}, least", fewest), most)


def acting_most(
    rest: Rest, run: Run, along: Number, key: str, sheet: Worksheet, where: str
) -> Figure:
    """The largest of `acting_at` by itself [N]."""
    label = f"belt tension at {where}, take-up acting"
    holds = rest.holds
    if holds.fixed:
        return _held_at(rest, run, along, key, label, sheet, largest=True)
    most = [
        written(
            f"{key}.{name}",
            f"{label}, from {name}",
            largest(strand, rest.unknown, holds.largest.value),
            holds.largest,
            rest,
            sheet,
        )
        for name, strand in _ways(rest, run, along)
    ]
    return sheet.smallest(key, f"{label}", most)


def _ways(rest: Rest, run: Run, along: Number) -> tuple[tuple[str, Strand], ...]:
    return (
        ("behind", rest.loop.behind(run.name, along)),
        ("ahead", rest.loop.ahead(run.name, along)),
    )


def _held_at(
    rest: Rest, run: Run, along: Number, key: str, label: str, sheet: Worksheet, *, largest: bool
) -> Figure:
    holds = rest.holds
    mean = holds.largest if largest else holds.least
    text = (
        "mean of the loop kept from when it was set; {} from there both ways as steeply as "
        "friction, slope and held drums allow"
    ).format("falling" if largest else "rising")
    if largest:
        text += "; or, if more, risen so far from where the belt may lie slack"
    return sheet.found(
        key if largest else f"{key}.least",
        label if largest else f"{label}, least",
        held_tension(
            rest.loop.round_from(run.name, along),
            rest.unknown,
            mean.value,
            holds.drum.value,
            largest=largest,
        ),
        Kind.FORCE,
        text,
        [mean, holds.drum, *_inputs(rest, "high")],
        "elastic",
    )


def released_at(
    rest: Rest, run: Run, along: Number, key: str, sheet: Worksheet, where: str
) -> Figure:
    """Largest belt tension at a place of the whole belt, the take-up released [N]."""
    label = f"belt tension at {where}, take-up released"
    ways = dict(_ways(rest, run, along))
    drawn, hung = [], []
    for name, other in (("behind", "ahead"), ("ahead", "behind")):
        on_it = hanging(ways[other].turned(), rest.unknown).tension
        drawn.append(
            written(
                f"{key}.{name}",
                f"{label}, from {name}",
                largest(ways[name], rest.unknown, on_it),
                None,
                rest,
                sheet,
            )
        )
        hung.append(
            written(
                f"{key}.{name}.hung",
                f"{label}, hanging {name}",
                hanging(ways[name], rest.unknown),
                None,
                rest,
                sheet,
            )
        )
    both = sheet.smallest(f"{key}.both", f"{label}, slack on the way of the take-up", drawn)
    return sheet.largest(key, f"{label}", [both, *hung])


def written(
    key: str,
    label: str,
    pull: Pull,
    start: Figure | None,
    rest: Rest,
    sheet: Worksheet,
    friction_end: str = "high",
) -> Figure:
    """Write a bound with what it is made of."""
    belt = rest.conveyor.belt.line_mass
    low = np.ndim(pull.belt) == 0 and pull.belt == Span.of(belt).low
    inputs = _inputs(rest, friction_end)
    return sheet.work(
        key,
        label,
        strand_tension,
        ratio=pull.ratio,
        start=start if start is not None and np.any(pull.start) else pull.start,
        belt=end_of(belt, "low" if low else "high"),
        climb=sheet.found(
            f"{key}.climb",
            "height the belt gains on the way",
            pull.climb,
            Kind.DISTANCE,
            "from where the belt is counted from",
            [],
        ),
        load=end_of(rest.conveyor.material.line_mass, "high"),
        load_climb=sheet.found(
            f"{key}.load_climb",
            "height over which full load pulls",
            pull.load_climb,
            Kind.DISTANCE,
            "load left lying where it adds most",
            [rest.load_left],
        ),
        friction=sheet.found(
            f"{key}.friction",
            "friction on the way",
            pull.friction,
            Kind.FORCE,
            "g f (q_R l + (q_B + x q_G) a), summed over the way",
            inputs,
        ),
    )


def _inputs(rest: Rest, end: str) -> list[Figure]:
    conveyor = rest.conveyor
    return [
        end_of(conveyor.method.standing_friction, end),
        end_of(conveyor.belt.line_mass, "high"),
        end_of(conveyor.material.line_mass, "high"),
        rest.load_left,
    ]
