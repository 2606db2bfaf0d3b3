"""A joint as the plate mechanics see it: the plates, their rating, the places they pass.

Made from a plan, or from what is typed in where there is none.
"""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.errors import Fault, InputError
from splicewright.job.joint_plan import JointPlan
from splicewright.joint import Which
from splicewright.joint.inspection import TypedJoint
from splicewright.joint.membrane import PlateRow
from splicewright.joint.places import Place
from splicewright.joint.stiffness import Case, assumed_plate_stiffness, assumed_strips, spread_cases
from splicewright.plant import Carcass, Conveyor, Pulley, Run
from splicewright.quantities import Given, Kind, Sentence, formula, sentence
from splicewright.tension import Demand
from splicewright.tension.across import fibre_length, trough_depth
from splicewright.tension.transition import LEAST_LENGTH_FACTOR, least_transition

MIDDLE_ROLL = 0.38
"""Share of the belt width on the middle of three rolls; assumption of this tool, as for the
load's section [1]."""

ALL_ROUND = ""
"""Stands for the pulley where a place is that of the largest tension, wherever it is."""

BREAK_OVER_RATED = 2.0
"""Pull at which a plate fails over its rated pull where nobody knows; low, which is the safe
side for the question whether the joint opens; assumption of this tool [1]."""


@formula(
    "F_R = t_R B/N",
    gives=("F_R", Kind.FORCE),
    symbols={"tension": "t_R", "width": "B", "plates": "N"},
    source="arithmetic",
    limits="shared evenly; a maker's own reserve for uneven shares is not known and not counted",
)
def pull_of_a_plate(tension: float, width: float, plates: float) -> float:
    """Pull of one plate at a tension of the belt, shared evenly.

    Parameters
    ----------
    tension : per width [N/m]
    width : belt width [m]
    plates : of one belt end [1]
    """
    return tension * width / plates


@dataclass(frozen=True, slots=True)
class JoinedBelt:
    """A joint with the belt behind it.

    centres : plate middles of each end, from the left [m]
    rated, starting_rated, breaking : per width; the last two None when not known [N/m]
    running, starting : largest tensions per width [N/m]
    places : where the joint passes, with the pulley it is at
    transitions : lengths over which strain is built in [m]
    conveyor : None where belt and pull were typed in
    """

    width: float
    carcass: Carcass
    modulus: Given
    centres: tuple[tuple[Which, tuple[float, ...]], ...]
    plate_width: float
    bolts: int
    pin: float | None
    curve_depth: float
    rated: float
    starting_rated: float | None
    running: float
    starting: float
    places: tuple[tuple[str, Place], ...]
    transitions: tuple[float, ...]
    conveyor: Conveyor | None
    assumptions: tuple[Sentence, ...]

    @property
    def plates(self) -> int:
        """Plates of one belt end."""
        return len(self.centres[0][1])

    @property
    def rated_pull(self) -> float:
        """Permitted pull of one sound plate in running [N]."""
        return pull_of_a_plate(self.rated, self.width, self.plates)

    def row(self, end: Which) -> PlateRow:
        """The plates of one belt end, for the plate mechanics."""
        return PlateRow(dict(self.centres)[end], self.plate_width)

    def cases(self, end: Which) -> tuple[Case, ...]:
        """Every set of assumptions on belt, plates and guidance, the typical first."""
        stiffness = assumed_plate_stiffness(self.rated_pull)
        force = self.running * self.width
        strips = assumed_strips(self.width, self.modulus, self.carcass)
        return spread_cases(strips, self.row(end), stiffness, force, self.transitions)


def joined_by_plan(plan: JointPlan) -> JoinedBelt:
    """The joint of a plan.

    Raises
    ------
    InputError
        The plan holds no joint with plates.
    """
    layout, best = plan.layout, plan.fastener
    if layout is None or best is None:
        raise InputError(
            Fault("inspection.plan", "holds no joint with plates: no fastener was chosen; name "
                  "the fasteners of this joint, or type it in")
        )  # fmt: skip
    size = best.size
    places, transitions, said = places_of(plan.conveyor, plan.demand, layout.width.value)
    return JoinedBelt(
        width=layout.width.value,
        carcass=plan.conveyor.belt.carcass,
        modulus=plan.conveyor.belt.modulus,
        centres=tuple((end.which, tuple(p.y for p in end.plates)) for end in layout.ends),
        plate_width=size.plate_width,
        bolts=size.bolts_per_plate,
        pin=size.pin,
        curve_depth=layout.curve_depth.value,
        rated=size.rated_tension,
        starting_rated=size.starting_tension,
        running=plan.demand.running.value,
        starting=plan.demand.starting.value,
        places=places,
        transitions=transitions,
        conveyor=plan.conveyor,
        assumptions=said,
    )


def joined_by_hand(typed: TypedJoint) -> JoinedBelt:
    """The joint typed in without a plan: one place, where the belt runs flat.

    Raises
    ------
    InputError
        Plates wider than the belt, or than their pitch.
    """
    span = (typed.plates - 1) * typed.pitch + typed.plate_width
    if typed.plate_width > typed.pitch or span > typed.width:
        raise InputError(
            Fault("fastener.plates", f"{typed.plates} plates of {1e3 * typed.plate_width:g} mm at "
                  f"a pitch of {1e3 * typed.pitch:g} mm do not fit side by side on a belt of "
                  f"{1e3 * typed.width:g} mm")
        )  # fmt: skip
    middle = (typed.plates - 1) / 2
    centres = tuple(typed.pitch * (middle - n) for n in range(typed.plates))
    said = [sentence("Plates taken as standing evenly about the centreline.")]
    said.append(sentence("One place only, with the belt flat: transitions and crowns not counted."))
    if typed.starting is None:
        said.append(sentence("No starting tension given: the running tension taken."))
    return JoinedBelt(
        width=typed.width,
        carcass=typed.carcass,
        modulus=typed.modulus,
        centres=tuple((end, centres) for end in Which),
        plate_width=typed.plate_width,
        bolts=typed.bolts,
        pin=typed.pin,
        curve_depth=typed.curve_depth,
        rated=typed.rated,
        starting_rated=typed.starting_rated,
        running=typed.running,
        starting=typed.starting or typed.running,
        places=((ALL_ROUND, Place("largest running tension", typed.running)),),
        transitions=(),
        conveyor=None,
        assumptions=tuple(said),
    )


def places_of(
    conveyor: Conveyor, asked: Demand, width: float
) -> tuple[tuple[tuple[str, Place], ...], tuple[float, ...], tuple[Sentence, ...]]:
    """Where a joint is worst off on its way round: the largest pull, and every transition.

    Parameters
    ----------
    conveyor, asked : plant and its demand
    width : belt width at the joint [m]

    Returns
    -------
    places with their pulleys, transition lengths [m], what was assumed
    """
    places = [(ALL_ROUND, Place("largest running tension", asked.running.value))]
    lengths: list[float] = []
    said = [sentence("Pulleys taken as cylinders: crowns are not counted.")]
    loop = conveyor.loop
    tensions = {p.pulley: p.running.value for p in asked.passings}
    for number, pulley in enumerate(loop):
        if not isinstance(pulley, Pulley):
            continue
        run = _deeper(loop[number - 1], loop[(number + 1) % len(loop)])
        if run is None or tensions[pulley.name] <= 0:
            continue
        trough = run.idlers.trough.value
        flat = MIDDLE_ROLL if run.idlers.rolls >= 3 else 0.0
        depth = float(trough_depth(width, flat * width, trough))
        raised = pulley.raised.value if pulley.raised is not None else 0.0
        if pulley.transition is not None:
            length = pulley.transition.value
        else:
            factor = LEAST_LENGTH_FACTOR[conveyor.belt.carcass.textile]
            length = float(least_transition(factor, depth - raised))
            said.append(
                sentence(f"Transition at the {pulley.name} not stated: {{length}}, the published "
                         "lower bound, taken.", length=(length, Kind.DISTANCE))
            )  # fmt: skip
        if length not in lengths:
            lengths.append(length)
        wing = (1 - flat) / 2 * width
        edge, middle = (float(fibre_length(length, s, trough, raised)) for s in (wing, 0.0))
        places.append(
            (
                pulley.name,
                Place(f"transition at the {pulley.name}", tensions[pulley.name],
                      edge / middle - 1, flat, lengths.index(length)),
            )
        )  # fmt: skip
    return tuple(places), tuple(lengths), tuple(said)


def _deeper(*neighbours: object) -> Run | None:
    """The neighbouring run with the deepest trough; None when both are flat or pulleys."""
    runs = [r for r in neighbours if isinstance(r, Run) and r.idlers.trough.value > 0]
    return max(runs, key=lambda r: r.idlers.trough.value, default=None)
