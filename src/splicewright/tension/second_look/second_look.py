"""A second look at a solved conveyor by other published ways, none of which governs.

The handbook's pull beside the resistance method's, the secondary resistances one by one beside
C, the DIN table's least pulleys beside those fitted, and the shortest transitions.
"""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.plant import Conveyor, Role, Side, slug
from splicewright.quantities import Figure, Kind, Sentence, Worksheet, assumed, sentence
from splicewright.tension.resistance.main import mass_flow_of
from splicewright.tension.resistance.secondary_sum import (
    Feed,
    PulleyPass,
    SecondaryTerms,
    remembered_bearings,
    remembered_bending,
    remembered_feed_friction,
    secondary_terms,
)
from splicewright.tension.running.demand import Demand
from splicewright.tension.running.load_cases import LoadCase
from splicewright.tension.running.run_forces import density_of
from splicewright.tension.running.running import Running
from splicewright.tension.second_look import handbook
from splicewright.tension.second_look.bends import (
    CrownLook,
    CurveLook,
    PulleyLook,
    TransitionLook,
    crown_look,
    curve_looks,
    pulley_look,
    transition_look,
)

C_RANGE = 80.0
"""Centre distance from which the secondary resistances may be taken all at once [m]."""


@dataclass(frozen=True, slots=True)
class Opinion:
    """One group of forces by the handbook and by the resistance method [N], and why they differ."""

    group: str
    handbook: Figure
    resistance: Figure
    reason: str


@dataclass(frozen=True, slots=True)
class SecondLook:
    """Everything the other ways say, and what does not fit in one sentence each."""

    opinions: tuple[Opinion, ...]
    terms: SecondaryTerms
    pulleys: tuple[PulleyLook, ...]
    crowns: tuple[CrownLook, ...]
    transitions: tuple[TransitionLook, ...]
    curves: tuple[CurveLook, ...]
    findings: tuple[Sentence, ...]


def second_look(conveyor: Conveyor, asked: Demand, sheet: Worksheet) -> SecondLook:
    """Look at a solved demand by the other ways.

    Parameters
    ----------
    conveyor : with all gaps filled
    asked : its demand
    sheet : takes every line
    """
    full = asked.case(LoadCase.FULL)
    sums = _sums(full, sheet)
    opinions = _opinions(conveyor, full, sums, sheet)
    terms = _terms(conveyor, full, sums["main"], sheet)
    looks = tuple(pulley_look(conveyor, asked, p, sheet) for p in conveyor.pulleys())
    turns = tuple(
        transition_look(conveyor, asked, p, sheet)
        for p in conveyor.pulleys()
        if p.role in {Role.HEAD, Role.TAIL}
    )
    bends = curve_looks(conveyor, asked, sheet)
    crowned = (crown_look(conveyor, asked, p, sheet) for p in conveyor.pulleys())
    crowns = tuple(c for c in crowned if c is not None)
    findings = _findings(conveyor, opinions, terms, looks, turns, bends)
    findings += tuple(s for c in crowns for s in _crown_findings(c, asked))
    return SecondLook(opinions, terms, looks, crowns, turns, bends, findings)


def _crown_findings(look: CrownLook, asked: Demand) -> list[Sentence]:
    """What a crown costs: in the middle the joint's margin, at the edges their grip."""
    findings = []
    if look.middle.value > look.permitted.value:
        findings.append(
            sentence(
                "The crown of {crown} on " + look.pulley + " may pull the middle of the belt with "
                "{middle}, more than the {permitted} permitted: a lower crown, or none.",
                crown=look.crown,
                middle=look.middle,
                permitted=look.permitted,
            )
        )
    elif look.middle.value > asked.running.value:
        findings.append(
            sentence(
                "The crown of {crown} on " + look.pulley + " may pull the middle of the belt with "
                "{middle}, the belt as a whole with {mean}: middle plates lose that much of the "
                "joint's margin over the demand of {running}.",
                crown=look.crown,
                middle=look.middle,
                mean=look.mean,
                running=asked.running,
            )
        )
    if look.edge.value < 0:
        findings.append(
            sentence(
                "The crown of {crown} on " + look.pulley + " may leave the belt edges slack where "
                "the belt is least tight: they lift and the belt wanders.",
                crown=look.crown,
            )
        )
    return findings


def _sums(full: Running, sheet: Worksheet) -> dict[str, Figure]:
    parts = {
        "main": [f.main for f in full.forces],
        "secondary": [f.secondary for f in full.forces],
        "slope": [f.slope for f in full.forces],
        "special": [f.special for f in full.forces if f.special is not None],
    }
    return {
        name: sheet.total(
            f"second.{name}", f"{name} resistance round the loop, full", figures, Kind.FORCE
        )
        for name, figures in parts.items()
    }


def _opinions(
    conveyor: Conveyor, full: Running, ours: dict[str, Figure], sheet: Worksheet
) -> tuple[Opinion, ...]:
    carry = [r for r in conveyor.runs() if r.side is Side.CARRY]
    length = sheet.total(
        "second.length",
        "length of the carry side",
        [sheet.note(r.length) for r in carry],
        Kind.DISTANCE,
    )
    lift = sheet.total(
        "second.lift", "lift of the carry side", [sheet.note(r.rise) for r in carry], Kind.DISTANCE
    )
    belt, load = conveyor.belt.line_mass, conveyor.material.line_mass
    flexure, cold = handbook.remembered_flexure(), _cold(conveyor)
    kx = sheet.work(
        "second.k_x",
        "K_x of the handbook",
        handbook.idler_friction,
        belt=belt,
        load=load,
        idler_force=handbook.remembered_idler_force(),
        spacing=carry[0].idlers.spacing,
    )
    idlers = sheet.work(
        "second.t_x", "idlers, handbook", handbook.idler_part, length=length, cold=cold, idlers=kx
    )
    flexing = sheet.work(
        "second.t_y",
        "belt flexing, handbook",
        handbook.belt_part,
        length=length,
        cold=cold,
        flexure=flexure,
        belt=belt,
    )
    carried = sheet.work(
        "second.t_m_along",
        "load along, handbook",
        handbook.load_part,
        load=load,
        length=length,
        flexure=flexure,
        lift=0.0,
    )
    raised = sheet.work(
        "second.t_m_lift",
        "load lifted, handbook",
        handbook.load_part,
        load=load,
        length=0.0,
        flexure=flexure,
        lift=lift,
    )
    turning = _pulley_forces(conveyor, sheet)
    rate = sheet.work("second.rate", "mass flow", mass_flow_of, load=load, speed=conveyor.speed)
    feed = sheet.work(
        "second.t_am",
        "feed, handbook",
        handbook.handbook_feed,
        rate=rate,
        speed=conveyor.speed,
        feed_speed=0.0,
    )
    along = sheet.total(
        "second.handbook_along", "moving along, handbook", [idlers, flexing, carried, turning, feed]
    )
    total = sheet.total(
        "second.handbook", "effective tension by the handbook", [along, raised, ours["special"]]
    )
    mine = sheet.total(
        "second.along", "moving along, resistance method", [ours["main"], ours["secondary"]]
    )
    return (
        Opinion(
            "moving along",
            along,
            mine,
            "the handbook turns each idler set by its own force and flexes belt and load by K_y; "
            "the resistance method takes one factor f on all moving mass, and C for pulleys and "
            "feed",
        ),
        Opinion(
            "lift",
            raised,
            ours["slope"],
            "the same statics; 9.80665 beside 9.81 m/s², load only beside belt and load",
        ),
        Opinion(
            "accessories",
            ours["special"],
            ours["special"],
            "as listed in the file, the same in both",
        ),
        Opinion("all", total, full.pull, "sum of the groups"),
    )


def _cold(conveyor: Conveyor) -> Figure:
    frost = conveyor.ambient.value < 273.15
    why = (
        "below freezing K_t is above 1 and read from a chart: ask; 1 taken, too low"
        if frost
        else "1 above freezing"
    )
    return assumed(
        "handbook.cold", "cold factor K_t", 1.0, Kind.RATIO, why, (1.0, 1.5 if frost else 1.0)
    )


def _pulley_forces(conveyor: Conveyor, sheet: Worksheet) -> Figure:
    """T_p summed: 200 lbf tight side, 150 slack side, 100 others, from memory."""
    pound = 4.4482216152605
    tight = sum(1 for p in conveyor.pulleys() if p.drive or p.role is Role.HEAD)
    slack = sum(1 for p in conveyor.pulleys() if p.role in {Role.TAIL, Role.TAKE_UP})
    other = len(conveyor.pulleys()) - tight - slack
    value = pound * (200 * tight + 150 * slack + 100 * other)
    return sheet.note(
        assumed(
            "handbook.pulleys",
            "pulleys, handbook",
            value,
            Kind.FORCE,
            f"200 lbf for {tight} tight-side, 150 for {slack} slack-side, 100 for {other} "
            "other pulleys, from memory of the handbook",
            (0.5 * value, 1.5 * value),
        )
    )


def _terms(conveyor: Conveyor, full: Running, main: Figure, sheet: Worksheet) -> SecondaryTerms:
    passes = []
    for pulley in conveyor.pulleys():
        point = full.at(pulley.name)
        mean = sheet.found(
            f"second.{slug(pulley.name)}.mean",
            f"mean tension at {pulley.name}, full",
            (point.entering.value + point.leaving.value) / 2,
            Kind.FORCE,
            "half the sum of entering and leaving",
            [point.entering, point.leaving],
        )
        passes.append(PulleyPass(pulley.name, mean, pulley.diameter))
    load = conveyor.material.line_mass
    rate = sheet.work(
        "second.feed_rate", "mass flow at the feed", mass_flow_of, load=load, speed=conveyor.speed
    )
    still = assumed(
        "second.feed_speed",
        "speed of the load at the feed",
        0.0,
        Kind.SPEED,
        "not given; the load is taken to fall straight (most to speed up)",
        (0.0, conveyor.speed.value),
    )
    feed = Feed(
        "the feed",
        rate,
        density_of(conveyor),
        still,
        remembered_feed_friction("second.on_belt", "friction of the load on the belt"),
        remembered_feed_friction("second.on_boards", "friction of the load on boards"),
        None,
    )
    return secondary_terms(
        feeds=[feed] if load.value > 0 else [],
        pulleys=passes,
        tilts=[],
        speed=conveyor.speed,
        width=conveyor.belt.width,
        thickness=conveyor.belt.thickness,
        bending=remembered_bending(conveyor.belt.carcass),
        bearing_factor=remembered_bearings(),
        main=main,
        coefficient=conveyor.method.length_coefficient,
        sheet=sheet,
        key="second.terms",
    )


def _findings(
    conveyor: Conveyor,
    opinions: tuple[Opinion, ...],
    terms: SecondaryTerms,
    looks: tuple[PulleyLook, ...],
    turns: tuple[TransitionLook, ...],
    bends: tuple[CurveLook, ...],
) -> tuple[Sentence, ...]:
    findings = []
    whole = opinions[-1]
    if whole.resistance.value > 0 and abs(
        whole.handbook.value - whole.resistance.value
    ) > 0.25 * abs(whole.resistance.value):
        findings.append(
            sentence(
                "The handbook's pull {other} and the resistance method's {ours} differ by more "
                "than a quarter: look at the factors of both.",
                other=whole.handbook,
                ours=whole.resistance,
            )
        )
    chosen = conveyor.method.length_coefficient
    beside = terms.equal_coefficient
    carry = sum(r.length.value for r in conveyor.runs() if r.side is Side.CARRY)
    if beside is not None and carry < C_RANGE:
        findings.append(
            sentence(
                "C = {c} on {length} of carry side is beyond its range, which begins at {range}; "
                "the secondary resistances one by one equal C = {terms}.",
                c=chosen,
                length=(carry, Kind.DISTANCE),
                range=(C_RANGE, Kind.DISTANCE),
                terms=beside,
            )
        )
    if beside is not None and beside.value > 1.15 * chosen.value:
        findings.append(
            sentence(
                "The secondary resistances one by one equal C = {terms}, more than the C = {c} "
                "used: the demand may be too low.",
                terms=beside,
                c=chosen,
            )
        )
    for look in looks:
        if look.least is not None and look.fitted.value < look.least.value - 1e-9:
            findings.append(
                sentence(
                    look.pulley + " of {fitted} is smaller than the {least} the belt itself wants "
                    "(DIN table): the belt ages sooner there, whatever the joint.",
                    fitted=look.fitted,
                    least=look.least,
                )
            )
    for turn in turns:
        if turn.needed is None:
            findings.append(
                sentence(
                    f"At {turn.pulley} no transition is long enough: the belt's tension itself "
                    "leaves the edges or the middle nothing to spare."
                )
            )
        elif turn.stated is not None and turn.stated.value < turn.needed.value:
            findings.append(
                sentence(
                    "The transition at " + turn.pulley + " of {stated} is shorter than the "
                    "{needed} wanted: edges overload, and edge plates with them.",
                    stated=turn.stated,
                    needed=turn.needed,
                )
            )
    for bend in bends:
        if bend.needed is None:
            findings.append(
                sentence(
                    f"From {bend.between} no curve is wide enough: the belt's tension itself "
                    "leaves its edges or middle nothing to spare."
                )
            )
        elif bend.stated is not None and bend.stated.value < bend.needed.value:
            findings.append(
                sentence(
                    "The curve from " + bend.between + " of {stated} radius is tighter than the "
                    "{needed} wanted.",
                    stated=bend.stated,
                    needed=bend.needed,
                )
            )
    return tuple(findings)
