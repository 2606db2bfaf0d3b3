"""Belt tension from its sag between two idlers: measured with a string and a tape."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from splicewright.plant import Conveyor, Run
from splicewright.quantities import Figure, Kind, Number, Worksheet, formula, measured
from splicewright.tension.at_rest.strand import Span, largest, least
from splicewright.tension.at_rest.strands import loop_of, unknown_of
from splicewright.tension.resistance.main import GRAVITY

if TYPE_CHECKING:
    from collections.abc import Sequence

    from splicewright.tension.running.running import Running

READING = 0.002
"""Half-width of a sag read with a string and a tape [m]; common practice, no source."""

SPAN_READING = 0.01
"""Half-width of the distance of two idlers, taped [m]; common practice, no source."""


@formula(
    "T = q_B g a²/(8 y)",
    gives=("T", Kind.FORCE),
    symbols={"belt": "q_B", "spacing": "a", "sag": "y"},
    source="sag",
    limits="belt hanging still and empty between two idlers, parabola, y small against a; a string "
    "stretched from idler to idler, y measured down from it in the middle",
)
def tension_from_sag(belt: Number, spacing: Number, sag: Number) -> Number:
    """Belt tension from its sag between two idlers.

    Parameters
    ----------
    belt : mass per length [kg/m]
    spacing : of the two idlers [m]
    sag : in the middle [m]

    Returns
    -------
    float or array [N]
    """
    return belt * GRAVITY * spacing**2 / (8 * sag)


@formula(
    "u_T = T √((u_q/q_B)² + (2 u_a/a)² + (u_y/y)²)",
    gives=("u_T", Kind.FORCE),
    symbols={
        "tension": "T",
        "belt": "q_B",
        "spacing": "a",
        "sag": "y",
        "belt_doubt": "u_q",
        "spacing_doubt": "u_a",
        "sag_doubt": "u_y",
    },
    source="sag",
    limits="first order, readings independent; half-widths in, half-width out",
)
def doubt_of_sag_tension(
    tension: Number,
    belt: Number,
    spacing: Number,
    sag: Number,
    belt_doubt: Number,
    spacing_doubt: Number,
    sag_doubt: Number,
) -> Number:
    """Half-width of a tension from sag [N].

    Parameters
    ----------
    tension : from sag [N]
    belt, spacing, sag : as used [kg/m], [m], [m]
    belt_doubt, spacing_doubt, sag_doubt : half-width of each
    """
    relative = (belt_doubt / belt) ** 2 + (2 * spacing_doubt / spacing) ** 2
    return tension * np.sqrt(relative + (sag_doubt / sag) ** 2)


def read_sag(
    conveyor: Conveyor,
    every: Sequence[Running],
    run: Run,
    sag: float,
    span: float,
    sheet: Worksheet,
) -> tuple[Figure, Figure, Figure, Figure]:
    """Tension from a measured sag, its half-width, and the take-up's pull at least and at most.

    Parameters
    ----------
    conveyor, every : the plant and its solved cases
    run : on which the sag was measured, anywhere along it
    sag, span : in the middle below a string, and between the two idlers [m]
    sheet : takes the lines
    """
    belt = conveyor.belt.line_mass
    mass = Span.of(belt)
    depth = measured(
        "sag.depth", "sag of the standing empty belt", sag, Kind.LENGTH, "string, tape"
    )
    spacing = measured("sag.span", "distance of the two idlers", span, Kind.DISTANCE, "tape")
    tension = sheet.work(
        "sag.tension",
        f"belt tension on {run.name}, from its sag",
        tension_from_sag,
        belt=belt,
        spacing=spacing,
        sag=depth,
    )
    doubt = sheet.work(
        "sag.doubt",
        "half-width of it",
        doubt_of_sag_tension,
        tension=tension,
        belt=belt,
        spacing=spacing,
        sag=depth,
        belt_doubt=np.maximum(mass.high - belt.value, belt.value - mass.low),
        spacing_doubt=SPAN_READING,
        sag_doubt=READING,
    )
    loop = loop_of(conveyor, every)
    empty = measured("sag.load", "load on the belt", 0.0, Kind.SHARE, "sag read on the empty belt")
    unknown = unknown_of(conveyor, empty)
    low, high = max(0.0, tension.value - doubt.value), tension.value + doubt.value
    ends: list[tuple[float, float]] = []
    for along in (0.0, run.length.value):
        ways = loop.behind(run.name, along).turned(), loop.ahead(run.name, along).turned()
        ends.append(
            (
                max(float(least(w, unknown, low)) for w in ways),
                min(float(largest(w, unknown, high).tension) for w in ways),
            )
        )
    strands = conveyor.take_up.strands
    text = "from there to the take-up, friction either way, all strands of the pulley together"
    parts = [tension, doubt, conveyor.method.standing_friction]
    return (
        tension,
        doubt,
        sheet.found(
            "sag.take_up.least",
            "pull of the take-up, least",
            strands * float(min(e[0] for e in ends)),
            Kind.FORCE,
            text,
            parts,
            "statics",
        ),
        sheet.found(
            "sag.take_up.largest",
            "pull of the take-up, at most",
            strands * float(max(e[1] for e in ends)),
            Kind.FORCE,
            text,
            parts,
            "statics",
        ),
    )
