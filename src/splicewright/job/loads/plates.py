"""The load on every plate of a planned joint, wherever it passes, and the end curve that suits.

Worked from a plan, on request: the finite elements of a new belt take most of a second, a plan
must not wait for them. Results are ranges over the belt and plate stiffness and side guidance
that nobody measured.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
from splicewright.job.loads.bolts import BoltWork, OnPulley, bolt_work, on_pulley
from splicewright.job.loads.proposed_curve import proposed_curve
from splicewright.job.loads.spread import LEVELS, Spread
from splicewright.job.plan import JointPlan
from splicewright.joint import Candidate, Layout, MakingLimits
from splicewright.joint.choice.verdict import (
    Standing,
    evenness_of_size,
    permitted,
    standing,
    standing_sentence,
)
from splicewright.joint.loads.bolts import row_shares
from splicewright.joint.loads.end_curve import CurveAdvice, advise_curve
from splicewright.joint.loads.making_limits import row_of
from splicewright.joint.loads.places import Place, PlaceLoads, loads_round_the_loop
from splicewright.joint.loads.stiffness import (
    PIN_OVER_PITCH,
    REFINE,
    Case,
    assumed_plate_stiffness,
    assumed_strips,
    pins,
    sound_cases,
    spread_cases,
)
from splicewright.plant import Conveyor, Crown, CrownShape, Pulley, Role, Side, slug
from splicewright.quantities import (
    Figure,
    Given,
    Kind,
    Record,
    Sentence,
    Worksheet,
    assumed,
    formula,
    sentence,
    stated,
)
from splicewright.tension import Demand, second_look
from splicewright.tension.across.load_section import middle_roll
from splicewright.tension.across.width import (
    FULLNESS_OF_ARC,
    across_transition,
    crown_tension,
    fullness_of_cones,
    mean_diameter,
    middle_diameter,
)

if TYPE_CHECKING:
    from pydantic import TypeAdapter


@formula(
    "ε_s = (t_E - t_M)/M",
    gives=("ε_s", Kind.SHARE),
    symbols={"edge": "t_E", "middle": "t_M", "modulus": "M"},
    source="transition",
    limits="the mean over the width equals the mean tension: only the difference counts",
)
def edge_strain(edge: float, middle: float, modulus: float) -> float:
    """Strain of the belt edges above the strain of the middle, in a transition.

    Parameters
    ----------
    edge, middle : tension per width there [N/m]
    modulus : of the belt, per width [N/m]
    """
    return (edge - middle) / modulus


@dataclass(frozen=True, slots=True)
class JointLoads:
    """What a sound, true joint of a plan carries.

    rating: of one plate in running, shared evenly [N]; evenness: largest share over the even one
    that the rating covers [-]; permitted: what the two allow the plate that carries most [N];
    places: in the order of the loop, transitions with their pulley; worst: the place with the
    largest plate load; load, factor, margin there: worst plate [N], over the mean [-], permitted
    over load less one [-]; rows: share of a plate's pull on each row of bolts, from the cut [-];
    curve: the best end, its template the depth as planned; bolts: None where plates are riveted;
    pulley: plates on the smallest one; remarks, assumptions: in words; proposal: another end curve
    where it would make the verdict better, None where none does
    """

    plan: str
    rating: Figure
    evenness: Given
    permitted: Figure
    places: tuple[PlaceLoads, ...]
    worst: PlaceLoads
    mean: Figure
    load: Spread
    factor: Spread
    margin: Spread
    rows: tuple[Spread, ...]
    curve: CurveAdvice
    limits: MakingLimits
    bolts: BoltWork | None
    pulley: OnPulley | None
    remarks: tuple[Sentence, ...]
    assumptions: tuple[Sentence, ...]
    worksheet: Record
    proposal: Sentence | None = None

    def to_json(self) -> str:
        """The loads as JSON; `from_json` gives them back without loss."""
        return _adapter().dump_json(self).decode()

    @property
    def standing(self) -> Standing:
        """How the plate that carries most stands, over all assumptions."""
        return standing(self.load.high.value, self.rating.value, self.evenness.value)

    @property
    def verdict(self) -> Sentence:
        """The verdict in one sentence, the same on every page."""
        return standing_sentence(
            self.standing, self.load.high, self.rating, self.evenness, self.worst.place.name
        )

    @property
    def overload(self) -> Sentence | None:
        """The verdict where it must stand on page one: the allowance decides, or it is passed."""
        return None if self.standing is Standing.WITHIN else self.verdict

    @classmethod
    def from_json(cls, text: str | bytes) -> JointLoads:
        """Read loads back."""
        return _adapter().validate_json(text)


def loads_of(plan: JointPlan) -> JointLoads:
    """Work the plate loads of a plan.

    The belt end is condensed once for each belt and layout and kept; the same plan asked again
    gives the same answer at once.

    Raises
    ------
    InputError
        The plan holds no joint.
    """
    best, layout, limits = plan.fastener, plan.layout, plan.limits
    if best is None or layout is None or limits is None:
        raise InputError(
            Fault(
                "plan",
                f"{plan.id} has no joint, no fastener was chosen: plate loads need one; give "
                "the data of a range that fits and plan again",
            )
        )
    sheet = Worksheet(plan.worksheet)
    places, lengths = places_of(plan.conveyor, plan.demand, layout.width.value, sheet)
    cases, calm = _cases(plan, best, layout, limits, lengths)
    depth = layout.curve_depth.value
    by_place = loads_round_the_loop(cases, places, depth)
    worst = max(by_place, key=lambda at: at.worst[2])
    # Where the belt runs flat, the largest pull is the worst; with less, each plate carries less.
    strained = [place for place in places if place.edge_strain != 0]
    curve = advise_curve(calm, [places[0], *strained], template=depth)
    count = sheet.get("layout.count")
    assert count is not None  # the plan has laid it out
    rests = [plan.demand.running, layout.width, count, limits.plate_rating]
    mean = sheet.found(
        "loads.mean",
        f"mean plate load, {worst.place.name}",
        worst.mean,
        Kind.FORCE,
        "pull of the belt there over the number of plates",
        rests,
        "statics",
    )
    rating = limits.plate_rating
    evenness = evenness_of_size(best.size)
    may = sheet.work(
        "loads.permitted",
        "pull the plate with the largest share may carry",
        permitted,
        evenness=evenness,
        rating=rating,
    )
    margins = worst.margin(may.value)
    proposal = None
    if not layout.strip:
        proposal = proposed_curve(
            cases, places, curve.steadiest, worst.worst[2], (rating, evenness.value), sheet
        )
    load = _spread(sheet, "loads.worst", "largest plate load", worst.worst, Kind.FORCE, rests)
    return JointLoads(
        plan=plan.id,
        rating=rating,
        evenness=evenness,
        permitted=may,
        places=by_place,
        worst=worst,
        mean=mean,
        load=load,
        factor=_spread(
            sheet,
            "loads.factor",
            "largest plate load over the mean",
            worst.factor,
            Kind.RATIO,
            rests,
        ),
        margin=_spread(
            sheet,
            "loads.margin",
            "what a plate may carry over its largest load, less one",
            (margins[0] - 1, may.value / worst.worst[1] - 1, margins[1] - 1),
            Kind.SHARE,
            [*rests, may],
        ),
        rows=_rows(best, plan, limits, sheet),
        curve=curve,
        limits=limits,
        bolts=bolt_work(plan, best.size, load, sheet),
        pulley=on_pulley(plan, best.size, sheet),
        remarks=(*_remarks(plan, best, layout, curve), *((proposal,) if proposal else ())),
        assumptions=_assumptions(best),
        worksheet=sheet.finish(),
        proposal=proposal,
    )


def _cases(
    plan: JointPlan,
    best: Candidate,
    layout: Layout,
    limits: MakingLimits,
    lengths: tuple[float, ...],
) -> tuple[tuple[Case, ...], list[Case]]:
    """All that is assumed, and the part of it that the end curve is worked for."""
    belt, size = plan.conveyor.belt, best.size
    strips = assumed_strips(layout.width.value, belt.modulus, belt.carcass)
    plate, row = assumed_plate_stiffness(limits.plate_rating.value), row_of(layout, size)
    if best.construction.hinged:
        pin = pins(size.pin or PIN_OVER_PITCH * size.pitch)
        cases = sound_cases(strips, row, plate, pin, lengths, REFINE)
        return cases, [case for case in cases if case.name.endswith(next(iter(pin)))]
    pull = plan.demand.running.value * layout.width.value
    cases = spread_cases(strips, row, plate, pull, lengths, REFINE)
    # Sound and nearly in the middle of the belt, a joint does not swing: one guidance will do.
    first = cases[0].guidance
    return cases, [
        case
        for case in cases
        if case.guidance is not None and first is not None and case.guidance.name == first.name
    ]


def places_of(
    conveyor: Conveyor, asked: Demand, width: float, sheet: Worksheet
) -> tuple[list[Place], tuple[float, ...]]:
    """Where a joint passes, and the lengths over which strain is built in beside it.

    Parameters
    ----------
    width : of the belt at the joint [m]
    """
    # The same pull on a belt worn narrower is more per width.
    wider = conveyor.belt.width.value / width
    tension = {p.pulley: p.running.value * wider for p in asked.passings}
    places = [Place("largest running pull of the loop", asked.running.value * wider)]
    lengths: list[float] = []
    needed = {
        t.pulley: t.needed or t.by_rule for t in second_look(conveyor, asked, sheet).transitions
    }
    for pulley in conveyor.pulleys():
        places.append(Place(pulley.name, tension[pulley.name]))
        if pulley.crown is not None:
            places.append(
                _on_crown(conveyor, pulley, pulley.crown, tension[pulley.name], len(lengths), sheet)
            )
            # The joint lies in the middle of the wrap: half of it on each side.
            lengths.append(pulley.diameter.value * pulley.wrap.value / 4)
        if pulley.role not in {Role.HEAD, Role.TAIL}:
            continue
        strain, half, flat = _transition(
            conveyor, pulley, tension[pulley.name], needed[pulley.name], sheet
        )
        if strain > 0:
            lengths.append(half)
            places.append(
                Place(
                    f"transition at {pulley.name}",
                    tension[pulley.name],
                    strain,
                    flat,
                    len(lengths) - 1,
                )
            )
    return places, tuple(lengths)


def _on_crown(
    conveyor: Conveyor, pulley: Pulley, crown: Crown, tension: float, number: int, sheet: Worksheet
) -> Place:
    """The joint on a crowned pulley, its sides less strained than its middle."""
    belt = conveyor.belt
    cones = crown.shape is CrownShape.CONES
    width, edge = belt.width.value, pulley.diameter.value
    fullness = fullness_of_cones(crown.flat.value, width) if cones else FULLNESS_OF_ARC
    over_all = mean_diameter(edge, crown.height.value, fullness)
    sides, middle = (
        float(crown_tension(tension, belt.modulus.value, under, over_all, belt.thickness.value))
        for under in (edge, middle_diameter(edge, crown.height.value))
    )
    parts = [crown.height, pulley.diameter, belt.modulus, belt.thickness, belt.width]
    strain = sheet.found(
        f"loads.{slug(pulley.name)}.crown_strain",
        f"strain of the edges over the middle, crown of {pulley.name}",
        edge_strain(sides, middle, belt.modulus.value),
        Kind.SHARE,
        edge_strain.text + ", belt stuck to the pulley",
        [*parts, crown.flat] if cones else parts,
        "crown",
    )
    flat = crown.flat.value / width if cones else 0.0
    return Place(
        f"crown of {pulley.name}", tension, strain.value, flat, number, 1.0 if cones else 2.0
    )


def _transition(
    conveyor: Conveyor, pulley: Pulley, tension: float, needed: Figure, sheet: Worksheet
) -> tuple[float, float, float]:
    """Edge strain [-], length of it on one side of a joint in its middle [m], flat share [-]."""
    belt = conveyor.belt
    carry = [r for r in conveyor.runs() if r.side is Side.CARRY]
    run = carry[0] if pulley.role is Role.TAIL else carry[-1]
    length: Figure
    if pulley.transition is not None:
        length = sheet.note(pulley.transition)
    else:
        length = assumed(
            f"loads.{slug(pulley.name)}.transition",
            f"transition at {pulley.name}",
            needed.value,
            Kind.DISTANCE,
            "not stated: the shortest that suits the belt taken",
            (needed.value, 2 * needed.value),
        )
    middle = middle_roll(run, belt.width)
    across = across_transition(
        mean=tension,
        modulus=belt.modulus.value,
        length=length.value,
        width=belt.width.value,
        middle=middle.value,
        trough=run.idlers.trough.value,
        raised=pulley.raised.value if pulley.raised is not None else 0.0,
    )
    strain = sheet.found(
        f"loads.{slug(pulley.name)}.edge_strain",
        f"strain of the edges over the middle, transition at {pulley.name}",
        edge_strain(float(across.edge), float(across.middle), belt.modulus.value),
        Kind.SHARE,
        edge_strain.text + ", fibres straight from pulley to trough",
        [length, belt.modulus, belt.width, middle, run.idlers.trough],
        "transition",
    )
    return strain.value, length.value / 2, middle.value / belt.width.value


def _spread(
    sheet: Worksheet,
    key: str,
    label: str,
    values: tuple[float, float, float],
    kind: Kind,
    parts: list[Figure],
) -> Spread:
    low, typical, high = (
        sheet.found(
            f"{key}.{tail}",
            f"{label}, {tail}",
            value,
            kind,
            "belt end in finite elements, plates as springs that pull and never push",
            parts,
            "membrane",
        )
        for tail, value in zip(LEVELS, values, strict=True)
    )
    return Spread(low, typical, high)


def _rows(
    best: Candidate, plan: JointPlan, limits: MakingLimits, sheet: Worksheet
) -> tuple[Spread, ...]:
    """Share of a plate's pull on each row of bolts, soft, typical and stiff bolts."""
    size, belt = best.size, plan.conveyor.belt
    rows = len(size.rows)
    plate = assumed_plate_stiffness(limits.plate_rating.value)
    gap = max((size.rows[-1].from_cut - size.rows[0].from_cut) / max(rows - 1, 1), size.bolt)
    steel = sheet.note(
        assumed(
            "plate.steel",
            "steel of top and bottom plate together",
            4e-3,
            Kind.LENGTH,
            "not in the range data: two plates of 2 mm taken",
            (3e-3, 8e-3),
        )
        if size.steel is None
        else stated(
            "plate.steel",
            "steel of top and bottom plate together",
            size.steel,
            Kind.LENGTH,
            size.name,
        )
    )
    stretch = 2.1e11 * steel.value * size.plate_width / gap
    under = belt.modulus.value * size.plate_width / gap
    shares = [
        row_shares(rows, stiffness / rows, stretch, under)
        for stiffness in (plate.low, plate.value, plate.high)
    ]
    spreads = []
    for row in range(rows):
        ends = sorted(share[row] for share in shares)
        figures = [
            sheet.found(
                f"loads.row_{row + 1}.{tail}",
                f"share of row {row + 1} of bolts, {tail}",
                value,
                Kind.SHARE,
                "bolts as springs between plate and belt, all rows taken alike",
                [plate, belt.modulus, steel],
                "statics",
            )
            for tail, value in (
                ("smallest", ends[0]),
                ("typical", shares[1][row]),
                ("largest", ends[2]),
            )
        ]
        spreads.append(Spread(*figures))
    return tuple(spreads)


def _remarks(
    plan: JointPlan, best: Candidate, layout: Layout, curve: CurveAdvice
) -> tuple[Sentence, ...]:
    remarks = []
    hinged = best.construction.hinged
    near, far = sorted((layout.leading.setback_left, layout.leading.setback_right))
    other = ", the other way round on the trailing end" if far > near + 1e-6 else ""
    remarks.append(
        sentence(
            "The outermost plates also take the pull of the belt beyond them"
            + (" and, through the pin, of the other end's plates further out" if hinged else "")
            + ": set-backs of {near} and {far}"
            + other
            + ".",
            near=(near, Kind.LENGTH),
            far=(far, Kind.LENGTH),
        )
    )
    typical = curve.typical
    gain = (typical.template or typical.straight).load / typical.best.load - 1
    size = best.size
    if layout.strip:
        rules = "The strip is one piece and wants a straight end: that rules."
    elif plan.work.curve_depth is not None:
        rules = "The depth stated for this job rules."
    elif size.curve_depth is not None or size.curve_radius is not None:
        rules = "The range's template rules."
    else:
        rules = "Neither job nor range states a curve: ask the maker before the end is curved."
    remarks.append(
        sentence(
            "Best depth of the end curve {best} (equally good from {low} to {up}; over all "
            "assumptions {shallow} to {deep}); planned {planned}, whose worst plate carries "
            "{gain} more. " + rules,
            best=(typical.best.depth, Kind.LENGTH),
            low=(typical.equal_from, Kind.LENGTH),
            up=(typical.equal_to, Kind.LENGTH),
            shallow=(curve.shallowest, Kind.LENGTH),
            deep=(curve.deepest, Kind.LENGTH),
            planned=layout.curve_depth,
            gain=(gain, Kind.SHARE),
        )
    )
    return tuple(remarks)


def _assumptions(best: Candidate) -> tuple[Sentence, ...]:
    hinged = best.construction.hinged
    assumptions = [
        sentence("Joint sound and true, both ends alike; running pull without service factor."),
        sentence(
            "Belt as a membrane; its stiffness across and in shear, and that of a plate, "
            "from assumed ranges: not measured."
        ),
        sentence(
            "Plates as springs that pull and never push, each on its own: a set or strip "
            "shares more evenly than shown."
        ),
        sentence(
            "In a transition the joint lies in the middle, half of it on each side: the worst "
            "place."
        ),
        sentence(
            "Both ends and the pin worked as one: from a solid pin of steel, the typical one, "
            "to one of wires with a hundredth of its stiffness in bending. Sound and with "
            "ends alike the joint does not swing, whatever guides the belt."
        )
        if hinged
        else sentence(
            "Side guidance: from none at all to the centreline held all along; typical "
            "is a belt straightened by its own pull."
        ),
    ]
    return tuple(assumptions)


_ADAPTERS: list[TypeAdapter[JointLoads]] = []


def _adapter() -> TypeAdapter[JointLoads]:
    """The serialiser, built once."""
    if not _ADAPTERS:
        from pydantic import TypeAdapter

        _ADAPTERS.append(TypeAdapter(JointLoads))
    return _ADAPTERS[0]
