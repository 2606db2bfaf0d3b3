"""What the belt itself wants at its bends, beside what is fitted; none of it governs.

Least pulleys by the table of DIN 22101, tension across crowned pulleys, the shortest transitions,
the least radii of vertical curves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from splicewright.errors import InputError
from splicewright.plant import Conveyor, CrownShape, Pulley, Role, Run, Side, slug
from splicewright.quantities import Figure, Kind, Sentence, Worksheet, percent, sentence
from splicewright.tension.across import curves, transition
from splicewright.tension.across import width as across_width
from splicewright.tension.across.load_section import middle_roll
from splicewright.tension.across.width import trough_depth
from splicewright.tension.resistance.traction import per_width
from splicewright.tension.running.demand import Demand
from splicewright.tension.running.load_cases import LoadCase
from splicewright.tension.running.running import Running
from splicewright.tension.second_look import pulleys

PERMITTED_SHARE = 0.1
"""Reference force of a belt: a tenth of its nominal strength; what the pulley table and the
transition compare with."""
EDGE_SHARE = 1.3
"""Permitted edge tension over rated tension, ISO 5293:1981 abstract."""


@dataclass(frozen=True, slots=True)
class PulleyLook:
    """One pulley beside the table: least diameter [m], pressure [Pa]; None where it has no row."""

    pulley: str
    group: str
    fitted: Figure
    least: Figure | None
    pressure: Figure
    remark: Sentence


@dataclass(frozen=True, slots=True)
class TransitionLook:
    """The shortest transition at one end pulley [m], each condition and all; stated or None.

    by_edge, by_middle, needed : None where no length is enough; edges, slackest : tension per
    width of the edges at their tightest and of the least tight fibre, over the ordinary cases, in
    the stated transition or else the shortest; None where neither is there [N/m]
    """

    pulley: str
    by_edge: Figure | None
    by_middle: Figure | None
    by_rule: Figure
    needed: Figure | None
    stated: Figure | None
    edges: Figure | None
    slackest: Figure | None


@dataclass(frozen=True, slots=True)
class CrownLook:
    """Tension across one crowned pulley, per width, over the ordinary cases [N/m].

    mean: largest of the belt there; middle: of the middle then; edge: of the edges where the belt
    is slackest, below 0 they lift; permitted: 130 % of a tenth of the strength.
    """

    pulley: str
    crown: Figure
    mean: Figure
    middle: Figure
    edge: Figure
    permitted: Figure


@dataclass(frozen=True, slots=True)
class CurveLook:
    """The least radius of one vertical curve [m]; lift_off is None for a convex one.

    needed : None where no radius is enough; tightest, slackest : tension per width of the fibres
    at the outside and at the inside of the curve, over the ordinary cases, at the stated radius
    or else the least [N/m]
    """

    between: str
    concave: bool
    lift_off: Figure | None
    needed: Figure | None
    stated: Figure | None
    tightest: Figure | None
    slackest: Figure | None


def pulley_look(conveyor: Conveyor, asked: Demand, pulley: Pulley, sheet: Worksheet) -> PulleyLook:
    """One pulley beside the least the belt wants there, and the pressure on it."""
    belt = conveyor.belt
    key = f"second.{slug(pulley.name)}"
    passing = next(p for p in asked.passings if p.pulley == pulley.name)
    high = passing.running.value > 0.6 * asked.running.value
    group = pulleys.group_of(bool(pulley.drive), high, pulley.wrap.value)
    use = passing.running.value / (PERMITTED_SHARE * belt.strength.value)
    point = asked.case(LoadCase.FULL).at(pulley.name)
    mean = (point.entering.value + point.leaving.value) / 2
    pressure = sheet.found(
        f"{key}.pressure",
        f"pressure on {pulley.name}, full",
        float(pulleys.surface_pressure(mean, pulley.diameter.value, belt.width.value)),
        Kind.PRESSURE,
        "p = 2 T/(D B) with the mean of entering and leaving",
        [point.entering, point.leaving, pulley.diameter, belt.width],
        "gb50431-pressure",
    )
    thickness = belt.thickness.value - belt.top_cover.value - belt.bottom_cover.value
    least, remark = None, sentence("")
    try:
        least_pulley = pulleys.least_pulley(belt.carcass, thickness, group, use)
    except InputError as error:
        remark = sentence(error.faults[0].sentence)
    else:
        least = sheet.found(
            f"{key}.least",
            f"least diameter of {pulley.name} by the belt",
            least_pulley.diameter,
            Kind.LENGTH,
            f"table of DIN 22101: c d rounded up to {1e3 * least_pulley.row:g} mm, {group.value}, "
            f"{percent(use)} of the permitted tension (a tenth of the strength)",
            [belt.thickness, belt.top_cover, belt.bottom_cover, passing.running, belt.strength],
            "din22101-pulley-table",
        )
        remark = sentence(least_pulley.remark)
    return PulleyLook(
        pulley.name, group.value, sheet.note(pulley.diameter), least, pressure, remark
    )


def crown_look(
    conveyor: Conveyor, asked: Demand, pulley: Pulley, sheet: Worksheet
) -> CrownLook | None:
    """Tension in the middle and at the edges of the belt on a crown; None on a cylinder.

    The belt is taken as stuck to the pulley: the largest spread a crown can give.
    """
    crown, belt = pulley.crown, conveyor.belt
    if crown is None:
        return None
    key = f"second.{slug(pulley.name)}.crown"
    largest, smallest = _extremes(asked, pulley, key, sheet)
    fullness: Figure | float = across_width.FULLNESS_OF_ARC
    if crown.shape is CrownShape.CONES:
        fullness = sheet.work(
            f"{key}.fullness",
            f"mean height of the crown of {pulley.name}, as share",
            across_width.fullness_of_cones,
            flat=crown.flat,
            width=belt.width,
        )
    over_all = sheet.work(
        f"{key}.mean_diameter",
        f"mean diameter of {pulley.name}",
        across_width.mean_diameter,
        edge_diameter=pulley.diameter,
        crown=crown.height,
        fullness=fullness,
    )
    highest = sheet.work(
        f"{key}.middle_diameter",
        f"diameter of {pulley.name} in the middle",
        across_width.middle_diameter,
        edge_diameter=pulley.diameter,
        crown=crown.height,
    )
    tensions = {}
    for name, label, force, under in (
        ("middle", "largest tension in the middle of the belt", largest, highest),
        ("edge", "least tension at the belt edges", smallest, pulley.diameter),
    ):
        mean = sheet.work(
            f"{key}.{name}_mean",
            f"mean tension for the {name} of {pulley.name}",
            per_width,
            tension=force,
            width=belt.width,
        )
        tensions[f"{name}_mean"] = mean
        tensions[name] = sheet.work(
            f"{key}.{name}",
            f"{label} on {pulley.name}",
            across_width.crown_tension,
            mean=mean,
            modulus=belt.modulus,
            diameter=under,
            mean_of_all=over_all,
            thickness=belt.thickness,
        )
    permitted = sheet.found(
        f"{key}.permitted",
        f"permitted across {pulley.name}",
        EDGE_SHARE * PERMITTED_SHARE * belt.strength.value,
        Kind.WIDTH_FORCE,
        "130 % of a tenth of the strength",
        [belt.strength],
        "transition",
    )
    return CrownLook(
        pulley.name,
        sheet.note(crown.height),
        tensions["middle_mean"],
        tensions["middle"],
        tensions["edge"],
        permitted,
    )


def _extremes(asked: Demand, pulley: Pulley, key: str, sheet: Worksheet) -> tuple[Figure, Figure]:
    """Largest and smallest tension at a pulley over the ordinary cases [N]."""
    every = [r.at(pulley.name) for r in asked.every() if r.case.steady or r.case.transient]
    tensions = [f for p in every for f in (p.entering, p.leaving)]
    return (
        sheet.largest(f"{key}.largest", f"largest tension at {pulley.name}", tensions),
        sheet.smallest(f"{key}.smallest", f"smallest tension at {pulley.name}", tensions),
    )


def transition_look(
    conveyor: Conveyor, asked: Demand, pulley: Pulley, sheet: Worksheet
) -> TransitionLook:
    """The shortest transition at an end pulley, over all ordinary cases."""
    belt = conveyor.belt
    key = f"second.{slug(pulley.name)}.transition"
    carry = [r for r in conveyor.runs() if r.side is Side.CARRY]
    run = carry[0] if pulley.role is Role.TAIL else carry[-1]
    middle = middle_roll(run, belt.width)
    largest, smallest = _extremes(asked, pulley, key, sheet)
    width, trough = belt.width.value, run.idlers.trough.value
    raised = pulley.raised.value if pulley.raised is not None else 0.0
    shape = (belt.modulus.value, width, middle.value, trough, raised)
    parts = [belt.modulus, belt.width, middle, run.idlers.trough]
    permitted = EDGE_SHARE * PERMITTED_SHARE * belt.strength.value
    edge = _where_possible(
        sheet,
        f"{key}.edge",
        f"transition at {pulley.name} for the edges",
        float(transition.length_for_edge(permitted, largest.value / width, *shape)),
        "shortest with the tightest fibre within 130 % of a tenth of the strength",
        [largest, belt.strength, *parts],
        "transition",
    )
    inner = _where_possible(
        sheet,
        f"{key}.middle",
        f"transition at {pulley.name} for the middle",
        float(transition.length_for_middle(0.0, max(smallest.value, 1e-6) / width, *shape)),
        "shortest with no fibre slack",
        [smallest, *parts],
        "transition",
    )
    depth = trough_depth(width, middle.value, trough)
    rule = sheet.found(
        f"{key}.rule",
        f"transition at {pulley.name} by rule",
        float(
            transition.least_transition(
                transition.LEAST_LENGTH_FACTOR[belt.carcass.textile], depth - raised
            )
        ),
        Kind.DISTANCE,
        "8.5 (steel cord 14) times the height of the edges",
        parts[1:],
        "gb50431-transition",
    )
    needed = None
    if edge is not None and inner is not None:
        needed = sheet.largest(
            f"{key}.needed", f"shortest transition at {pulley.name}", [edge, inner, rule]
        )
    stated = sheet.note(pulley.transition) if pulley.transition is not None else None
    length = stated or needed
    edges = slackest = None
    if length is not None and length.value > 0:
        shaped: list[Figure] = [length, *parts]
        tight, loose = (
            across_width.across_transition(
                mean=force.value / width,
                modulus=belt.modulus.value,
                length=length.value,
                width=width,
                middle=middle.value,
                trough=trough,
                raised=raised,
            )
            for force in (largest, smallest)
        )
        where = f"transition at {pulley.name}, " + ("as stated" if stated else "the shortest")
        edges = sheet.found(
            f"{key}.edges",
            f"tension of the edges, {where}",
            float(tight.edge),
            Kind.WIDTH_FORCE,
            across_width.fibre_tension.text + ", at the edge",
            [largest, *shaped],
            "transition",
        )
        slackest = sheet.found(
            f"{key}.slackest",
            f"tension of the slackest fibre, {where}",
            float(loose.slackest),
            Kind.WIDTH_FORCE,
            across_width.fibre_tension.text + ", where it is least",
            [smallest, *shaped],
            "transition",
        )
    return TransitionLook(pulley.name, edge, inner, rule, needed, stated, edges, slackest)


def _where_possible(
    sheet: Worksheet,
    key: str,
    label: str,
    value: float,
    text: str,
    parts: list[Figure],
    source: str,
) -> Figure | None:
    """A distance found, or None where it came out infinite: no distance is enough."""
    if not math.isfinite(value):
        return None
    return sheet.found(key, label, value, Kind.DISTANCE, text, parts, source)


def curve_looks(conveyor: Conveyor, asked: Demand, sheet: Worksheet) -> tuple[CurveLook, ...]:
    """The vertical curves between carry runs that follow one another without a pulley."""
    looks = []
    for one, two in zip(conveyor.loop, (*conveyor.loop[1:], conveyor.loop[0]), strict=True):
        if not (isinstance(one, Run) and isinstance(two, Run) and one.side is Side.CARRY):
            continue
        slopes = [math.asin(r.rise.value / r.length.value) for r in (one, two)]
        if two.side is Side.CARRY and abs(slopes[1] - slopes[0]) > math.radians(0.5):
            looks.append(_curve(conveyor, asked, one, two, slopes, sheet))
    return tuple(looks)


def _between(asked: Demand, case: Running, one: Run, two: Run) -> Figure:
    """Tension where two runs meet, whichever way the belt travels."""
    return case.at(two.name if asked.is_reverse(case) else one.name).leaving


def _curve(
    conveyor: Conveyor, asked: Demand, one: Run, two: Run, slopes: list[float], sheet: Worksheet
) -> CurveLook:
    belt, key = conveyor.belt, f"second.{slug(one.name)}.curve"
    cases = [r for r in asked.every() if r.case.steady or r.case.transient]
    here = [_between(asked, r, one, two) for r in cases]
    largest = sheet.largest(f"{key}.largest", f"largest tension behind {one.name}", here)
    smallest = sheet.smallest(f"{key}.smallest", f"smallest tension behind {one.name}", here)
    width = belt.width.value
    middle = middle_roll(one, belt.width)
    concave = slopes[1] > slopes[0]
    shape = {
        "smallest": max(smallest.value, 1e-6) / width,
        "largest": largest.value / width,
        "permitted": EDGE_SHARE * PERMITTED_SHARE * belt.strength.value,
        "least": 0.0,
        "modulus": belt.modulus.value,
        "width": width,
        "middle": middle.value,
        "trough": one.idlers.trough.value,
    }
    parts = [largest, smallest, belt.modulus, belt.width, belt.strength, middle, one.idlers.trough]
    lift = None
    if concave:
        # The belt lifts where it lies empty while the rest of the loop is loaded or starts.
        lift = sheet.work(
            f"{key}.lift_off",
            f"lift-off radius behind {one.name}",
            curves.lift_off_radius,
            tension=largest,
            belt=belt.line_mass,
            slope=max(slopes),
        )
        radius = curves.concave_radius(
            **shape, belt=belt.line_mass.value, slope=max(slopes), empty=largest.value / width
        )
    else:
        radius = curves.convex_radius(**shape)
    needed = _where_possible(
        sheet,
        f"{key}.needed",
        f"least radius behind {one.name}",
        float(radius),
        "largest of: tightest fibre within 130 % of a tenth of the strength, no fibre slack"
        + (", belt on its idlers" if concave else ""),
        [*parts, *([lift] if lift else [])],
        "vertical-curve",
    )
    stated = sheet.note(one.curve_radius) if one.curve_radius is not None else None
    tightest = slackest = None
    at = stated or needed
    if at is not None and at.value > 0:
        outside, inside = (curves.middle_reach, curves.edge_reach)[:: 1 if concave else -1]
        profile = (width, middle.value, shape["trough"])
        for_both = [at, belt.modulus, belt.width, middle, one.idlers.trough]
        tightest = sheet.found(
            f"{key}.tightest",
            f"tension at the outside of the curve behind {one.name}",
            float(
                curves.outer_tension(
                    shape["largest"], shape["modulus"], outside(*profile), at.value
                )
            ),
            Kind.WIDTH_FORCE,
            curves.outer_tension.text,
            [largest, *for_both],
            "vertical-curve",
        )
        slackest = sheet.found(
            f"{key}.slackest",
            f"tension at the inside of the curve behind {one.name}",
            float(
                curves.inner_tension(
                    shape["smallest"], shape["modulus"], inside(*profile), at.value
                )
            ),
            Kind.WIDTH_FORCE,
            curves.inner_tension.text,
            [smallest, *for_both],
            "vertical-curve",
        )
    return CurveLook(f"{one.name} to {two.name}", concave, lift, needed, stated, tightest, slackest)
