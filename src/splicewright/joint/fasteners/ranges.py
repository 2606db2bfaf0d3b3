"""Ranges: what a maker's data say of each size of fastener or joint, typed in by the user."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from splicewright.plant import Carcass, Environment


class Construction(StrEnum):
    """How the two ends are coupled."""

    HINGED = "hinged"
    RIVETED = "riveted hinge"
    SOLID = "solid plate"
    STEP = "vulcanised step"

    @property
    def plated(self) -> bool:
        """Whether it is made of plates: not when vulcanised."""
        return self is not Construction.STEP

    @property
    def hinged(self) -> bool:
        """Whether a pin goes through the loops of both ends."""
        return self in {Construction.HINGED, Construction.RIVETED}


class StepForm(StrEnum):
    """How the carcass of a vulcanised joint is laid into each other."""

    STEP = "step"
    FINGER = "finger"
    OVERLAP = "overlap"
    CORD = "cord"


@dataclass(frozen=True, slots=True)
class BoltRow:
    """One row of bolts of a plate: distance from the cut line and offsets from its middle [m]."""

    from_cut: float
    across: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class BoltLength:
    """The bolt for belts up to a thickness [m]."""

    belt_up_to: float
    length: float


@dataclass(frozen=True, slots=True)
class PulleyRule:
    """A smaller pulley allowed under milder use: wrap up to [rad], tension up to a share [-]."""

    wrap_up_to: float
    tension_up_to: float
    diameter: float


@dataclass(frozen=True, slots=True)
class Material:
    """A material of plates and pins: what it suits; hottest use [K], None when not stated."""

    name: str
    suits: tuple[Environment, ...]
    hottest: float | None


@dataclass(frozen=True, slots=True)
class EdgeSets:
    """Pieces of `plates` each at both belt edges, as many as `each_edge` (None: all across), where
    the trough is no deeper than `trough_up_to` [rad]; single plates between."""

    trough_up_to: float
    plates: int
    each_edge: int | None


@dataclass(frozen=True, slots=True)
class Words:
    """What this range calls its accessories; ours say what each is for."""

    wear_sleeve: str = "wear sleeve"
    bedding_strip: str = "bedding strip"
    spacer: str = "spacer"


PLAIN_WORDS = Words()
"""Ours, where a range says nothing."""


@dataclass(frozen=True, slots=True)
class Size:
    """One size of a range of plates; lengths [m], tensions per width [N/m].

    Where the plates are riveted, bolt and bolt_lengths are those of the rivets.

    thickness: belt it is made for, (least, most); cut_line: pin axis to cut line (a);
    mesh_offset: between the plates of the two ends (m); setback: belt edge to nearest plate,
    (least, most); plate_length: pin axis to the back of the plate along the belt;
    stand_out: bolt above the nut before final tightening; seat_torque [N m].
    What few makers state, None where they do not: thread_pitch and nut_face of the bolt (mean
    diameter of the face the nut turns on); clamp: force of one bolt when tightened [N];
    retighten_after: running until the nuts are gone over again, each time [s]; hinge_angle: that
    the hinge opens to without harm [rad]; steel: top and bottom plate together; evenness: largest
    share of a plate over the even share that the rating covers [-].
    """

    pitch: float
    plate_width: float
    plate_length: float
    thickness: tuple[float, float]
    cut_line: float
    mesh_offset: float
    setback: tuple[float, float]
    rows: tuple[BoltRow, ...]
    hole: float
    bolt: float
    bolt_lengths: tuple[BoltLength, ...]
    rated_tension: float
    starting_tension: float | None
    smallest_pulley: float
    pulley_rules: tuple[PulleyRule, ...]
    proud_height: float
    pin: float
    pin_inset: float
    liner_over: float
    seating_over: float
    sets: tuple[int, ...]
    strip_widths: tuple[float, ...]
    curve_depth: float | None
    curve_radius: float | None
    stand_out: float | None
    seat_torque: float | None
    scrapers: bool
    thread_pitch: float | None = None
    nut_face: float | None = None
    clamp: float | None = None
    retighten_after: tuple[float, ...] = ()
    hinge_angle: float | None = None
    steel: float | None = None
    evenness: float | None = None
    edge_sets: tuple[EdgeSets, ...] = ()

    @property
    def name(self) -> str:
        """Named by what can be measured: "pitch 43, 11-16 mm"."""
        low, high = (f"{1e3 * t:g}" for t in self.thickness)
        return f"pitch {1e3 * self.pitch:g}, {low}-{high} mm"

    @property
    def bolts_per_plate(self) -> int:
        """Bolts that hold one plate of one end."""
        return sum(len(row.across) for row in self.rows)

    def bolt_length(self, thickness: float) -> float | None:
        """The bolt for a belt of `thickness` [m]; None when the list does not reach so far."""
        for step in self.bolt_lengths:
            if thickness <= step.belt_up_to * (1 + 1e-9):
                return step.length
        return None

    def pulley_needed(self, wrap: float, tension: float) -> float:
        """Smallest pulley [m] for a wrap [rad] and tension per width [N/m].

        The rules of the range may allow a smaller one; else `smallest_pulley` holds.
        """
        allowed = [
            rule.diameter
            for rule in self.pulley_rules
            if wrap <= rule.wrap_up_to * (1 + 1e-9)
            and tension <= rule.tension_up_to * self.rated_tension * (1 + 1e-9)
        ]
        return min([self.smallest_pulley, *allowed])


@dataclass(frozen=True, slots=True)
class CureTime:
    """How long a belt up to a thickness [m] is held at a temperature [K]: a time [s]."""

    thickness_up_to: float
    temperature: float
    time: float


@dataclass(frozen=True, slots=True)
class CordLine:
    """One line of cords along a steel-cord joint; the lines repeat over the width.

    trailing : where the cord of the trailing end stops, leading : where that of the leading end
        starts, both from where the first cord of the leading end starts, with the travel [m];
        None where that end has no cord in this line
    """

    trailing: float | None
    leading: float | None


@dataclass(frozen=True, slots=True)
class StepSize:
    """A vulcanised joint, as its maker's data say.

    form : steps of a ply belt; fingers or one overlap, as for belts of one ply or solid woven;
        cords laid side by side as the user's own table says
    plies : of the belt
    strength : of belts it is made for, (least, most) [N/m]
    step_length : of one step, of the fingers, or of the overlap, along the belt [m]
    bias : angle of the steps to the square line [rad]
    kept_strength : joint break over belt break, both static [1]
    safety_factor, starting_safety_factor : kept strength over permitted tension [1]; the second
        None when not stated
    cure_time, heating_time, cooling_time : in the press [s]; cure_temperature [K]; without heating
        it cures cold, bonded by hand and without a press
    full_load_after : from when it lies together until it may carry everything [s], None where the
        maker does not say
    work_temperature : of the surroundings while it is made, (least, most) [K]; None when not
        stated
    smallest_pulley : [m]
    What few makers state, None where they do not: coats of cement and drying of each [s];
    dew_margin: faces warmer than the dew point by so many kelvin; pressure [Pa]; press_beyond: the
    joint, at each end of it, heat_overlap: of one heat over the next, iron_under: edge irons
    thinner than the belt, by so much, cover_strip and finger_width: widths [m]; cures: cure times
    by thickness and temperature, empty where cure_time holds for all; cords, transition (covers
    and rubber beyond the outermost cord ends, each side) and cord (diameter) of steel-cord
    joints [m].
    """

    plies: int
    strength: tuple[float, float]
    carcass: tuple[Carcass, ...]
    step_length: float
    bias: float
    kept_strength: float
    safety_factor: float
    starting_safety_factor: float | None
    cure_time: float
    cure_temperature: float
    heating_time: float
    cooling_time: float
    work_temperature: tuple[float, float] | None
    smallest_pulley: float
    form: StepForm = StepForm.STEP
    coats: int | None = None
    drying: float | None = None
    dew_margin: float | None = None
    pressure: float | None = None
    press_beyond: float | None = None
    heat_overlap: float | None = None
    iron_under: float | None = None
    cover_strip: float | None = None
    finger_width: float | None = None
    cures: tuple[CureTime, ...] = ()
    cords: tuple[CordLine, ...] = ()
    transition: float = 0.0
    cord: float | None = None
    full_load_after: float | None = None

    @property
    def cold(self) -> bool:
        """Whether it cures without heat."""
        return self.heating_time == 0

    @property
    def steps(self) -> int:
        """Steps of the joint along the belt: fingers, an overlap and a table of cords are one."""
        return self.plies - 1 if self.form is StepForm.STEP else 1

    @property
    def name(self) -> str:
        """Named by what can be counted and measured: "4 plies, step 300 mm"."""
        if self.form is StepForm.CORD:
            return f"steel cord, {1e3 * self.step_length:g} mm between outermost cord ends"
        plies = "1 ply" if self.plies == 1 else f"{self.plies} plies"
        return f"{plies}, {self.form.value} {1e3 * self.step_length:g} mm"

    @property
    def press_time(self) -> float:
        """Heating, cure and cooling, one after another [s]."""
        return self.heating_time + self.cure_time + self.cooling_time


@dataclass(frozen=True, slots=True)
class Range:
    """A fastener range: its construction, materials and sizes; steps where it is vulcanised."""

    name: str
    invented: bool
    construction: Construction
    materials: tuple[Material, ...]
    sizes: tuple[Size, ...]
    note: str
    steps: tuple[StepSize, ...] = ()
    words: Words = PLAIN_WORDS
