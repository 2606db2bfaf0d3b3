"""The vulcanised step joint of ply belts: steps, overlap, bias, belt needed, rating.

Each ply but one is cut back a step behind the next on both ends; the two stairs are laid into
each other. The steps run at the bias angle to the square line.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from splicewright.joint.curing import Curing, cure_held, curing
from splicewright.joint.fasteners.ranges import StepForm, StepSize
from splicewright.joint.layout import End
from splicewright.plant import Belt, Conveyor, Work
from splicewright.quantities import Figure, Given, Kind, Worksheet, formula, stated


@formula(
    "n_s = n - 1",
    gives=("n_s", Kind.COUNT),
    symbols={"plies": "n"},
    source="step-joint",
    limits="every ply butted once",
)
def step_count(plies: float) -> float:
    """Steps of a joint from the plies of the belt [1]."""
    return plies - 1


@formula(
    "n_s = 1",
    gives=("n_s", Kind.COUNT),
    symbols={},
    source="step-joint",
    limits="fingers and a plain overlap lie in one length",
)
def single_step() -> float:
    """Steps of a finger or overlap joint [1]."""
    return 1.0


@formula(
    "l_o = n_s l_s",
    gives=("l_o", Kind.DISTANCE),
    symbols={"steps": "n_s", "step": "l_s"},
    source="step-joint",
    limits="along any line parallel to the belt edges",
)
def overlap(steps: float, step: float) -> float:
    """Length over which the two ends lie on each other.

    Parameters
    ----------
    steps : number of steps [1]
    step : length of one, along the belt [m]
    """
    return steps * step


@formula(
    "l_b = B tan β",
    gives=("l_b", Kind.DISTANCE),
    symbols={"width": "B", "bias": "β"},
    source="geometry",
)
def bias_offset(width: float, bias: float) -> float:
    """How far one end of a step lies ahead of the other, along the belt.

    Parameters
    ----------
    width : belt width [m]
    bias : angle of the steps to the square line [rad]
    """
    return width * math.tan(bias)


@formula(
    "l_V = l_o + l_b",
    gives=("l_V", Kind.DISTANCE),
    symbols={"over": "l_o", "offset": "l_b"},
    source="step-joint",
    limits="first corner to last corner; also the belt that goes when both ends are first cut "
    "square: the overlap, and one triangle from each end",
)
def joint_length(over: float, offset: float) -> float:
    """Length of the joint along the belt, and the belt it takes from two square ends.

    Parameters
    ----------
    over : overlap [m]
    offset : of the bias [m]
    """
    return over + offset


@formula(
    "t_R = k_V σ_N/S",
    gives=("t_R", Kind.WIDTH_FORCE),
    symbols={"kept": "k_V", "strength": "σ_N", "safety": "S"},
    source="range",
)
def rated_tension(kept: float, strength: float, safety: float) -> float:
    """Permitted tension of a vulcanised joint.

    Parameters
    ----------
    kept : joint break over belt break, static [1]
    strength : nominal strength of the belt, per width [N/m]
    safety : stated safety factor [1]
    """
    return kept * strength / safety


@formula(
    "s = -l_V",
    gives=("s", Kind.DISTANCE),
    symbols={"length": "l_V"},
    source="step-joint",
    limits="an overlap: the loop becomes shorter by what the joint takes",
)
def step_span(length: float) -> float:
    """Square cut to square cut across the joint, negative as the ends overlap [m]."""
    return -length


@dataclass(frozen=True, slots=True)
class StepLine:
    """One line across the joint, on which something ends: at [m] from the middle of the joint,
    on the centreline, with the travel; its left edge lies ahead of that, its right edge behind.

    trailing, leading : what is cut there on each end, "" where nothing is
    """

    at: float
    trailing: str
    leading: str

    def on(self, which: End) -> str:
        """What is cut there on one end."""
        return self.trailing if which is End.TRAILING else self.leading


@dataclass(frozen=True, slots=True)
class StepMark:
    """A line as it is marked on one end: from its square line back along the belt [m]."""

    what: str
    left: float
    middle: float
    right: float


@dataclass(frozen=True, slots=True)
class StepGeometry:
    """A vulcanised step joint on this belt; lengths along the belt [m].

    belt_needed : that one joint takes from two ends cut square
    span : square cut to square cut, negative
    cure_time [s], cure_temperature [K] : in the press
    press_time : heating, cure and cooling, of all heats [s]
    lines : across the joint, with the travel; none in plans kept before they were drawn
    curing : dew point, drying, heats; None in those
    cold : cured without heat and press
    """

    steps: Figure
    step_length: Figure
    overlap: Figure
    bias: Figure
    bias_offset: Figure
    belt_needed: Figure
    span: Figure
    cure_time: Figure
    cure_temperature: Figure
    press_time: Figure
    lines: tuple[StepLine, ...] = ()
    curing: Curing | None = None
    cold: bool = False

    def marks(self, which: End) -> tuple[StepMark, ...]:
        """The lines of one end, each from its square line, the one nearest to it first."""
        half, lean = self.belt_needed.value / 2, self.bias_offset.value / 2
        back = -1.0 if which is End.TRAILING else 1.0
        marks = [
            StepMark(line.on(which), *(half + back * (line.at + y) for y in (lean, 0.0, -lean)))
            for line in self.lines
            if line.on(which)
        ]
        return tuple(sorted(marks, key=lambda mark: mark.middle))


def lay_steps(
    size: StepSize, width: Figure, conveyor: Conveyor, work: Work, thick: Figure, sheet: Worksheet
) -> StepGeometry:
    """Work out a step joint on a belt.

    Parameters
    ----------
    size : of the range; one whose data hold a cure time for this belt
    width : of the belt [m]
    conveyor, work : for air and press
    thick : thickest place of the belt [m]
    sheet : takes the lines
    """
    given = step_data(size)
    held = cure_held(size, thick.value, _held_at(work))
    assert held is not None  # else `choice` finds that it does not fit
    cure = sheet.found(
        "step.cure_time",
        "cure time",
        held,
        Kind.TIME,
        "from the range's data, by thickness and temperature",
        [given["cure"], given["temperature"], thick],
    )
    if size.form is StepForm.STEP:
        count = sheet.work("step.count", "steps", step_count, plies=float(size.plies))
    else:
        count = sheet.work("step.count", "lengths of the joint", single_step)
    over = sheet.work(
        "step.overlap", "overlap of the ends", overlap, steps=count, step=given["length"]
    )
    offset = sheet.work(
        "step.bias_offset", "offset of the bias", bias_offset, width=width, bias=given["bias"]
    )
    made_good = curing(size, over, width, conveyor, work, sheet)
    heats = int(made_good.heats.value)
    needed = sheet.work(
        "step.belt_needed",
        "length of the joint, and belt one joint takes",
        joint_length,
        over=over,
        offset=offset,
    )
    return StepGeometry(
        steps=count,
        step_length=sheet.note(given["length"]),
        overlap=over,
        bias=sheet.note(given["bias"]),
        bias_offset=offset,
        belt_needed=needed,
        span=sheet.work(
            "lengths.span", "square cut to square cut across the joint", step_span, length=needed
        ),
        cure_time=cure,
        cure_temperature=sheet.note(work.press_temperature or given["temperature"]),
        press_time=sheet.total(
            "step.press_time",
            "bonding time" if size.cold else "time in the press",
            [given["heating"], cure, given["cooling"]] * heats,
        ),
        lines=_lines(size, over.value),
        curing=made_good,
        cold=size.cold,
    )


def _held_at(work: Work) -> float | None:
    return work.press_temperature.value if work.press_temperature is not None else None


def _lines(size: StepSize, over: float) -> tuple[StepLine, ...]:
    """Where what ends: the leading end lies on top, so a scraper runs off its seam."""
    far = over / 2
    if size.form is StepForm.STEP:
        return tuple(
            StepLine(
                (n - 1) * size.step_length - far,
                "cut through" if n == size.plies else f"ply {n} ends",
                "cut through" if n == 1 else f"ply {n} starts",
            )
            for n in range(1, size.plies + 1)
        )
    if size.form is StepForm.CORD:
        return _cord_lines(size, far)
    root, tip = (
        ("finger roots", "finger tips")
        if size.form is StepForm.FINGER
        else ("cover off from here", "cut through")
    )
    return (StepLine(-far, root, tip), StepLine(far, tip, root))


def _cord_lines(size: StepSize, far: float) -> tuple[StepLine, ...]:
    """The cord ends of each place of the user's table, and where the covers come off."""
    ends = [c.trailing for c in size.cords]
    starts = [c.leading for c in size.cords]
    of = len(size.cords)

    def ending(count: int) -> str:
        return f"{count} of {of} cords end" if count else ""

    places = sorted({x for x in (*ends, *starts) if x is not None})
    return (
        StepLine(-far - size.transition, "covers off from here", ""),
        *(StepLine(x - far, ending(ends.count(x)), ending(starts.count(x))) for x in places),
        StepLine(far + size.transition, "", "covers off from here"),
    )


def step_data(size: StepSize) -> dict[str, Given]:
    """The data of a step joint as inputs of the worksheet."""

    def given(key: str, label: str, value: float, kind: Kind) -> Given:
        return stated(f"range.{key}", label, value, kind, f"range data, {size.name}")

    return {
        "length": given("step_length", "length of a step", size.step_length, Kind.LENGTH),
        "bias": given("bias", "bias angle", size.bias, Kind.ANGLE),
        "kept": given("kept_strength", "kept strength", size.kept_strength, Kind.SHARE),
        "heating": given("heating_time", "heating time", size.heating_time, Kind.TIME),
        "cure": given("cure_time", "cure time", size.cure_time, Kind.TIME),
        "cooling": given("cooling_time", "cooling time", size.cooling_time, Kind.TIME),
        "temperature": given(
            "cure_temperature", "cure temperature", size.cure_temperature, Kind.TEMPERATURE
        ),
    }


def rating_of(size: StepSize, belt: Belt) -> tuple[float, float]:
    """Permitted tension of the joint on a belt, running and starting [N/m].

    Without a safety factor for starting the running one holds: the safe side.
    """
    strength = belt.strength.value
    running = rated_tension(size.kept_strength, strength, size.safety_factor)
    starting = size.starting_safety_factor or size.safety_factor
    return running, rated_tension(size.kept_strength, strength, starting)
