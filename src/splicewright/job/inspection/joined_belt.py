"""A joint as the plate mechanics see it: the plates, their rating, the places they pass.

Made from a plan, or from what is typed in where there is none.
"""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.errors import Fault, InputError
from splicewright.job.loads.plates import places_of
from splicewright.job.plan import JointPlan
from splicewright.joint import End, Place
from splicewright.joint.choice.verdict import evenness_of, evenness_of_size, permitted
from splicewright.joint.inspection.damage import LEAST_SHARE
from splicewright.joint.inspection.seen import TypedJoint
from splicewright.joint.loads.making_limits import plate_rating
from splicewright.joint.loads.membrane import PlateRow
from splicewright.joint.loads.stiffness import (
    PIN_OVER_PITCH,
    REFINE,
    Case,
    assumed_plate_stiffness,
    assumed_strips,
    hinged_cases,
    pins,
    spread_cases,
)
from splicewright.plant import Carcass, Conveyor
from splicewright.quantities import Given, Record, Sentence, Worksheet, sentence
from splicewright.tension import Demand

_NOTHING = Record(())

ALL_ROUND = ""
"""Stands for the pulley where a place is that of the largest tension, wherever it is."""

BREAK_OVER_RATED = 2.0
"""Pull at which a plate fails over its rated pull where nobody knows; low, which is the safe
side for the question whether the joint opens; assumption of this tool [1]."""


@dataclass(frozen=True, slots=True)
class JoinedBelt:
    """A joint with the belt behind it.

    centres : plate middles of each end, from the left [m]
    hinged : a pin between the ends; else every plate is one piece across them
    rated, starting_rated, breaking : per width; the last two None when not known [N/m]
    evenness : largest plate share over the even one that the rating covers [1]
    running, starting : largest tensions per width [N/m]
    places : where the joint passes, with the pulley it is at
    transitions : lengths over which strain is built in [m]
    conveyor : None where belt and pull were typed in
    record : how the numbers it rests on came about
    """

    width: float
    carcass: Carcass
    modulus: Given
    centres: tuple[tuple[End, tuple[float, ...]], ...]
    plate_width: float
    bolts: int
    pin: float | None
    curve_depth: float
    hinged: bool
    rated: float
    starting_rated: float | None
    evenness: Given
    running: float
    starting: float
    places: tuple[tuple[str, Place], ...]
    transitions: tuple[float, ...]
    conveyor: Conveyor | None
    assumptions: tuple[Sentence, ...]
    record: Record = _NOTHING

    @property
    def plates(self) -> int:
        """Plates of one belt end."""
        return len(self.centres[0][1])

    @property
    def rated_pull(self) -> float:
        """Permitted pull of one sound plate in running [N]."""
        return plate_rating(self.rated, self.width, self.plates)

    @property
    def permitted_pull(self) -> float:
        """What the plate with the largest share may carry in running [N]."""
        return permitted(self.evenness.value, self.rated_pull)

    @property
    def peak(self) -> float:
        """Largest pull, at starting, over the running pull, from 1 [1]."""
        return max(1.0, self.starting / self.running)

    @property
    def least_share(self) -> float:
        """Share of the present pull under which running is of no use [1].

        With a conveyor the load itself tells; without one, its share of the pull.
        """
        return LEAST_SHARE if self.conveyor is None else 0.0

    @property
    def assumed_breaking(self) -> float:
        """Tension per width at which sound plates fail where nobody knows: low [N/m]."""
        return max(BREAK_OVER_RATED * self.rated, self.starting_rated or 0.0)

    @property
    def narrower(self) -> float:
        """Width at the joint over the conveyor's own, by which its tensions are told [1]."""
        return 1.0 if self.conveyor is None else self.width / self.conveyor.belt.width.value

    @property
    def pitch(self) -> float:
        """Distance of two plates side by side; the width of a plate that stands alone [m]."""
        y = self.centres[0][1]
        return y[0] - y[1] if len(y) > 1 else self.plate_width

    def row(self, end: End) -> PlateRow:
        """The plates of one belt end, for the plate mechanics."""
        return PlateRow(dict(self.centres)[end], self.plate_width)

    def pin_diameter(self, now: float | None) -> float:
        """Of the pin as it is: as measured, as new, or as assumed by the pitch [m]."""
        return now or self.pin or PIN_OVER_PITCH * self.pitch

    def cases(self, pin_now: float | None = None) -> tuple[Case, ...]:
        """Every set of assumptions on belt, plates, pin and guidance, the typical first.

        pin_now : diameter of the pin at its thinnest; None where nobody measured it [m]
        """
        strips = assumed_strips(self.width, self.modulus, self.carcass)
        plate, force = assumed_plate_stiffness(self.rated_pull), self.running * self.width
        rows = (self.row(End.LEADING), self.row(End.TRAILING))
        if not self.hinged:
            return spread_cases(strips, rows[0], plate, force, self.transitions, REFINE)
        return hinged_cases(
            strips, rows, plate, force, pins(self.pin_diameter(pin_now)), self.transitions, REFINE
        )


def joined_by_plan(plan: JointPlan) -> JoinedBelt:
    """The joint of a plan.

    Raises InputError: the plan holds no joint with plates.
    """
    layout, best = plan.layout, plan.fastener
    if layout is None or best is None:
        raise InputError(
            Fault(
                "inspection.plan",
                "holds no joint with plates: no fastener was chosen; name "
                "the fasteners of this joint, or type it in",
            )
        )
    size = best.size
    sheet = Worksheet(plan.worksheet)
    places, transitions = pulleys_of(plan.conveyor, plan.demand, layout.width.value, sheet)
    # The same pull on a belt worn narrower is more per width.
    wider = plan.conveyor.belt.width.value / layout.width.value
    return JoinedBelt(
        width=layout.width.value,
        carcass=plan.conveyor.belt.carcass,
        modulus=plan.conveyor.belt.modulus,
        centres=tuple((end.which, tuple(p.y for p in end.plates)) for end in layout.ends),
        plate_width=size.plate_width,
        bolts=size.bolts_per_plate,
        pin=size.pin if best.construction.hinged else None,
        curve_depth=layout.curve_depth.value,
        hinged=best.construction.hinged,
        rated=size.rated_tension,
        starting_rated=size.starting_tension,
        evenness=evenness_of_size(size),
        running=plan.demand.running.value * wider,
        starting=plan.demand.starting.value * wider,
        places=places,
        transitions=transitions,
        conveyor=plan.conveyor,
        assumptions=tuple(assumed_places(sheet)),
        record=sheet.finish(),
    )


def joined_by_hand(typed: TypedJoint) -> JoinedBelt:
    """The joint typed in without a plan: one place, where the belt runs flat.

    Raises InputError: plates wider than the belt, or than their pitch.
    """
    span = (typed.plates - 1) * typed.pitch + typed.plate_width
    if typed.plate_width > typed.pitch or span > typed.width:
        raise InputError(
            Fault(
                "fastener.plates",
                f"{typed.plates} plates of {1e3 * typed.plate_width:g} mm at "
                f"a pitch of {1e3 * typed.pitch:g} mm do not fit side by side on a belt of "
                f"{1e3 * typed.width:g} mm",
            )
        )
    middle = (typed.plates - 1) / 2
    centres = tuple(typed.pitch * (middle - n) for n in range(typed.plates))
    assumptions = [sentence("Plates taken as standing evenly about the centreline.")]
    assumptions.append(
        sentence("One place only, with the belt flat: transitions and crowns not counted.")
    )
    if typed.starting is None:
        assumptions.append(sentence("No starting tension given: the running tension taken."))
    return JoinedBelt(
        width=typed.width,
        carcass=typed.carcass,
        modulus=typed.modulus,
        centres=tuple((end, centres) for end in End),
        plate_width=typed.plate_width,
        bolts=typed.bolts,
        pin=typed.pin,
        curve_depth=typed.curve_depth,
        hinged=typed.hinged,
        rated=typed.rated,
        starting_rated=typed.starting_rated,
        evenness=evenness_of(None, ""),
        running=typed.running,
        starting=typed.starting or typed.running,
        places=((ALL_ROUND, Place("largest running tension", typed.running)),),
        transitions=(),
        conveyor=None,
        assumptions=tuple(assumptions),
    )


def pulleys_of(
    conveyor: Conveyor, asked: Demand, width: float, sheet: Worksheet
) -> tuple[tuple[tuple[str, Place], ...], tuple[float, ...]]:
    """The largest pull, every transition and crown, each with its pulley; lengths of strain.

    Flat on a pulley every plate carries less than at the largest pull: those places are left out.
    """
    places, lengths = places_of(conveyor, asked, width, sheet)
    pulleys = {
        f"{prefix} {p.name}": p.name
        for p in conveyor.pulleys()
        for prefix in ("transition at", "crown of")
    }
    strained = tuple((pulleys[p.name], p) for p in places if p.edge_strain != 0)
    return ((ALL_ROUND, places[0]), *strained), lengths


def assumed_places(sheet: Worksheet) -> list[Sentence]:
    """What was assumed of the transitions, from the worksheet."""
    assumptions = [sentence("Pulleys without a stated crown taken as cylinders.")]
    for given in sheet.finish().assumptions():
        if given.key.startswith("loads."):
            assumptions.append(sentence(f"{given.label}: {{value}}, {given.reason}.", value=given))
    return assumptions
