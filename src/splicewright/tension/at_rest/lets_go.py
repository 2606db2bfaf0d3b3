"""One thing lets go: what the others then carry, and how far and fast the belt would move."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from splicewright.plant import TakeUpKind
from splicewright.quantities import (
    Figure,
    Given,
    Kind,
    Number,
    Sentence,
    Worksheet,
    formula,
    sentence,
)
from splicewright.tension.at_rest.bounds import Bounds, StrandForces
from splicewright.tension.at_rest.catching import (
    Catch,
    catching_peak,
    falling_speed,
    speed_across,
    tackle_stiffness,
)
from splicewright.tension.at_rest.energy import Energies
from splicewright.tension.at_rest.movement import Movement, lift_of_weight
from splicewright.tension.at_rest.rest import Rest
from splicewright.tension.at_rest.strands import end_of
from splicewright.tension.resistance.main import GRAVITY

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True, slots=True)
class Carried:
    """What one of the others carries at its peak [N]: key for programs, name as crews say it."""

    key: str
    name: str
    force: Figure


@dataclass(frozen=True, slots=True)
class LetsGo:
    """One thing lets go while the rest holds.

    key: of the row, for programs; name: as crews say it; when: in which stages it can; others:
    what takes over; travel: how far the belt end, or the counterweight, moves before it is held
    [m]; speed: at most, until then [m/s]; energy: set free at most [J]; says: what follows.
    """

    key: str
    name: str
    when: str
    others: tuple[Carried, ...]
    travel: Figure
    speed: Figure
    energy: Figure
    says: Sentence


@formula(
    "E = F²/(2 k_s) + F x",
    gives=("E", Kind.ENERGY),
    symbols={"force": "F", "spring": "k_s", "travel": "x"},
    source="elastic",
    limits="stretch of the strand given back, and its pull along the way until it is held",
)
def energy_set_free(force: Number, spring: Number, travel: Number) -> Number:
    """Energy of a strand that is let go [J].

    Parameters
    ----------
    force : that held it [N]
    spring : stiffness of the strand [N/m]
    travel : until it is held again [m]
    """
    return force**2 / (2 * spring) + force * travel


@formula(
    "v = F/Z",
    gives=("v", Kind.SPEED),
    symbols={"force": "F", "resistance": "Z"},
    source=("newton", "elastic"),
    limits="top speed of the end of an elastic strand let go; weight that goes on pulling adds to "
    "it on a long way",
)
def end_speed(force: Number, resistance: Number) -> Number:
    """Speed of a belt end that is let go [m/s], from its tension [N] and wave resistance [kg/s]."""
    return force / resistance


@formula(
    "x = δ P/F",
    gives=("x", Kind.LENGTH),
    symbols={"give": "δ", "peak": "P", "force": "F"},
    source=("newton", "elastic"),
    limits="δ under the force F that held, most that is plausible; P the peak of a stiff tackle, "
    "which is more than that of a soft one",
)
def give_under_shock(give: Number, peak: Number, force: Number) -> Number:
    """Give of a tackle [m] under a peak force [N], from its give under another [m, N]."""
    return np.where(np.asarray(force) > 0, give * peak / np.maximum(force, 1e-9), give)[()]


@formula(
    "v = √(2 g h)",
    gives=("v", Kind.SPEED),
    symbols={"height": "h"},
    source="newton",
    limits="nothing slows it: slack belt and rope run along",
)
def free_fall_speed(height: Number) -> Number:
    """Speed of a weight [m/s] that fell freely from a height [m]."""
    return np.sqrt(2 * GRAVITY * np.asarray(height))[()]


def lets_go(
    rest: Rest,
    bounds: Bounds,
    moved: Movement,
    energies: Energies,
    catch: Catch,
    sheet: Worksheet,
    *,
    opened: bool,
) -> tuple[LetsGo, ...]:
    """Every single failure, in the order a crew meets them.

    Parameters
    ----------
    rest : the stopped conveyor
    bounds, moved : forces and movements at the place
    energies : stored
    catch : how hard an end is caught
    sheet : takes the lines
    opened : whether the belt is; else no hoist stands, and the belt itself comes tight on the clamp
        that is left
    """
    behind, ahead = bounds.sides
    rows = [_drive(rest, bounds, energies, catch, sheet)]
    if rest.conveyor.take_up.kind is TakeUpKind.GRAVITY:
        rows.append(_tackle(rest, bounds, energies, sheet))
    for side, other in ((behind, ahead), (ahead, behind)):
        rows.append(_clamp(rest, side, other, bounds.draw.largest, catch, sheet, opened=opened))
    if opened:
        rows.append(_hoist(rest, bounds, moved, catch, sheet))
    return tuple(rows)


def _clamps(
    key: str, sides: Sequence[StrandForces], of: Sequence[Sequence[Figure]], sheet: Worksheet
) -> tuple[Carried, ...]:
    """What each clamp carries: the largest of what the failure brings and what it had anyway."""
    return tuple(
        Carried(
            f"clamp_{side.way.value}",
            f"restraining clamp {side.name}",
            sheet.largest(
                f"{key}.on_{side.way.value}",
                f"restraining clamp {side.name} then, at most",
                [*figures, side.hold.largest],
            ),
        )
        for side, figures in zip(sides, of, strict=True)
    )


def _drive(
    rest: Rest, bounds: Bounds, energies: Energies, catch: Catch, sheet: Worksheet
) -> LetsGo:
    key, label = "at_rest.lets_go.drive", "drives let go"
    force = sheet.largest(
        key,
        "largest pull on a clamp, drives holding nothing",
        [bounds.acting.largest, bounds.draw.largest, *(s.hold.largest for s in bounds.sides)],
    )
    peak = _peak(key, f"{label}: peak on a clamp, snug", force, catch, catch.gap, sheet)
    loose = _peak(
        f"{key}.loose",
        f"{label}: the same with slack in its chain",
        force,
        catch,
        catch.loose,
        sheet,
    )
    return LetsGo(
        "drive",
        "holdback, brake or gear of a drive",
        "from the moment the belt stands",
        _clamps(key, bounds.sides, [(peak,)] * 2, sheet),
        _travel(key, label, catch, sheet, (peak, force)),
        sheet.work(
            f"{key}.speed",
            "speed of the belt, clamps set, at most",
            end_speed,
            force=force,
            resistance=catch.resistance,
        ),
        sheet.total(
            "at_rest.lets_go.drive.energy",
            "energy set free, no clamps set, at most",
            [energies.load, energies.belt],
            Kind.ENERGY,
        ),
        sentence(
            "No drive is trusted to hold: the clamps catch all of it. With {slack} of slack in a "
            "chain the shock on it is {loose}: set them snug. Without clamps the belt would run "
            "away with the load and the stretch in it; so clamps come first.",
            slack=catch.loose,
            loose=loose,
        ),
    )


def _tackle(rest: Rest, bounds: Bounds, energies: Energies, sheet: Worksheet) -> LetsGo:
    take_up = rest.conveyor.take_up
    assert energies.weight is not None  # of every counterweight
    others = _clamps(
        "at_rest.lets_go.tackle",
        bounds.sides,
        [(s.acting, bounds.draw.largest) for s in bounds.sides],
        sheet,
    )
    fall = sheet.work(
        "at_rest.lets_go.tackle.travel",
        "fall of the counterweight, its whole travel",
        lift_of_weight,
        reeving=end_of(take_up.reeving, "high"),
        lift=end_of(take_up.travel, "high"),
    )
    return LetsGo(
        "take_up_tackle",
        "tackle of the counterweight",
        "while the counterweight hangs",
        others,
        fall,
        sheet.work(
            "at_rest.lets_go.tackle.speed",
            "speed of the counterweight, at most",
            free_fall_speed,
            height=fall,
        ),
        energies.weight,
        sentence(
            "Way, speed and energy are those of a free fall to the end of its travel. The force "
            "is that of the weight at rest on the belt; a fall hits harder. Hang it AND block it "
            "from below without a gap, so that it cannot fall."
        ),
    )


def _clamp(
    rest: Rest,
    side: StrandForces,
    other: StrandForces,
    drawn: Figure,
    catch: Catch,
    sheet: Worksheet,
    *,
    opened: bool,
) -> LetsGo:
    key, label = f"at_rest.lets_go.clamp_{side.way.value}", f"clamp {side.name} lets go"
    force = side.sudden
    peak = _peak(key, f"{label}: peak on the hoists, snug", force, catch, catch.gap, sheet)
    loose = _peak(
        f"{key}.loose",
        f"{label}: the same with slack in the hoists",
        force,
        catch,
        catch.loose,
        sheet,
    )
    return LetsGo(
        f"clamp_{side.way.value}",
        f"restraining clamp {side.name}, or its chain",
        "while the belt is open" if opened else "while the take-up is released",
        (
            *(
                (
                    Carried(
                        "hoists",
                        "hoists and pulling clamps",
                        sheet.largest(f"{key}.on_hoists", "hoists then, at most", [peak, drawn]),
                    ),
                )
                if opened
                else ()
            ),
            *_clamps(key, [other], [(peak, drawn)], sheet),
        ),
        _travel(key, label, catch, sheet, (peak, force)),
        sheet.work(
            f"{key}.speed",
            f"{label}: speed of the end, at most",
            end_speed,
            force=force,
            resistance=catch.resistance,
        ),
        _energy(key, label, rest, force, catch, sheet),
        sentence(
            "The hoists across the place catch the belt end and pull on the other clamp: leave "
            "them hooked up and snug. With {slack} of slack the shock on them is {loose}. "
            "Without hoists nothing holds the end: keep out of line with it.",
            slack=catch.loose,
            # The ends were drawn with more than a light strand falls with.
            loose=sheet.largest(
                f"{key}.loose_most", "hoists then, with slack in them, at most", [loose, drawn]
            ),
        )
        if opened
        else sentence(
            "The belt is in one piece: it comes tight on the other clamp. Nobody on the belt, "
            "under it or in line with it while clamps hold."
        ),
    )


def _hoist(rest: Rest, bounds: Bounds, moved: Movement, catch: Catch, sheet: Worksheet) -> LetsGo:
    key, label = "at_rest.lets_go.hoist", "a hoist or pulling clamp lets go"
    sudden = sheet.largest(
        f"{key}.sudden",
        "largest pull on the end that flies back",
        [bounds.draw.largest, *(s.sudden for s in bounds.sides)],
    )
    force = sheet.largest(
        f"{key}.force",
        "largest force of the hoists",
        [bounds.draw.largest, *(s.hold.largest for s in bounds.sides)],
    )
    peak = _peak(key, f"{label}: peak on the chains, taken up", sudden, catch, catch.gap, sheet)
    loose = _peak(
        f"{key}.loose",
        f"{label}: the same with slack in the chains",
        sudden,
        catch,
        catch.loose,
        sheet,
    )
    return LetsGo(
        "hoist",
        "one hoist or pulling clamp",
        "while slack is drawn and ends are brought together",
        (
            Carried("other_hoist", "the other hoist, alone", force),
            *_clamps(key, bounds.sides, [(peak, bounds.draw.largest)] * 2, sheet),
        ),
        sheet.largest(f"{key}.travel", "way of the belt, chains not taken up", [moved.hoists]),
        sheet.work(
            f"{key}.speed",
            f"{label}: speed of the end, at most",
            end_speed,
            force=sudden,
            resistance=catch.resistance,
        ),
        _energy(key, label, rest, sudden, catch, sheet),
        sentence(
            "Slack chains do not catch the belt: it flies back by the length pulled. Take "
            "up the chains as the hoists pull. With {slack} of slack the shock on them "
            "is {loose}.",
            slack=catch.loose,
            loose=loose,
        ),
    )


def _peak(
    key: str, label: str, force: Figure, catch: Catch, gap: Given, sheet: Worksheet
) -> Figure:
    speed = sheet.work(
        f"{key}.at",
        f"{label}: speed when it comes tight",
        speed_across,
        force=force,
        gap=gap,
        resistance=catch.resistance,
        mass=catch.mass,
    )
    if np.any(gap.value):  # a snug catch has no way to fall
        falls = sheet.work(
            f"{key}.falls",
            f"{label}: speed of a short strand by its weight",
            falling_speed,
            force=force,
            gap=gap,
            mass=catch.mass,
        )
        speed = sheet.largest(f"{key}.fastest", f"{label}: the faster of both", [speed, falls])
    spring = sheet.work(
        f"{key}.spring",
        "stiffness of the tackle, in N/m",
        tackle_stiffness,
        force=force,
        give=catch.give,
    )
    return sheet.work(
        f"{key}.peak",
        label,
        catching_peak,
        force=force,
        speed=speed,
        resistance=catch.resistance,
        mass=catch.mass,
        spring=spring,
    )


def _travel(
    key: str, label: str, catch: Catch, sheet: Worksheet, shock: tuple[Figure, Figure] | None = None
) -> Figure:
    """Way of the end [m]; shock: the peak that catches it and the force that held it."""
    if shock is None:
        give: Figure = sheet.note(catch.most_give)
    else:
        peak, force = shock
        give = sheet.work(
            f"{key}.give",
            f"{label}: give of the tackle under the shock, at most",
            give_under_shock,
            give=catch.most_give,
            peak=peak,
            force=force,
        )
    return sheet.total(
        f"{key}.travel", f"{label}: way of the end, hoists snug", [give, sheet.note(catch.gap)]
    )


def _energy(
    key: str, label: str, rest: Rest, force: Figure, catch: Catch, sheet: Worksheet
) -> Figure:
    length = np.sum(rest.loop.whole.length, axis=-1)
    return sheet.work(
        f"{key}.energy",
        f"{label}: energy set free, at most",
        energy_set_free,
        force=force,
        spring=rest.unknown.stiffness.low / length,
        travel=catch.loose,
    )
